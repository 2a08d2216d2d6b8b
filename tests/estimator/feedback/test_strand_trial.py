"""A strand trial: what it tells of a client, and what becomes of the plan."""

from dataclasses import replace

import numpy as np
import pytest

from estimator.errors import BadInputError
from estimator.feedback.applying import learned_shelf
from estimator.feedback.doses import dosed_zone
from estimator.feedback.learning import foretell
from estimator.feedback.outcome import Done, Readings, outcome_of
from estimator.feedback.same_bowl import same_bowls
from estimator.feedback.strand_trial import judge_trial
from estimator.scale.level import level_of_colour
from estimator.scale.warmth import warmth_of_colour
from estimator.toning.absorption import lab_of
from estimator.toning.bowls import plan_bowls
from estimator.toning.plan import HairFacts, PlanSettings, Porosity, ZoneRequest
from estimator.toning.targets import Target
from tests.synthetic.taught_visits import FIRST_DAY, head, reading, salon, toned

PLUM = (("Plum, invented", 2.0), ("Water, invented", 1.0))
CLIENT = "client 0"


@pytest.fixture(scope="module")
def truth():
    return salon(np.random.default_rng(7))


def strand(truth, uptake, minutes=10.0, rate=0.5, seed=5):
    """A strand toned with plum for so long, on hair that takes so many times the usual dye; read without error."""
    rng = np.random.default_rng(seed)
    hair = head(0, rng).absorption["back"]
    dose = 2 / 3 * uptake * (minutes / 20) ** rate
    after = lab_of(hair + dose * truth.dye["Plum, invented"])
    pair = Readings(CLIENT, FIRST_DAY, reading("back", lab_of(hair)), reading("back", after), trial=True)
    return outcome_of(pair, Done(PLUM, minutes), truth.shelf)


@pytest.mark.parametrize("uptake", [0.6, 1.0, 1.5])
def test_a_trial_finds_how_much_dye_the_strand_took(truth, uptake):
    # Invented truth; the interval of nine in ten holds it, and the middle has moved from 1 most of the way.
    found = judge_trial((strand(truth, uptake),)).found[0].now
    half = 1.6449 * found.dose_log_sd
    assert abs(np.log(found.dose) - np.log(uptake)) < half
    assert abs(np.log(found.dose) - np.log(uptake)) <= 0.45 * abs(np.log(uptake)) + 0.03


def test_before_a_trial_the_tables_are_expected_and_the_prior_is_wider(truth):
    found = judge_trial((strand(truth, 1.4),)).found[0]
    assert found.expected.dose == pytest.approx(1.0)
    assert found.now.dose_log_sd < 0.7 * found.expected.dose_log_sd


def test_two_times_tell_the_rate_as_well(truth):
    quick = judge_trial((strand(truth, 1.0, 3, rate=0.3), strand(truth, 1.0, 20, rate=0.3, seed=6)))
    assert quick.uptake(Porosity.NORMAL, truth.shelf).rate < 0.45


def test_a_trial_says_little_of_hair_of_another_porosity_and_nothing_of_another_client(truth):
    trial = judge_trial((strand(truth, 1.6),))
    normal, high = (trial.uptake(word, truth.shelf) for word in (Porosity.NORMAL, Porosity.HIGH))
    assert 1 < high.mean < normal.mean
    # The logarithm of the dose of plum, the shade that was tried, is surer on hair of the porosity that was tried.
    assert high.by_shade.of(("Plum, invented",))[0, 0] > normal.by_shade.of(("Plum, invented",))[0, 0]
    somebody = replace(trial, client="client 1").uptake(Porosity.NORMAL, truth.shelf)
    assert somebody.mean == 1.0


def test_a_strand_that_its_mix_cannot_have_made_is_a_surprise(truth):
    trial = strand(truth, 1.0)
    gold = replace(trial, after_lab_d65=(trial.before_lab_d65[0] - 4, 4.0, trial.before_lab_d65[2] + 18))
    assert judge_trial((gold,)).surprising
    assert not judge_trial((trial,)).surprising


def test_trials_of_two_clients_are_not_mixed_up(truth):
    mine = strand(truth, 1.0)
    with pytest.raises(BadInputError, match="one client"):
        judge_trial((mine, replace(mine, client="client 1", key="other")))
    with pytest.raises(BadInputError, match="strand"):
        judge_trial((replace(mine, trial=False),))
    with pytest.raises(BadInputError, match="0 strand trials"):
        judge_trial(())


def request(lab=(70.0, 3.0, 20.0), tone="beige", uptake=None):
    lab, covariance = np.array(lab), np.diag([1.2, 0.5, 0.8])
    own = level_of_colour(lab, covariance)
    target = Target("back", own.level - 0.6, tone)
    return ZoneRequest("back", lab, covariance, own, warmth_of_colour(lab, covariance), target, HairFacts(), uptake)


@pytest.mark.slow
def test_bowls_that_are_mixed_stay_and_thirsty_hair_gets_fewer_minutes(truth):
    plan = plan_bowls((request(),), truth.shelf, PlanSettings(max_bowls=1))
    minutes = {}
    for uptake in (0.7, 1.6):
        trial = judge_trial((strand(truth, uptake),))
        known = request(uptake=trial.uptake(Porosity.NORMAL, truth.shelf))
        redone = same_bowls(plan, (known,), learned_shelf(truth.shelf, trial.belief))
        assert redone.bowls == plan.bowls
        assert redone.zones[0].rests_on == "a strand trial of this client"
        minutes[uptake] = redone.zones[0].minutes_high
    assert minutes[1.6] < minutes[0.7]
    assert minutes[1.6] < plan.zones[0].minutes_high


def test_the_same_bowls_of_hair_of_which_nothing_new_is_known_are_predicted_as_the_plan_did(truth):
    plan = plan_bowls((request(),), truth.shelf, PlanSettings(max_bowls=1))
    again = same_bowls(plan, (request(),), truth.shelf)
    # The plan chooses among four times, here they are half a minute apart: as near or nearer.
    assert again.zones[0].expected_delta_e_2000 <= plan.zones[0].expected_delta_e_2000 + 0.1
    assert again.zones[0].odds_inside == pytest.approx(plan.zones[0].odds_inside, abs=0.1)


@pytest.mark.slow
def test_a_trial_with_the_very_mix_makes_the_prediction_better_on_the_head(truth):
    # Twelve invented heads: the back is tried for ten minutes, then toned; with and without what the strand told.
    away = {"trial": [], "usual": []}
    for seed in range(12):
        rng = np.random.default_rng(seed)
        here = head(seed, rng)
        other = salon(np.random.default_rng(1000 + seed))
        visit = toned(other, here, None, rng)
        tried = visit.outcomes[0]
        trial = judge_trial((replace(tried, trial=True),))
        for outcome in visit.outcomes[1:]:
            truly = visit.true_after[outcome.zone]
            for name, belief in (("trial", trial.belief), ("usual", trial.before)):
                expected = foretell(belief, dosed_zone(outcome)).lab_d65
                away[name].append(float(np.linalg.norm(expected - truly)))
    assert np.mean(away["trial"]) < 0.9 * np.mean(away["usual"])
