"""Level and remaining warmth against the case tables, and their intervals."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from calibration.findings import verdict_from
from estimator.reading.zone_reading import ZoneReading
from estimator.scale.level import LevelScale, default_scale, level_of, scale_from_document
from estimator.scale.warmth import default_stages, stages_from_document, warmth_of
from estimator.zones.outline import Setting

CASES = Path(__file__).resolve().parents[2] / "cases"


def cases(name: str) -> list[dict]:
    return tomllib.loads((CASES / f"{name}.toml").read_text(encoding="utf-8"))["case"]


def reading(lab, sd=(2.0, 1.0, 1.0)) -> ZoneReading:
    covariance = np.diag(np.square(sd))
    return ZoneReading(
        "crown", Setting.HEAD, None, np.array(lab, float), covariance, covariance / 2, np.ones(3), (), 5000, True,
        False, verdict_from(()), (), (),
    )  # fmt: skip


@pytest.mark.parametrize("case", cases("level"), ids=lambda case: case["about"])
def test_level_follows_the_table(case):
    level = level_of(reading((case["lightness"], 5, 20)))
    assert level.level == pytest.approx(case["level"], abs=0.001)  # the table's own last digit
    assert level.beyond == case.get("beyond", "")
    assert "assumption" in level.scale


def test_both_ends_of_the_level_s_interval_are_mapped():
    level = level_of(reading((27.5, 5, 10), sd=(3.0, 1, 1)))
    low, high = 27.5 - 1.6449 * 3, 27.5 + 1.6449 * 3
    assert level.level_low == pytest.approx(2 + (low - 20) / 3.5, abs=1e-3)
    assert level.level_high == pytest.approx(5 + (high - 32) / 5.5, abs=1e-3)


def test_level_never_falls_when_hair_gets_lighter():
    levels = [level_of(reading((lightness, 5, 20))).level for lightness in np.linspace(5, 95, 200)]
    assert np.all(np.diff(levels) >= 0)


def test_a_salon_s_own_scale_is_used_and_named():
    own = LevelScale("Saltmarsh Lane's ring", (1.0, 10.0), (10.0, 100.0))
    level = level_of(reading((55, 5, 20)), own)
    assert level.level == pytest.approx(5.5)
    assert level.scale == "Saltmarsh Lane's ring"


def test_a_scale_without_source_or_out_of_order_does_not_load():
    with pytest.raises(ValueError, match="source"):
        scale_from_document({"name": "own", "row": [{"level": 1, "lightness": 17}]})
    with pytest.raises(ValueError, match="rising"):
        LevelScale("own", (1.0, 2.0), (30.0, 20.0))
    assert default_scale().levels == tuple(range(1, 11))


@pytest.mark.parametrize("case", cases("warmth"), ids=lambda case: f"{case['stage']} {case['lab']}")
def test_stage_follows_the_table(case):
    assert warmth_of(reading(case["lab"])).stage == case["stage"]


def test_every_colour_has_exactly_one_stage():
    stages = default_stages()
    for hue_deg in range(0, 360):
        for chroma in (8.0, 19.99, 20.0, 60.0):
            assert sum(stage.holds(chroma, hue_deg) for stage in stages.stages) == 1


def test_a_sure_reading_in_the_middle_of_a_stage_names_no_other():
    assert warmth_of(reading((50, 8, 25), sd=(2, 0.3, 0.3))).other_stages == ()


def test_a_reading_at_a_border_names_the_neighbour():
    # Hue 65: orange ends, gold begins.
    chroma, hue = 25.0, np.radians(65.2)
    warmth = warmth_of(reading((45, chroma * np.cos(hue), chroma * np.sin(hue)), sd=(2, 1.5, 1.5)))
    assert warmth.stage == "gold"
    assert warmth.other_stages[0] == "orange"


def test_hue_of_neutral_hair_is_not_known():
    warmth = warmth_of(reading((18, 0.4, 0.3), sd=(2, 1, 1)))
    assert warmth.half_width_deg == 180.0
    assert warmth.warmth_chroma_low == 0.0


def test_intervals_of_chroma_and_hue_come_from_the_covariance():
    warmth = warmth_of(reading((50, 0, 20), sd=(2, 1.0, 2.0)))
    assert warmth.warmth_chroma_high - warmth.warmth_chroma == pytest.approx(1.6449 * 2.0)
    assert warmth.half_width_deg == pytest.approx(np.degrees(np.arcsin(1.6449 / 20)), abs=1e-6)


def test_a_stage_without_source_does_not_load():
    document = {"least_chroma": 8, "neutral": "little warmth", "neutral_source": "our assumption"}
    with pytest.raises(ValueError, match="source"):
        stages_from_document(document | {"stage": [{"word": "red", "hue_from_deg": 0, "hue_to_deg": 9, "source": ""}]})
    with pytest.raises(ValueError, match="source"):
        stages_from_document(document | {"neutral_source": "", "stage": []})
