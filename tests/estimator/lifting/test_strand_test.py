"""The strand test: curves from photos, honest intervals, when to stop."""

import numpy as np
import pytest

from calibration.findings import verdict_from
from estimator.errors import BadInputError
from estimator.lifting.curve import carried_over, fit_curve
from estimator.lifting.stopping import Signs, bonds_percent, forecast
from estimator.lifting.strand import Strand, StrandPoint, point_by_eye, point_of_reading
from estimator.lifting.strand_test import StrandPhoto, judge_strand
from estimator.reading.zone_reading import ZoneReading
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import StrandDiameter
from estimator.zones.outline import Setting
from tests.counts import NIGHT
from tests.studies.strand_coverage import levels_held, minutes_held
from tests.synthetic.lifted_strands import lifted_strands


def volume(strength: float) -> PeroxideStrength:
    return PeroxideStrength.from_volume(strength)


def reading(lightness: float, sd: float = 1.0, shared_sd: float = 0.5) -> ZoneReading:
    covariance, shared = np.diag([sd**2, 1.0, 1.0]), np.diag([shared_sd**2, 0.2, 0.2])
    return ZoneReading(
        "strand", Setting.BOARD, None, np.array([lightness, 8.0, 20.0]), covariance, shared, np.ones(3), (), 5000,
        True, False, verdict_from(()), (), (),
    )  # fmt: skip


def photos(*looks: tuple[float, float]) -> tuple[StrandPhoto, ...]:
    return tuple(StrandPhoto(minutes, reading(lightness)) for minutes, lightness in looks)


# --- intervals


@pytest.fixture(scope="module")
def strands():
    return lifted_strands(130, seed=7)


@pytest.mark.slow
@pytest.mark.parametrize("minutes", [(), (0, 5, 10, 15)], ids=["no photo", "four photos"])
def test_nine_in_ten_intervals_hold_simulated_strands(strands, minutes):
    # Strands lifted by diffusion and reaction, which the fitted curve knows nothing of. 520 checks, four a strand.
    assert 0.85 <= levels_held(strands, minutes, seed=2).mean() <= 0.95


@pytest.mark.slow
@pytest.mark.parametrize(
    "minutes",
    [
        *((), (0, 10), (0, 5, 10, 15, 20, 25, 30)),
        *(pytest.param(each, marks=NIGHT) for each in ((0,), (0, 5, 10, 15))),
    ],
    ids=str,
)
def test_intervals_of_level_and_of_minutes_hold_at_every_schedule(minutes):
    many = lifted_strands(400, seed=20)
    assert np.all(((held := levels_held(many, minutes, 1).mean(axis=0)) >= 0.85) & (held <= 0.95))
    assert 0.85 <= minutes_held(many, minutes, 1).mean() <= 0.96  # those that never arrive count as held


def test_more_photos_make_a_narrower_curve():
    strand = Strand(start_level=4.0)
    widths = []
    for looks in ((), ((0, 28), (10, 36)), ((0, 28), (5, 32), (10, 36), (15, 39), (20, 42))):
        level = judge_strand(strand, photos(*looks), 8.0).curve.level_at(40)
        widths.append(level.level_high - level.level_low)
    assert widths[0] > widths[1] > widths[2]


# --- what the curve says


def test_fewer_than_two_photos_are_said_to_be_the_usual_and_not_this_strand():
    for looks in ((), ((0.0, 28.0),)):
        test = judge_strand(Strand(start_level=4.0), photos(*looks), 8.0)
        assert test.curve.prior_alone
        assert "not seen on this strand" in test.curve.basis
        assert test.result == "none"
    assert "Fitted to this strand" in judge_strand(Strand(start_level=4.0), photos((0, 28), (10, 36)), 8.0).curve.basis


def test_a_quick_strand_passes_and_a_stuck_one_is_too_slow():
    quick = judge_strand(Strand(start_level=4.0), photos((0, 28), (5, 37), (10, 44), (15, 49)), 8.0)
    stuck = judge_strand(
        Strand(start_level=4.0, dyed=True), photos((0, 28), (5, 31), (10, 33), (20, 33.5), (30, 34)), 8.0
    )
    assert (quick.result, stuck.result) == ("passed", "too_slow")
    assert quick.reach.minutes < 25
    assert "out of reach" in stuck.can
    assert stuck.forecast.because == "harm-outruns-gain"
    assert quick.forecast.because == "target-reached"


def test_a_gummy_strand_is_damaged_whatever_the_curve_says():
    test = judge_strand(Strand(), photos((0, 28), (10, 44)), 6.0, Signs(stretch="gummy"))
    assert test.result == "damaged"
    assert test.stops[0].code == "hair-gummy"


def test_thin_strands_lift_quicker_by_the_square_of_their_diameter():
    minutes = [
        np.median(fit_curve(Strand(word, volume(20), 4.0)).minutes_to(7.0)) for word in ("fine", "medium", "coarse")
    ]
    assert minutes[1] / minutes[0] == pytest.approx((70 / 50) ** 2)  # diffusion: time goes with the diameter squared
    assert minutes[2] / minutes[1] == pytest.approx((90 / 70) ** 2)


@pytest.mark.parametrize(
    ("diameter", "strength", "shortest", "longest"),
    [("fine", 20, 10, 25), ("medium", 20, 25, 45), ("coarse", 20, 35, 70)],
)
def test_the_usual_curve_agrees_with_the_trade(diameter, strength, shortest, longest):
    # Common practice: fine strands can be done in 10 to 20 minutes while coarse neighbours need 35 to 45; about four
    # levels a visit. Wider here, as the trade's figures are no measurements.
    minutes = float(np.median(fit_curve(Strand(diameter, volume(strength), 4.0)).minutes_to(7.5)))
    assert shortest <= minutes <= longest


def test_hair_never_darkens_and_a_higher_level_never_comes_sooner():
    curve = fit_curve(Strand(start_level=4.0), (StrandPoint(0, 28, 1), StrandPoint(10, 37, 1)))
    assert np.all(np.diff(curve.lightness(np.arange(0.0, 51.0)), axis=1) >= 0)
    assert np.all(curve.minutes_to(7.0) <= curve.minutes_to(8.0))
    assert np.all(curve.minutes_to(2.0) == 0)


def test_the_same_photos_give_the_same_curve_in_any_order():
    looks = photos((0, 28), (5, 33), (12, 38))
    one, other = judge_strand(Strand(), looks, 7.0), judge_strand(Strand(), looks[::-1], 7.0)
    assert np.array_equal(one.curve.pace_minutes, other.curve.pace_minutes)


def test_a_tested_strand_speaks_for_a_slower_zone_of_the_same_head():
    tested = judge_strand(Strand(start_level=4.0), photos((0, 28), (10, 40), (20, 48)), 8.0).curve
    nape = carried_over(tested, Strand(start_level=3.0, minutes_times=1.2))
    assert np.median(nape.minutes_to(8.0)) > np.median(tested.minutes_to(8.0))
    assert np.median(nape.pace_minutes) == pytest.approx(1.2 * np.median(tested.pace_minutes))


def test_photos_that_are_off_together_do_not_pretend_to_know_the_start():
    shared = tuple(StrandPoint(minute, light, 0.3, 4.0) for minute, light in ((0, 28), (10, 36), (20, 42)))
    alone = tuple(StrandPoint(minute, light, 0.3, 0.0) for minute, light in ((0, 28), (10, 36), (20, 42)))
    wide, narrow = (fit_curve(Strand(), points).level_at(0) for points in (shared, alone))
    assert wide.level_high - wide.level_low > narrow.level_high - narrow.level_low


def test_a_reading_hands_over_its_own_and_its_shared_part():
    point = point_of_reading(5, reading(40, sd=1.3, shared_sd=0.5))
    assert (point.own_sd, point.shared_sd) == (pytest.approx(1.2), pytest.approx(0.5))


def test_eyes_are_trusted_less_than_photos():
    assert point_by_eye(5, 6).own_sd > 2  # 0.6 levels, our assumption: about 3.6 L* at level 6


# --- when to stop


def test_damage_grows_with_time_and_slows_as_the_strand_fills():
    broken = np.median(bonds_percent(fit_curve(Strand()), np.array([5.0, 30.0, 50.0])), axis=0)
    assert broken[0] < broken[1] < broken[2]
    assert 15 <= broken[1] <= 25  # usual bleaching breaks 15 to 25 % of the cystine: from memory (Robbins)
    assert (broken[2] - broken[1]) / 20 < (broken[1] - broken[0]) / 25


def test_a_rinse_is_never_called_later_than_the_outer_limit():
    for start, target in ((2.0, 9.5), (5.0, 6.0), (8.0, 10.0)):
        told = forecast(fit_curve(Strand("coarse", volume(10), start)), target)
        assert told.rinse_minutes <= 50  # common practice
    assert forecast(fit_curve(Strand("coarse", volume(10), 2.0)), 9.5, 30).rinse_minutes <= 30
    assert forecast(fit_curve(Strand("coarse", volume(10), 2.0)), 9.5, 90).rinse_minutes <= 50


@pytest.mark.parametrize(
    ("signs", "code"),
    [
        (Signs(skin="burns"), "skin-burns"),
        (Signs(skin="tingles"), "skin-burns"),
        (Signs(skin="dizzy"), "skin-burns"),
        (Signs(stretch="poor"), "hair-gummy"),
        (Signs(heat="yes"), "heat-in-mix"),
    ],
)
def test_signs_that_end_a_lift_at_once(signs, code):
    assert [call.code for call in signs.stops] == [code]
    assert all(call.remedy and call.source for call in signs.stops)


def test_harmless_signs_end_nothing():
    assert Signs(skin="fine", stretch="reduced", heat="no").stops == ()


# --- bad input


@pytest.mark.parametrize(
    "seen",
    [
        lambda: judge_strand(Strand(), photos((0, 28), (0, 30)), 7),
        lambda: judge_strand(Strand(), (), 11),
        lambda: Strand(developer=volume(0)),
        lambda: Strand(start_level=0),
        lambda: Strand("thick"),  # type: ignore[arg-type]
        lambda: StrandPoint(float("nan"), 40, 1),
        lambda: StrandPoint(-1, 40, 1),
        lambda: StrandPoint(1, 140, 1),
        lambda: Signs(skin="itches a bit"),
        lambda: fit_curve(Strand(), tuple(StrandPoint(minute / 2, 30, 1) for minute in range(100))),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(seen):
    with pytest.raises(BadInputError, match=r"\.$"):
        seen()


def test_every_diameter_has_its_figure():
    for word in StrandDiameter:
        assert Strand(word).pace_times > 0
