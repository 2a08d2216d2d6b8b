"""Two colours in one zone are found and read apart; one colour is never taken for two on the sample photographs."""

import csv
from pathlib import Path

import numpy as np
import pytest

from calibration.colourspaces import delta_e_2000
from calibration.pipeline import correct_bytes
from estimator.files import load_photo, load_zones
from estimator.reading.zone_colour import read_zones
from estimator.zones.inputs import zones_of
from tests.synthetic import two_coloured
from tests.synthetic.two_coloured import Blend, Lie

pytestmark = pytest.mark.slow

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"


def _truth(photo: str) -> dict[str, np.ndarray]:
    """What an instrument would read on a flat tress: computed by the renderer from the spectra that it drew with."""
    lines = (SAMPLES / "truth.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {
        row["zone"]: np.array([float(row[f"lab_{axis}"]) for axis in "lab"]) for row in rows if row["photo"] == photo
    }


@pytest.fixture(scope="module")
def board():
    corrected = correct_bytes(load_photo(SAMPLES / "strands_before.jpg"))
    zones = zones_of(load_zones(SAMPLES / "strands_zones.png", ()), corrected)
    return corrected, {zone.name: zone for zone in zones}


def _composed(board, host: str, donor: str, blend: Blend):
    corrected, zones = board
    linear = two_coloured.linear_of(np.asarray(corrected.photo.encoded_rgb))
    second = two_coloured.laid_over(linear, zones[host], zones[donor])
    picture = two_coloured.blended(linear, zones[host], second, blend)
    share = float(two_coloured.second_colour(zones[host], blend)[zones[host].mask].mean())
    anew = correct_bytes(two_coloured.jpeg_of(picture))
    read = {reading.zone: reading for reading in read_zones(anew, tuple(zones.values())).readings}
    return read[host], share


@pytest.mark.parametrize(
    ("photo", "zones"),
    [
        ("strands_before.jpg", "strands_zones.png"),
        ("strands_after.jpg", "strands_zones.png"),
        ("head.jpg", "head_zones.png"),
        ("head_turned.jpg", "head_zones.png"),
    ],
)
def test_one_colour_is_read_as_one(photo, zones):
    corrected = correct_bytes(load_photo(SAMPLES / photo))
    readings = read_zones(corrected, zones_of(load_zones(SAMPLES / zones, ()), corrected)).readings
    assert readings
    assert not [reading.zone for reading in readings if reading.parts]


@pytest.mark.parametrize("host", ["crown", "back"])
@pytest.mark.parametrize("blend", [Blend(Lie.FOILS, 0.4, 12.0), Blend(Lie.ROOT, 0.4)], ids=["foils", "shadow root"])
def test_another_lock_laid_over_is_found_with_its_share_and_both_colours(board, host, blend):
    reading, share = _composed(board, host, "nape", blend)
    truth = _truth("strands_before.jpg")
    assert len(reading.parts) == 2
    # The nape's lock is the darker one: darker strands, or the root.
    dark = next(part for part in reading.parts if part.place in ("darker strands", "root"))
    light = next(part for part in reading.parts if part is not dark)
    assert dark.share_low <= share <= dark.share_high
    assert dark.share + light.share == pytest.approx(1.0)
    for part, name in ((dark, "nape"), (light, host)):
        # What the renders leave on a whole zone is 2.3 in the mean; a part holds some of its neighbour.
        assert float(delta_e_2000(part.lab_d65, truth[name])) < 8.0
    assert float(delta_e_2000(dark.lab_d65, light.lab_d65)) > 8.0
