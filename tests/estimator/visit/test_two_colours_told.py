"""A zone of two colours in the trade's terms: both parts with shares, the larger one speaks for the zone."""

import json
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from calibration.pipeline import correct_bytes
from estimator.batch import rows_of_photo
from estimator.care.facts import baseline_facts
from estimator.cli import app
from estimator.files import load_photo, load_zones
from estimator.reports import wording
from estimator.toning.shades import demo_shelf
from estimator.toning.targets import Target
from estimator.visit import Consultation, Wishes, plan, read_photo
from estimator.zones.inputs import zones_of
from tests.synthetic import two_coloured
from tests.synthetic.two_coloured import Blend, Lie

pytestmark = pytest.mark.slow

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    """The sample board with the nape's dark lock laid over the upper part of the back's, as a shadow root."""
    corrected = correct_bytes(load_photo(SAMPLES / "strands_before.jpg"))
    zones = {zone.name: zone for zone in zones_of(load_zones(SAMPLES / "strands_zones.png", ()), corrected)}
    linear = two_coloured.linear_of(np.asarray(corrected.photo.encoded_rgb))
    second = two_coloured.laid_over(linear, zones["back"], zones["nape"])
    picture = two_coloured.blended(linear, zones["back"], second, Blend(Lie.ROOT, 0.35))
    path = tmp_path_factory.mktemp("two") / "shadow_root.jpg"
    path.write_bytes(two_coloured.jpeg_of(picture))
    return path


def test_larger_part_speaks_for_the_zone_and_never_the_mean(photo):
    back = read_photo(photo.read_bytes(), load_zones(SAMPLES / "strands_zones.png", ())).zone("back")
    larger, smaller = back.parts
    assert larger.part.share > smaller.part.share
    assert back.level == larger.level
    assert back.reading.lab_d65 == pytest.approx(larger.part.lab_d65)
    assert "two_colours" in {finding.code for finding in back.reading.findings}
    assert abs(larger.level.level - smaller.level.level) > 0.5


def test_both_parts_are_said_with_share_level_and_warmth(photo):
    ran = CliRunner().invoke(app, ["read", str(photo), "--zones", str(SAMPLES / "strands_zones.png")])
    assert ran.exit_code == 0, ran.output
    back = read_photo(photo.read_bytes(), load_zones(SAMPLES / "strands_zones.png", ())).zone("back")
    said = " ".join(ran.output.split())
    for told in back.parts:
        assert " ".join(wording.part_text(told.part, told.level, told.warmth).split()) in said


def test_plan_says_for_which_part_it_is_and_asks(photo):
    before = read_photo(photo.read_bytes(), load_zones(SAMPLES / "strands_zones.png", ()))
    wishes = Wishes((Target("back", 6, "neutral"),), {}, demo_shelf())
    planned = plan(before, Consultation(baseline_facts(), date(2026, 11, 25)), wishes).plan
    assert planned is not None
    larger = before.zone("back").parts[0].part
    assert f"this plan is for its {larger.place}" in planned.notes[0]
    assert planned.zones[0].now_lab_d65 == pytest.approx(larger.lab_d65)


def test_row_holds_the_larger_part_and_the_second_beside_it(photo):
    reading = read_photo(photo.read_bytes(), load_zones(SAMPLES / "strands_zones.png", ()))
    row = next(row for row in rows_of_photo("p", reading) if row["zone"] == "back")
    first, second = reading.zone("back").parts
    assert (row["part"], row["second_part"]) == (first.part.place, second.part.place)
    assert float(row["level"]) == pytest.approx(first.level.level, abs=0.001)
    assert float(row["second_level"]) == pytest.approx(second.level.level, abs=0.001)
    assert float(row["part_share_low"]) < float(row["part_share"]) < float(row["part_share_high"])


def test_json_holds_both_parts(photo):
    ran = CliRunner().invoke(app, ["read", str(photo), "--zones", str(SAMPLES / "strands_zones.png"), "--json"])
    (told,) = json.loads(ran.output)["two_colours"]
    assert told["zone"] == "back"
    assert {part["place"] for part in told["parts"]} == {"root", "lengths"}
    assert sum(part["share"][0] for part in told["parts"]) == pytest.approx(1.0, abs=0.01)
