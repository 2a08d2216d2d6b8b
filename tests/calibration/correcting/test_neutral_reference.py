"""A neutral thing pointed at, where there is no card: colours lean on it, and say how little that is."""

import numpy as np
import pytest

from calibration.colourspaces import lab_to_lch, xyz_to_lab
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.findings import Verdict
from calibration.opening import open_photo
from calibration.photo import Box
from calibration.pipeline import correct_photo
from calibration.references import References
from tests.synthetic.card_scene import CardScene, Development, Layout, Light, photograph
from tests.synthetic.spectra import WAVELENGTHS_NM, table, xyz_d65

TOWEL = np.full(len(WAVELENGTHS_NM), 0.62)
SURFACES = np.vstack([TOWEL, list(table("hair_reflectance").values()), list(table("skin_reflectance").values())[:3]])
NINE_IN_TEN = 1.6449


def towel_scene(**development: object) -> CardScene:
    """A towel, hair and skin under a warm lamp by a camera whose white balance errs; no card."""
    errs = Development(balance=(1.25, 0.75), **development)
    return CardScene(Light("LED-B2"), errs, Layout(centre=(3.0, 3.0)), SURFACES)


def point_in(box: np.ndarray) -> NeutralPoint:
    left, top, right, bottom = box
    return NeutralPoint(float(left + right) / 2, float(top + bottom) / 2, float(right - left) / 3)


@pytest.mark.slow
def test_the_neutral_thing_comes_out_neutral_and_the_rest_within_the_wide_interval():
    photographed = photograph(towel_scene())
    photo = open_photo(photographed.png())
    corrected = correct_photo(photo, References(neutral=point_in(photographed.swatch_boxes[0])))
    read = []
    for left, top, right, bottom in photographed.swatch_boxes:
        box = Box(int(top), int(left), int(bottom), int(right))
        read.append(xyz_to_lab(corrected.xyz_d65(box).reshape(-1, 3).mean(axis=0).astype(np.float64)))
    assert lab_to_lch(np.array(read[0]))[1] < 1.0  # half a code value per channel at this lightness
    sd = np.sqrt(np.diag(corrected.correction.lab_covariance()))
    inside = np.abs(np.array(read[1:]) - xyz_to_lab(xyz_d65(SURFACES[1:]))) <= NINE_IN_TEN * sd
    assert inside.mean() > 0.8


@pytest.mark.slow
def test_a_photo_that_leans_on_a_neutral_is_never_called_usable_or_verified():
    photographed = photograph(towel_scene())
    corrected = correct_photo(
        open_photo(photographed.png()), References(neutral=point_in(photographed.swatch_boxes[0]))
    )
    assert corrected.verdict.verdict is Verdict.CARE
    assert "neutral_only" in corrected.verdict.codes
    assert not corrected.verified


@pytest.mark.slow
def test_a_card_in_the_photo_is_worth_more_than_the_neutral():
    photographed = photograph(CardScene(swatches=SURFACES))
    corrected = correct_photo(
        open_photo(photographed.png()), References(neutral=point_in(photographed.swatch_boxes[0]))
    )
    assert corrected.verified
    assert "neutral_only" not in corrected.verdict.codes


@pytest.mark.slow
@pytest.mark.parametrize(
    ("point", "development", "code"),
    [
        (NeutralPoint(5000, 100, 10), {}, "neutral_outside"),
        (None, {"exposure": 4.0}, "neutral_clipped"),
        (None, {"exposure": 0.01}, "neutral_dark"),
    ],
)
def test_a_neutral_that_tells_nothing_is_refused_in_words(point, development, code):
    photographed = photograph(towel_scene(**development))
    corrected = correct_photo(
        open_photo(photographed.png()), References(neutral=point or point_in(photographed.swatch_boxes[0]))
    )
    assert corrected.verdict.verdict is Verdict.RETAKE
    assert code in corrected.verdict.codes


@pytest.mark.parametrize("radius_px", [0.0, -3.0, float("nan")])
def test_a_point_without_an_area_is_no_neutral(radius_px):
    with pytest.raises(ValueError, match="radius"):
        NeutralPoint(10, 10, radius_px)
