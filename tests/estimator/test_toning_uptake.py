"""A plan for hair of which more is known than its porosity: how much dye it takes, and how fast."""

from dataclasses import replace

import numpy as np
import pytest

from estimator.errors import BadInputError
from estimator.scale.level import level_of_colour
from estimator.scale.warmth import warmth_of_colour
from estimator.toning.bowls import plan_bowls
from estimator.toning.mixing import shelf_absorption
from estimator.toning.plan import HairFacts, PlanSettings, Porosity, ZoneRequest
from estimator.toning.shades import Shelf, demo_shelf
from estimator.toning.targets import Target
from estimator.toning.timing import minutes_for, timing_of, uptake_sd
from estimator.toning.uptake import ShadeSpread, Uptake, UptakeBasis

COVARIANCE = np.diag([1.0, 0.4, 0.6])
LAB = np.array([60.0, 7.0, 28.0])
ONE_SHADE = Shelf((demo_shelf().shade("Deep violet, demo"),), demo_shelf().white_lab_d65, "one shade")


def planned(uptake, shelf=ONE_SHADE):
    level, warmth = level_of_colour(LAB, COVARIANCE), warmth_of_colour(LAB, COVARIANCE)
    request = ZoneRequest("back", LAB, COVARIANCE, level, warmth, Target("back", 8, "beige"), HairFacts(), uptake)
    return plan_bowls((request,), shelf, PlanSettings(max_bowls=1))


def tried(mean, sd=0.05, **others):
    return Uptake(mean, sd, basis=UptakeBasis.STRAND_TRIAL, **others)


def test_hair_of_usual_uptake_is_planned_as_hair_of_which_nothing_is_known():
    usual, unsaid = planned(Uptake(1.0, uptake_sd())), planned(None)
    assert usual.zones[0].predicted_lab_d65 == pytest.approx(unsaid.zones[0].predicted_lab_d65)
    assert usual.zones[0].minutes_high == unsaid.zones[0].minutes_high


def test_thirsty_hair_is_not_left_as_long():
    thirsty, slow = planned(tried(1.6)).zones[0], planned(tried(0.7)).zones[0]
    assert thirsty.minutes_high < slow.minutes_high


def test_a_strand_trial_narrows_the_prediction_and_the_window_of_minutes():
    before, after = planned(None).zones[0], planned(tried(1.0)).zones[0]
    assert np.trace(after.predicted_covariance) < np.trace(before.predicted_covariance)
    assert after.minutes_high - after.minutes_low < before.minutes_high - before.minutes_low


def test_the_plan_says_what_its_minutes_rest_on():
    assert planned(None).zones[0].rests_on == "common practice"
    plan = planned(tried(1.1))
    assert plan.zones[0].rests_on == "a strand trial of this client"
    assert any("a strand trial of this client: back" in note for note in plan.notes)


def test_shades_known_apart_spread_the_prediction_as_one_factor_does_where_they_move_together():
    # One shade in the bowl: a log spread of 0.2 of that shade and a spread of 0.2 of the uptake are the same fact.
    apart = ShadeSpread(("Deep violet, demo",), np.array([[0.2**2]]))
    one_factor, by_shade = planned(tried(1.0, 0.2)).zones[0], planned(tried(1.0, 0.2, by_shade=apart)).zones[0]
    # 256 draws each: their spreads agree to a few parts in a hundred, and the one goes through a bent law.
    assert np.diag(by_shade.predicted_covariance) == pytest.approx(np.diag(one_factor.predicted_covariance), rel=0.2)


def test_dye_that_goes_in_faster_at_first_needs_fewer_minutes_for_a_part_of_it():
    # minutes to the power of the rate, by hand: 0.7 = (m / 20) ** 0.4, so m = 20 * 0.7 ** 2.5.
    assert minutes_for(0.7, 20, Porosity.NORMAL, rate=0.4) == pytest.approx(20 * 0.7**2.5)
    assert minutes_for(0.7, 20, Porosity.NORMAL, rate=0.4) < minutes_for(0.7, 20, Porosity.NORMAL)
    assert timing_of(0.7, 20, Porosity.NORMAL, 7, tried(1.0, rate=0.4)).minutes_high < 10


def test_a_shade_that_results_have_shown_to_be_weak_adds_less():
    weak = replace(ONE_SHADE, shades=(replace(ONE_SHADE.shades[0], strength=0.8),))
    assert shelf_absorption(weak).added == pytest.approx(0.8 * shelf_absorption(ONE_SHADE).added)


@pytest.mark.parametrize(("mean", "sd", "rate"), [(0.0, 0.1, 0.5), (1.0, -0.1, 0.5), (1.0, 0.1, 0.0), (40, 0.1, 0.5)])
def test_an_uptake_that_no_hair_has_is_refused(mean, sd, rate):
    with pytest.raises(BadInputError, match="not possible"):
        Uptake(mean, sd, rate)
