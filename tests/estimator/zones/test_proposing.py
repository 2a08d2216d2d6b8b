"""Outlines by the program, on rendered photographs whose hair is known to the pixel."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from calibration.pipeline import correct_bytes
from estimator.errors import BadInputError, TooLittleHairError
from estimator.zones.inputs import load_zone_spec, zones_of
from estimator.zones.outline import Setting, Zone
from estimator.zones.proposing import propose_hair, refine_outline
from tests.synthetic.hair_patch import corrected_photo

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"


@cache
def sample(photo: str, zones: str):
    corrected = correct_bytes((SAMPLES / photo).read_bytes())
    hair = np.zeros((corrected.photo.height_px, corrected.photo.width_px), bool)
    for zone in zones_of(load_zone_spec(SAMPLES / zones), corrected):
        hair[zone.box.slices] |= zone.mask
    return corrected, hair


def overlap(zone: Zone, hair: np.ndarray) -> float:
    """Share of the pixels in either that lie in both."""
    found = np.zeros_like(hair)
    found[zone.box.slices] = zone.mask
    return (found & hair).sum() / (found | hair).sum()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("photo", "zones", "setting"),
    [("strands_before.jpg", "strands_zones.png", Setting.BOARD), ("head.jpg", "head_zones.png", Setting.HEAD)],
)
def test_the_whole_hair_is_found_and_marked_as_proposed(photo, zones, setting):
    corrected, hair = sample(photo, zones)
    zone = propose_hair(corrected)
    assert overlap(zone, hair) > 0.75  # our assumption: a person then has little left to mend
    assert zone.proposed
    assert zone.setting is setting


def test_a_plain_wall_has_no_hair_to_propose():
    with pytest.raises(TooLittleHairError, match="Outline the hair by hand"):
        propose_hair(corrected_photo(np.full((300, 400, 3), 0.3)))


@pytest.mark.slow
def test_a_rough_outline_is_drawn_close_to_the_hair():
    corrected, hair = sample("head.jpg", "head_zones.png")
    rows, columns = np.nonzero(hair)
    left, right, top, bottom = columns.min() - 30, columns.max() + 30, rows.min() - 30, rows.max() + 10
    rough = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], float)
    size = [corrected.photo.width_px, corrected.photo.height_px]
    fitted = refine_outline(corrected, np.clip(rough, 0, size))
    whole = hair[top:bottom, left:right].mean()
    assert overlap(fitted, hair) > max(0.8, whole)


@pytest.mark.slow
def test_a_stroke_takes_hair_out_of_the_outline():
    corrected, hair = sample("head.jpg", "head_zones.png")
    rows, columns = np.nonzero(hair)
    middle = np.array([columns.mean(), rows.mean()])
    outline = middle + np.array([[-150, -150], [150, -150], [150, 150], [-150, 150]])
    stroke = middle + np.array([[-60.0, 0.0], [60.0, 0.0]])
    without = refine_outline(corrected, outline, (), (stroke,))
    within = refine_outline(corrected, outline, (stroke,), ())
    for zone, kept in ((without, False), (within, True)):
        assert zone.mask[int(middle[1]) - zone.box.top, int(middle[0]) - zone.box.left] == kept


@pytest.mark.slow
def test_an_outline_outside_the_photo_is_told():
    corrected, _ = sample("head.jpg", "head_zones.png")
    with pytest.raises(BadInputError, match="leaves the photo"):
        refine_outline(corrected, np.array([[0.0, 0.0], [9999.0, 0.0], [0.0, 50.0]]))
    with pytest.raises(BadInputError, match="at least 3 points"):
        refine_outline(corrected, np.array([[0.0, 0.0], [9.0, 0.0]]))
