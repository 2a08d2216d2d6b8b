"""Photographs that passed through a messenger still read within their intervals, and the reading says so."""

import csv
import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from calibration.pipeline import correct_bytes
from estimator.reading.zone_colour import read_zones
from estimator.zones.inputs import load_zone_spec, zones_of
from tests.studies.fit_flat_tress import SCENES

pytestmark = pytest.mark.slow

ENOUGH_PX = 2000
SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"


def _copied(photo_bytes: bytes, quality: int = 70, longest_px: int = 1600, **kept) -> bytes:
    """The photograph as a messenger sends it: tags gone, at most 1600 pixels, stored coarsely by a general library."""
    picture = Image.open(io.BytesIO(photo_bytes)).convert("RGB")
    picture.thumbnail((longest_px, longest_px))
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=quality, **kept)
    return out.getvalue()


def _truth(photo: str) -> dict[str, np.ndarray]:
    # Computed by the renderer from the spectra that it drew with.
    lines = (SAMPLES / "truth.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {
        row["zone"]: np.array([float(row[f"lab_{axis}"]) for axis in "lab"]) for row in rows if row["photo"] == photo
    }


@pytest.mark.parametrize(
    ("photo", "zones"),
    [
        ("strands_before.jpg", "strands_zones.png"),
        ("strands_after.jpg", "strands_zones.png"),
        ("head.jpg", "head_zones.png"),
    ],
)
def test_a_messenger_copy_reads_as_the_original_and_says_what_it_is(photo, zones):
    original = (SAMPLES / photo).read_bytes()
    spec, truth = load_zone_spec(SAMPLES / zones), _truth(photo)
    first, copy = (correct_bytes(given) for given in (original, _copied(original)))
    assert "messenger_copy" in copy.verdict.codes
    assert "messenger_copy" not in first.verdict.codes
    assert copy.verified
    before = {reading.zone: reading for reading in read_zones(first, zones_of(spec, first)).readings}
    after = {reading.zone: reading for reading in read_zones(copy, zones_of(spec, copy)).readings}
    assert set(after) == set(before)
    # Zones of fewer pixels lose more: the nape of the head, 1005 pixels, reads 19 L* darker in its copy.
    for zone, reading in ((zone, reading) for zone, reading in after.items() if reading.pixels >= ENOUGH_PX):
        # What the copy lost stays within its own interval.
        was = before[zone].lab_d65
        assert ((reading.lab_low <= was) & (was <= reading.lab_high)).all()
    inside = [
        (r.lab_low <= truth[zone]) & (truth[zone] <= r.lab_high)
        for zone, r in after.items()
        if zone in truth and r.pixels >= ENOUGH_PX
    ]
    assert np.mean(inside) >= 0.75


def test_the_truth_of_rendered_scenes_lies_inside_the_intervals_of_their_messenger_copies():
    if not SCENES.exists():
        pytest.skip(f"no scenes in {SCENES}")
    import json

    inside = []
    for folder in sorted(SCENES.glob("scene*"))[::3]:
        corrected = correct_bytes(_copied((folder / "1-clean.jpg").read_bytes()))
        assert "messenger_copy" in corrected.verdict.codes
        truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))["truth"]
        for reading in read_zones(corrected, zones_of(load_zone_spec(folder / "zones.png"), corrected)).readings:
            lab = np.array(truth[reading.zone]["lab_d65"])
            inside += list((reading.lab_low <= lab) & (lab <= reading.lab_high))
    assert np.mean(inside) >= 0.8  # nine in ten is meant; these zones are few


@pytest.mark.parametrize(
    "kept", [{"exif": b"Exif\0\0II*\0\x08\0\0\0\0\0\0\0\0\0"}, {"quality": 93}], ids=["tags", "fine"]
)
def test_a_file_with_tags_or_stored_finely_is_no_messenger_copy(kept):
    given = _copied((SAMPLES / "strands_before.jpg").read_bytes(), **kept)
    assert "messenger_copy" not in correct_bytes(given).verdict.codes
