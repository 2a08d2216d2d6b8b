"""Numbers to words, against published figures and the trade's own labels."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.reading.comparing import difference
from estimator.reading.evenness import evenness
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.reports import wording
from estimator.reports.plane import CHI_SQUARED_2_NINE_IN_TEN
from estimator.scale.appearance import Level, Warmth
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import SecondBest
from tests.estimator.report_samples import plan_for, side


@pytest.mark.parametrize(
    ("low", "high", "shown"),
    [
        (6.94, 8.01, "7.4 (6.9 to 8.0)"),  # width 1.07: two digits reach the tenths
        (7.38, 7.42, "7.4 (7.4 to 7.4)"),  # a level is never told finer than tenths
        (1.2, 13.6, "7 (1 to 14)"),  # width 12: two digits reach the ones
    ],
)
def test_an_interval_is_told_to_two_digits_of_its_own_width(low, high, shown):
    assert wording.interval_text(7.4, low, high) == shown


def test_a_level_outside_the_scale_says_so():
    level = Level(10.0, 9.58, 10.0, "lighter than 10", "default")
    assert wording.level_text(level) == "10.0 (9.6 to 10.0), lighter than 10"


@given(st.floats(-1e4, 1e4), st.integers(0, 2))
@settings(max_examples=200, derandomize=True, deadline=None)
def test_a_number_in_words_reads_back_within_half_its_last_digit(number, decimals):
    shown = wording.number_text(number, decimals)
    assert abs(float(shown.replace("\u2212", "-")) - number) <= 0.5 * 10**-decimals + 1e-9
    assert "-" not in shown
    assert float(shown.replace("\u2212", "-")) != 0 or "\u2212" not in shown  # never a minus nought


# Regulation (EC) 1223/2009, Annex III, entry 12: 12 % is 40 volumes; in the trade 10 volume is 3 % (common practice).
@pytest.mark.parametrize(
    ("volume", "shown"),
    [(40, "40 volume (12 %)"), (20, "20 volume (6 %)"), (10, "10 volume (3 %)"), (6, "6 volume (1.8 %)")],
)
def test_a_developer_is_named_in_both_units(volume, shown):
    assert wording.strength_text(PeroxideStrength.from_volume(volume)) == shown


def test_the_tables_behind_nine_in_ten_are_those_of_statistics():
    # The outside authority: percentage points of the normal and chi-squared distributions (Cephes, in SciPy).
    from scipy import special

    assert pytest.approx(special.ndtri(0.95), abs=5e-5) == NINE_IN_TEN
    assert pytest.approx(special.chdtri(2, 0.1), abs=5e-4) == CHI_SQUARED_2_NINE_IN_TEN


def test_a_change_is_told_with_its_size_and_never_inside_its_own_interval():
    before, after = side("before"), side("after")
    crown, nape = (difference(old.reading, new.reading) for old, new in zip(before.zones, after.zones, strict=True))
    assert wording.change_text(crown).startswith("clearly darker")
    assert wording.direction_text(crown).startswith("deeper by 6.0 (")
    assert wording.change_text(nape).startswith("no change shown")
    assert wording.direction_text(nape) == "within what the photographs can tell apart"


def test_evenness_names_the_zones_as_they_are_spoken():
    read = side("before", names=("crown_regrowth", "nape"))
    told = wording.evenness_text(evenness(tuple(zone.reading for zone in read.zones)))
    assert told.startswith("nape is darker than crown regrowth; ΔE\N{NO-BREAK SPACE}")
    assert told.endswith("8.0 L* from darkest to lightest")


@pytest.mark.parametrize(
    ("spread_sd", "shown"),
    [(1.0, "even, ±1.6 L*"), (8.0, "±13.2 L*, shading included"), (20.0, "uneven, ±32.9 L*")],
)
def test_a_zone_is_called_even_only_where_shading_can_not_hide_a_difference(spread_sd, shown):
    reading = replace(side("before").zones[0].reading, spread_lab=np.array([spread_sd, 1.0, 1.0]))
    assert wording.spread_text(reading) == shown


def test_a_shift_is_told_in_the_direction_that_it_went():
    assert wording.shift_text(-6.1, -7.4, -4.8, ("lighter", "deeper")) == "deeper by 6.1 (4.8 to 7.4)"
    assert wording.shift_text(12.3, 10.1, 14.5, ("lighter", "deeper")) == "lighter by 12.3 (10.1 to 14.5)"
    assert "not told apart" in wording.shift_text(0.2, -1.0, 1.4, ("lighter", "deeper"))


@pytest.mark.parametrize(
    ("share", "shown"),
    [(0.0, "fewer than 1 in 20"), (0.66, "about 7 in 10"), (1.0, "more than 19 in 20"), (0.06, "about 1 in 10")],
)
def test_odds_are_told_as_counts_and_never_as_certainty(share, shown):
    assert wording.odds_text(share) == shown


def test_minutes_and_checks_read_as_they_are_spoken():
    assert wording.minutes_text(5, 20) == "5 to 20 minutes"
    assert wording.minutes_text(1, 1) == "1 minute"
    assert wording.minutes_text(1.9, 3.2) == "1.5 to 3 minutes"  # never later than was planned
    assert wording.minutes_text(7.3, 12.7) == "7 to 12 minutes"
    assert wording.checks_text(2, 1) == "first look at 2 minutes, then every minute"


def test_warmth_names_the_stages_that_its_interval_reaches():
    warmth = Warmth(34.0, 30.0, 38.0, 58.0, 6.0, "orange", ("gold",))
    assert wording.warmth_text(warmth) == "orange, perhaps gold; strength 34.0 (30.0 to 38.0)"
    assert wording.hue_text(Warmth(3, 0, 6, 350.0, 20.0, "little warmth", ())) == "350° (330° to 10°)"


def test_a_date_can_not_be_read_the_wrong_way_round():
    assert wording.date_text(date(2026, 3, 4)) == "4 March 2026"


def test_zones_and_lists_are_spoken_names():
    assert wording.zone_text("crown_regrowth") == "crown regrowth"
    assert wording.list_text(["crown", "fringe", "nape"]) == "crown, fringe and nape"
    assert wording.list_text([]) == ""


def test_no_lightness_beyond_white_or_black_is_told():
    # CIE L* runs from 0 to 100: an interval that a Gaussian draws further is cut there.
    reading = replace(side("before").zones[0].reading, lab_d65=np.array([97.0, 0.0, 5.0]), covariance=25 * np.eye(3))
    assert wording.lab_interval_text(reading).startswith("L* 97 (89 to 100)")


@pytest.mark.parametrize(
    ("costs", "worst_by", "end"),
    [
        (0.0, 0.3, "for back; as near over all zones."),
        (0.04, 0.3, "for back; as near over all zones."),
        (0.8, 1.2, "for back; 0.8 ΔE2000 worse over all zones, most of it in back (1.2)."),
    ],
)
def test_a_second_best_that_costs_nothing_is_not_told_as_worse_by_nought(costs, worst_by, end):
    other = SecondBest((((("Silver", 1),), ("back",)),), costs, "back", worst_by)
    plan = replace(plan_for(side("before")), second_best=other)
    assert wording.second_best_text(plan).endswith(end)
