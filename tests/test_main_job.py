"""The main job on the sample visit: what is read, planned and written, held against what is known of those strands."""

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from estimator import visit
from estimator.care.verdicts import CareWord
from estimator.errors import BadInputError
from estimator.files import load_photo, load_scale, load_zones
from estimator.reports.before_after import render_html, render_pdf
from estimator.scale.level import level_of
from estimator.visit_file import load_visit_file, run_visit

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "sample_images"


def _truth() -> dict[tuple[str, str], np.ndarray]:
    """Colour of a flat tress in a d:8 instrument, computed by the renderer from the very spectra it drew with."""
    lines = (SAMPLES / "truth.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {(row["photo"], row["zone"]): np.array([float(row[f"lab_{axis}"]) for axis in "lab"]) for row in rows}


@pytest.fixture(scope="module")
def outcome():
    return run_visit(SAMPLES / "visit.toml")


@pytest.mark.slow
@pytest.mark.parametrize("photo", ["strands_before.jpg", "strands_after.jpg", "head.jpg"])
def test_truth_lies_within_the_intervals_of_the_sample_photographs(photo):
    zones = "head_zones.png" if photo == "head.jpg" else "strands_zones.png"
    reading = visit.read_photo(load_photo(SAMPLES / photo), load_zones(SAMPLES / zones, ()))
    truth = _truth()
    inside = [
        (read.reading.lab_low <= truth[photo, read.name]) & (truth[photo, read.name] <= read.reading.lab_high)
        for read in reading.zones
        if (photo, read.name) in truth
    ]
    # Nine in ten is promised: of 12 to 15 numbers, at most 3 outside (a fair coin of 0.1 does worse once in 20).
    assert np.size(inside) - np.sum(inside) <= 3


def test_shaken_photograph_is_refused_with_the_reason():
    spec = load_zones(SAMPLES / "strands_zones.png", ())
    reading = visit.read_photo(load_photo(SAMPLES / "strands_blurred.jpg"), spec)
    assert reading.refused
    assert "motion_blur" in reading.corrected.verdict.codes
    assert not reading.zones


@pytest.mark.slow
def test_visit_plans_at_most_the_bowls_allowed_and_never_predicts_lighter_hair(outcome):
    plan = outcome.checked.plan
    assert 1 <= len(plan.bowls) <= 2
    for zone in plan.zones:
        # A deposit never lightens (common practice; toners take no pigment out).
        assert zone.predicted_lab_d65[0] <= zone.now_lab_d65[0] + 0.1
        assert 0 <= zone.odds_inside <= 1


@pytest.mark.slow
def test_grams_of_a_bowl_add_up_to_its_total(outcome):
    for bowl in outcome.checked.plan.bowls:
        assert sum(grams for _, grams in bowl.shade_grams) + bowl.developer_grams == pytest.approx(bowl.total_grams)


@pytest.mark.slow
def test_difference_finds_the_strand_that_was_toned_most(outcome):
    truth = _truth()
    changes = {
        zone: np.linalg.norm(truth["strands_after.jpg", zone] - truth["strands_before.jpg", zone])
        for zone in ("fringe", "crown", "nape", "back")
    }
    found = max(outcome.document.differences, key=lambda change: change.delta_e_2000)
    assert found.zone == max(changes, key=changes.get)


def test_report_shows_every_zone_every_bowl_and_the_demo_mark(outcome):
    page = render_html(outcome.document)
    printed = " ".join(" ".join(sheet.extract_text().split()) for sheet in PdfReader(_as_file(outcome)).pages)
    for word in ("fringe", "crown", "nape", "back", "Bowl 1", "DEMO", "Saltmarsh Lane", "Gloves", "First aid"):
        assert word in page
        assert word in printed


def _as_file(outcome):
    return io.BytesIO(render_pdf(outcome.document))


@pytest.mark.slow
def test_stop_hides_the_formula_and_leaves_first_aid(tmp_path):
    written = (SAMPLES / "visit.toml").read_text(encoding="utf-8")
    written = written.replace('scalp_state = "sound"', 'scalp_state = "broken"')
    for name in ("strands_before.jpg", "strands_after.jpg", "strands_zones.png", "strands_zones.json"):
        (tmp_path / name).write_bytes((SAMPLES / name).read_bytes())
    (tmp_path / "visit.toml").write_text(written, encoding="utf-8")
    stopped = run_visit(tmp_path / "visit.toml")
    assert stopped.checked.care.verdict is CareWord.STOP
    assert stopped.checked.plan is None
    page = render_html(stopped.document)
    assert "First aid" in page
    assert "Bowl 1" not in page


ECZEMA = 'skin_condition = "eczema"'
WORD = """
[[answer]]
finding = "ask-a-doctor"
who = "the client's doctor"
when = 2026-10-01
what = "toning is fine while the skin is calm"
"""


@pytest.mark.slow
@pytest.mark.parametrize(("answer", "expected"), [("", CareWord.TEST_FIRST), (WORD, CareWord.CAUTION)])
def test_a_doctor_s_word_in_the_visit_file_answers_what_asks_for_it_and_is_printed(answer, expected, tmp_path):
    # Common practice: a skin condition is for a doctor to judge; the word is written down, dated and kept.
    written = (SAMPLES / "visit.toml").read_text(encoding="utf-8").replace('skin_condition = "none"', ECZEMA)
    for name in ("strands_before.jpg", "strands_after.jpg", "strands_zones.png", "strands_zones.json"):
        (tmp_path / name).write_bytes((SAMPLES / name).read_bytes())
    (tmp_path / "visit.toml").write_text(written + answer, encoding="utf-8")
    document = run_visit(tmp_path / "visit.toml").document
    assert document.care.verdict is expected
    assert ("while the skin is calm" in render_html(document)) is bool(answer)


def test_visit_file_with_faults_names_every_one(tmp_path):
    path = tmp_path / "visit.toml"
    path.write_text('date = 2026-10-05\nbefore = "a.jpg"\nmax_bowls = 40\ncolour = "red"\n', encoding="utf-8")
    with pytest.raises(BadInputError) as told:
        load_visit_file(path)
    assert "max_bowls" in str(told.value)
    assert "colour" in str(told.value)


def test_command_reads_a_photograph_in_a_new_process_and_prints_rows_for_a_program():
    words = ["read", "sample_images/strands_before.jpg", "--zones", "sample_images/strands_zones.png", "--json"]
    command = [sys.executable, "-m", "estimator", *words]
    document = json.loads(subprocess.run(command, cwd=ROOT, capture_output=True, check=True).stdout)
    assert document["verdict"] == "usable"
    assert {row["zone"] for row in document["zones"]} == {"fringe", "crown", "nape", "back"}


@pytest.mark.slow
def test_a_ring_s_own_scale_moves_the_level_of_its_swatches_to_what_was_stated(tmp_path):
    # The swatches' levels are stated half a level above the default scale's, so their readings must follow.
    spec = load_zones(SAMPLES / "strands_zones.png", ())
    photo = load_photo(SAMPLES / "strands_before.jpg")
    stated = {"fringe": 10, "crown": 10, "nape": 8.2, "back": 9.7}
    levels = ",".join(f"{zone}={level}" for zone, level in stated.items())
    (tmp_path / "ring.toml").write_text(visit.fit_scale_to_ring(((photo, spec),), levels, "test ring").text, "utf-8")
    scale = load_scale(tmp_path / "ring.toml")
    read = visit.read_photo(photo, spec, scale=scale)
    for zone in ("nape", "back"):
        own, default = read.zone(zone).level, level_of(read.zone(zone).reading)
        assert own.scale == "test ring"
        assert abs(own.level - stated[zone]) < abs(default.level - stated[zone])


@pytest.mark.slow
def test_reading_is_the_same_twice_and_under_another_name(tmp_path):
    first = visit.read_photo(load_photo(SAMPLES / "strands_before.jpg"), load_zones(SAMPLES / "strands_zones.png", ()))
    (tmp_path / "other name.png").write_bytes((SAMPLES / "strands_before.jpg").read_bytes())
    again = visit.read_photo(load_photo(tmp_path / "other name.png"), load_zones(SAMPLES / "strands_zones.png", ()))
    for one, other in zip(first.zones, again.zones, strict=True):
        np.testing.assert_array_equal(one.reading.lab_d65, other.reading.lab_d65)
