"""Several photographs of the same hair, and of one swatch ring, read together."""

import csv
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from estimator.cli import app
from estimator.errors import BadInputError
from estimator.files import load_photo, load_zones
from estimator.visit import fit_scale_to_ring, read_photo, together
from estimator.visit_file import run_visit

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"
HEADS = ("head.jpg", "head_turned.jpg")


@pytest.fixture(scope="module")
def heads():
    zones = load_zones(SAMPLES / "head_zones.png", ())
    return tuple(read_photo(load_photo(SAMPLES / name), zones) for name in HEADS)


@pytest.fixture(scope="module")
def blurred():
    zones = load_zones(SAMPLES / "strands_zones.png", ())
    return read_photo(load_photo(SAMPLES / "strands_blurred.jpg"), zones)


def _truth(photo: str) -> dict[str, np.ndarray]:
    """What an instrument would read on a flat tress: computed by the renderer from the spectra that it drew with."""
    lines = (SAMPLES / "truth.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {
        row["zone"]: np.array([float(row[f"lab_{axis}"]) for axis in "lab"]) for row in rows if row["photo"] == photo
    }


@pytest.mark.slow
def test_second_photograph_makes_intervals_tighter_than_either_on_average_and_keeps_the_truth_inside(heads):
    both, truth = together(heads), _truth("head.jpg")
    inside = 0
    for name, lab in truth.items():
        alone = np.mean([np.trace(photo.zone(name).reading.covariance) for photo in heads])
        reading = both.zone(name).reading
        assert np.trace(reading.covariance) < alone
        inside += int(np.sum((reading.lab_low <= lab) & (lab <= reading.lab_high)))
    assert 3 * len(truth) - inside <= 3  # nine in ten of 15 numbers are promised


@pytest.mark.slow
def test_order_of_the_photographs_does_not_matter(heads):
    one, other = together(heads), together(heads[::-1])
    for zone in one.zones:
        assert other.zone(zone.name).reading.lab_d65 == pytest.approx(zone.reading.lab_d65)
    assert one.corrected is other.corrected


@pytest.mark.slow
def test_photograph_that_must_be_taken_again_is_left_out_and_told(heads, blurred):
    read = together((heads[0], blurred))
    assert read.zone("crown").reading.lab_d65 == pytest.approx(heads[0].zone("crown").reading.lab_d65)
    assert "photo_left_out" in {finding.code for finding in read.unread}


def test_only_refused_photographs_stay_refused(blurred):
    assert together((blurred, blurred)).refused


def test_no_photograph_at_all_is_told():
    with pytest.raises(BadInputError, match="no photograph"):
        together(())


@pytest.mark.slow
def test_ring_on_two_photographs_is_surer_of_its_swatches():
    spec = load_zones(SAMPLES / "strands_zones.png", ())
    shown = ((load_photo(SAMPLES / "strands_before.jpg"), spec),)
    levels = "fringe=9,crown=9,nape=6,back=8"
    one, two = (fit_scale_to_ring(shown * count, levels, "ring").fit.scale for count in (1, 2))
    assert two.lightness_sd[two.levels.index(8.0)] <= one.lightness_sd[one.levels.index(8.0)]


@pytest.mark.slow
def test_ring_with_a_photograph_that_can_not_be_read_says_which():
    spec = load_zones(SAMPLES / "strands_zones.png", ())
    shown = tuple((load_photo(SAMPLES / f"strands_{name}.jpg"), spec) for name in ("before", "blurred"))
    with pytest.raises(BadInputError, match="photograph 2"):
        fit_scale_to_ring(shown, "fringe=9,crown=9,nape=6,back=8", "ring")


@pytest.mark.slow
def test_command_reads_two_photographs_with_one_file_of_zones():
    photos = [str(SAMPLES / name) for name in HEADS]
    ran = CliRunner().invoke(app, ["read", *photos, "--zones", str(SAMPLES / "head_zones.png")])
    assert ran.exit_code == 0, ran.output
    assert "head.jpg + head_turned.jpg" in ran.output


@pytest.mark.slow
def test_visit_file_may_name_more_photographs(tmp_path):
    text = f'''
date = 2026-11-01
before = "{SAMPLES / "head.jpg"}"
zones = "{SAMPLES / "head_zones.png"}"
before_also = [{{ photo = "{SAMPLES / "head_turned.jpg"}" }}]
'''
    (tmp_path / "visit.toml").write_text(text, encoding="utf-8")
    crown = run_visit(tmp_path / "visit.toml").before.zone("crown")
    assert "2 photos" in crown.reading.basis[0]
