"""A salon's own scale: the rising fit against a general library, rings of known scales, and the kept file."""

import numpy as np
import pytest
from scipy.optimize import isotonic_regression

from calibration.findings import Finding, Severity, verdict_from
from estimator.errors import BadInputError
from estimator.files import write_text
from estimator.reading.zone_reading import NINE_IN_TEN, ZoneReading
from estimator.scale.level import default_scale, level_of_colour
from estimator.scale.rising import rising_fit
from estimator.scale.scale_file import kept_scale, levels_from_text, scale_text
from estimator.scale.swatch_ring import Swatch, contradictions, fit_ring, fit_scale, swatch_of_colour
from estimator.zones.outline import Setting

DAY = "2026-03-02"


def swatch(level, lightness, name="", sd=1.0, shared=0.0) -> Swatch:
    return Swatch(name or f"swatch {level:g}", level, lightness, sd, shared, DAY)


def ring(moved: float = 0.0, levels=range(1, 11)) -> tuple[Swatch, ...]:
    lightness = dict(zip(default_scale().levels, default_scale().lightness, strict=True))
    return tuple(swatch(float(level), lightness[level] + moved) for level in levels)


def reading(zone, lightness, findings=(), verified=True) -> ZoneReading:
    covariance = np.diag([4.0, 1.0, 1.0])
    return ZoneReading(
        zone, Setting.BOARD, None, np.array([lightness, 5.0, 20.0]), covariance, covariance / 2, np.ones(3), (), 5000,
        verified, False, verdict_from(findings), (), (),
    )  # fmt: skip


def test_the_rising_fit_is_the_isotonic_regression_of_a_general_library():
    random = np.random.default_rng(5)
    for _ in range(50):
        levels = np.cumsum(random.uniform(0.1, 1.0, 12))
        values, weights = random.normal(levels, 3.0), random.uniform(0.1, 4.0, 12)
        fitted, blocks = rising_fit(levels, values, weights, 0.0)
        expected = isotonic_regression(values, weights=weights)  # scipy, pool adjacent violators
        assert fitted == pytest.approx(expected.x, abs=1e-9)
        assert blocks == len(expected.blocks) - 1


def test_a_whole_ring_gives_back_its_own_lightness():
    fit = fit_scale(ring(moved=3.0), "Saltmarsh Lane")
    assert fit.scale.lightness == pytest.approx(np.array(default_scale().lightness) + 3.0)
    assert fit.findings == ()
    assert set(fit.sources) == {"salon swatch ring"}


def test_swatches_of_one_level_are_averaged_and_make_the_row_surer():
    one = fit_scale(ring(), "one").scale
    two = fit_scale((*ring(), swatch(7.0, 46.0, "second 7")), "two").scale
    assert two.lightness[6] == pytest.approx(45.0, abs=0.01)  # the mean of 44 and 46, equally sure
    assert two.lightness_sd[6] < 0.85 * one.lightness_sd[6]


def test_what_all_swatches_of_a_photograph_share_is_not_averaged_away():
    many = tuple(swatch(lv, 20 + 5 * lv, f"{lv} {n}", 2.0, 1.9) for lv in (3.0, 6.0, 9.0) for n in range(20))
    assert min(fit_scale(many, "many").scale.lightness_sd) >= 1.9


def test_levels_that_the_ring_lacks_lean_on_the_default_and_are_less_sure():
    fit = fit_scale(ring(moved=4.0, levels=range(5, 9)), "partial")
    offset = np.array(fit.scale.lightness) - default_scale().lightness
    assert offset[4:8] == pytest.approx(4.0)
    assert 0 < offset[0] < offset[1] < offset[2] < offset[3] < 4.0
    assert 0 < offset[9] < offset[8] < 4.0
    assert np.all(np.diff(fit.scale.lightness_sd[:5]) < 0)
    assert np.all(np.diff(fit.scale.lightness_sd[7:]) > 0)
    assert fit.sources[0] == "our assumption"
    assert [finding.code for finding in fit.findings] == ["ring_is_partial"]
    assert "1, 2, 3, 4, 9, 10" in fit.findings[0].message


def test_a_far_off_partial_ring_still_gives_a_rising_scale():
    for moved in (-30.0, 30.0):
        scale = fit_scale(tuple(swatch(lv, 45 + moved + 2 * lv) for lv in (6.0, 6.5, 7.0)), "odd").scale
        assert np.all(np.diff(scale.lightness) > 0)


def test_swatches_that_contradict_each_other_are_told_by_name():
    swapped = (swatch(5.0, 32), swatch(6.0, 44, "hazel"), swatch(7.0, 37, "amber"), swatch(8.0, 51))
    fit = fit_scale(swapped, "swapped")
    codes = [finding.code for finding in fit.findings]
    assert codes == ["ring_contradicts", "ring_is_partial"]
    assert "amber" in fit.findings[0].message
    assert "hazel" in fit.findings[0].message
    assert fit.scale.lightness_sd[5] > 2 * fit_scale(ring(), "good").scale.lightness_sd[5]


def test_a_difference_within_the_interval_is_no_contradiction():
    width = NINE_IN_TEN * np.hypot(1.0, 1.0)
    assert contradictions((swatch(6.0, 40 + 0.98 * width), swatch(7.0, 40))) == ()
    assert len(contradictions((swatch(6.0, 40 + 1.02 * width), swatch(7.0, 40)))) == 1


def test_level_s_interval_widens_by_what_the_scale_does_not_know():
    scale = fit_scale(ring(), "ring").scale
    lab, covariance = np.array([44.0, 8, 25]), np.diag([4.0, 1, 1])
    own, default = level_of_colour(lab, covariance, scale), level_of_colour(lab, covariance)
    half = NINE_IN_TEN * np.hypot(2.0, scale.lightness_sd[6])
    assert own.level_low == pytest.approx(7 - half / 6.5)  # level 6 lies 6.5 below level 7
    assert own.level_high - own.level_low > default.level_high - default.level_low
    assert own.scale == "ring"


@pytest.mark.slow
def test_the_row_s_interval_holds_a_known_scale_nine_times_in_ten():
    # Rings drawn from a known scale with the stated scatter; 500 rings x 10 rows, of which some must rise by pooling.
    random = np.random.default_rng(11)
    truth, inside = np.array(default_scale().lightness), []
    for _ in range(500):
        shared = random.normal(0, 1.0)
        seen = truth + shared + random.normal(0, np.hypot(1.5, 1.0), 10)
        swatches = tuple(swatch(lv, x, "", 2**0.5, 1.0) for lv, x in zip(range(1, 11), seen, strict=True))
        scale = fit_scale(swatches, "drawn").scale
        inside.append(np.abs(np.array(scale.lightness) - truth) <= NINE_IN_TEN * np.array(scale.lightness_sd))
    assert 0.87 <= np.mean(inside) <= 0.95


def test_too_few_swatches_are_refused_with_a_sentence():
    with pytest.raises(BadInputError, match="3 swatches of two levels"):
        fit_scale(ring(levels=(5, 6)), "two")
    with pytest.raises(BadInputError, match="two levels"):
        fit_scale(tuple(swatch(5.0, 30, str(n)) for n in range(3)), "one level")


@pytest.mark.parametrize("level", [0.0, 11.0, float("nan")])
def test_a_level_off_the_trade_s_scale_is_refused(level):
    with pytest.raises(BadInputError, match="from 1 to 10"):
        swatch(level, 30)


def test_a_photographed_ring_needs_a_level_for_each_swatch_and_a_usable_photograph():
    readings = tuple(reading(zone, lightness) for zone, lightness in (("a", 30), ("b", 40), ("c", 50)))
    assert fit_ring(readings, {"a": 5, "b": 6, "c": 8}, "ring", DAY).scale.name == "ring"
    with pytest.raises(BadInputError, match="No level is stated for c"):
        fit_ring(readings, {"a": 5, "b": 6}, "ring", DAY)
    with pytest.raises(BadInputError, match="no swatch 'd'"):
        fit_ring(readings, {"a": 5, "b": 6, "c": 7, "d": 8}, "ring", DAY)
    blurred = Finding("blurred", Severity.RETAKE, "Blurred.", "Hold still.")
    for bad in (reading("c", 50, (blurred,)), reading("c", 50, verified=False)):
        with pytest.raises(BadInputError, match="card"):
            fit_ring((*readings[:2], bad), {"a": 5, "b": 6, "c": 8}, "ring", DAY)


def test_an_instrument_s_colour_is_a_swatch_too():
    assert swatch_of_colour("a", 7, np.array([44.0, 8, 25]), np.diag([0.25, 1, 1]), DAY).own_sd == pytest.approx(0.5)


def test_a_kept_scale_loads_as_it_was_written(tmp_path):
    fit = fit_scale(ring(moved=2.0, levels=(5, 6, 7)), 'Saltmarsh "Lane" é')
    write_text(tmp_path / "ring.toml", scale_text(fit, ("ab" * 32,), {"tressmeter": "0.1"}))
    kept = kept_scale((tmp_path / "ring.toml").read_text(encoding="utf-8"))
    assert kept.scale.name == fit.scale.name
    assert kept.scale.lightness == pytest.approx(fit.scale.lightness, abs=1e-3)
    assert kept.scale.lightness_sd == pytest.approx(fit.scale.lightness_sd, abs=1e-3)
    assert (kept.day, kept.photo_sha256, kept.versions) == (DAY, ("ab" * 32,), (("tressmeter", "0.1"),))


ROWS = "".join(f'[[row]]\nlevel={lv}\nlightness={20 * lv}\nsource="salon swatch ring"\n' for lv in (1, 2))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("name = ", "not a TOML file"),
        ('name = "a"', "2 to 200"),
        ("name = 5\n" + ROWS, "needs a name"),
        ('name = "a"\n' + ROWS.replace("lightness=40", "lightness=nan"), "Row 2"),
        ('name = "a"\n' + ROWS.replace("lightness=40", "lightness=15"), "rising together"),
        ('name = "a"\n' + ROWS.replace('"salon swatch ring"', '""'), "source"),
        ('name = "a"\nphoto_sha256 = ["x"]\n' + ROWS, "hashes"),
    ],
)
def test_a_scale_that_can_t_be_used_is_refused_with_what_is_wrong(text, says):
    with pytest.raises(BadInputError, match=says):
        kept_scale(text)


def test_levels_are_stated_by_swatch():
    assert levels_from_text("lock1=7, lock2=8.5") == {"lock1": 7.0, "lock2": 8.5}
    for bad in ("lock1", "lock1=x", "=7", "lock1=7,lock1=8", ""):
        with pytest.raises(BadInputError):
            levels_from_text(bad)
