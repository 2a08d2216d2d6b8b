"""What outcomes teach: against a grid of the exact posterior, and what must hold of any list of outcomes."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.findings import Finding, Severity, verdict_from
from estimator.errors import BadInputError
from estimator.feedback.applying import interval_of, learned_shelf, uptake_of
from estimator.feedback.doses import dosed_zone
from estimator.feedback.figures import prior, sourced_table
from estimator.feedback.learning import (
    NOTHING_LEARNED,
    SURPRISE,
    ClientUptake,
    ShadeStrength,
    believe,
    foretell,
    surprise,
)
from estimator.feedback.outcome import Done, Readings, outcome_of
from estimator.toning.plan import Porosity
from estimator.toning.timing import uptake_sd
from estimator.toning.uptake import UptakeBasis
from tests.studies.learning_visits import followed, twenty_visits
from tests.synthetic.taught_visits import FIRST_DAY, head, reading, salon, toned, with_other_minutes

DONE = Done((("Plum, invented", 2.0), ("Water, invented", 1.0)), 12.0)


@pytest.fixture(scope="module")
def truth():
    return salon(np.random.default_rng(7))


@pytest.fixture(scope="module")
def visit(truth):
    own = np.random.default_rng(70)
    return toned(truth, head(0, own), None, own)


def readings(after=(66.0, 5.0, 16.0), before=(74.0, 2.0, 24.0), **changes):
    made = [replace(reading("crown", np.array(lab)), **changes) for lab in (before, after)]
    return Readings("client 0", FIRST_DAY, *made)


# --- what may teach ---


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"verified": False}, "unverified"),
        ({"proposed": True}, "confirmed"),
        ({"verdict": verdict_from((Finding("glare", Severity.CARE, "Glare.", "Turn the card."),))}, "usable"),
    ],
)
def test_nothing_is_learned_from_a_reading_that_nothing_stands_behind(truth, changes, sentence):
    with pytest.raises(BadInputError, match=sentence) as refusal:
        outcome_of(readings(**changes), DONE, truth.shelf)
    assert "nothing is learned" in str(refusal.value)


@pytest.mark.parametrize(
    "done",
    [
        replace(DONE, minutes=0.0),
        replace(DONE, minutes=float("nan")),
        replace(DONE, minutes=90.0),
        replace(DONE, parts=()),
        replace(DONE, parts=(("Water, invented", 1.0),)),
        replace(DONE, parts=(("Nobody's shade", 1.0),)),
        replace(DONE, parts=(("Plum, invented", -1.0),)),
    ],
)
def test_a_mix_or_a_time_that_cannot_be_is_refused_in_a_sentence(truth, done):
    with pytest.raises(BadInputError):
        outcome_of(readings(), done, truth.shelf)


def test_a_strand_trial_may_rest_on_a_photograph_that_is_usable_with_care(truth):
    care = verdict_from((Finding("glare", Severity.CARE, "Glare.", "Turn the card."),))
    trial = replace(readings(verdict=care), trial=True)
    assert outcome_of(trial, DONE, truth.shelf).trial


# --- what is learned ---


@pytest.mark.slow
def test_one_outcome_of_one_shade_gives_the_posterior_that_a_grid_gives(truth):
    # Exact: prior N(0, s²) of the log dose times the likelihood of the reading, on a fine grid of the log dose.
    outcome = outcome_of(readings(), DONE, truth.shelf)
    zone = dosed_zone(outcome)
    variances = [prior(name).sd ** 2 for name in ("shade_strength", "client_uptake", "porosity_class")]
    total_sd = np.sqrt(sum(variances) + (prior("rate").sd * zone.log_time) ** 2)
    grid = np.linspace(-2, 2, 801)
    from_prior = prior("rate").mean * zone.log_time
    likelihood = []
    for departure in grid:
        away = np.array(outcome.after_lab_d65) - zone.result(np.array([from_prior + departure]))
        spread = zone.scatter(np.array([from_prior + departure]))
        likelihood.append(np.exp(-0.5 * away @ np.linalg.solve(spread, away)) / np.sqrt(np.linalg.det(spread)))
    posterior = np.array(likelihood) * np.exp(-0.5 * (grid / total_sd) ** 2)
    posterior /= posterior.sum()
    mean = float(posterior @ grid)
    sd = float(np.sqrt(posterior @ (grid - mean) ** 2))
    found = foretell(believe([outcome]), zone)
    found_sd = np.sqrt(found.dose_log_sd**2 - prior("application").sd ** 2)
    assert abs(mean) > 0.1  # the outcome does say something
    assert np.log(found.dose) == pytest.approx(mean, abs=0.05)
    assert found_sd == pytest.approx(sd, rel=0.15)


def test_before_any_outcome_the_prior_holds_and_is_what_plans_rest_on(truth):
    shade = truth.shelf.shades[0]
    middle, low, high = interval_of(NOTHING_LEARNED, ShadeStrength(shade.name, shade.lab_d65_on_white))
    assert (middle, low * high) == pytest.approx((1.0, 1.0))
    assert np.log(high) == pytest.approx(1.6449 * 0.25)  # the table's row, at nine in ten
    # Uptake alone, without the shades, is as wide as plans take it to be where nothing was learned.
    parts = [prior(name).sd ** 2 for name in ("client_uptake", "porosity_class", "application")]
    assert np.sqrt(sum(parts)) == pytest.approx(uptake_sd(), abs=0.01)


@pytest.mark.slow
def test_the_order_of_outcomes_changes_nothing(visit):
    one, other = believe(visit.outcomes), believe(reversed(visit.outcomes))
    assert other.unknowns == one.unknowns
    assert other.mean == pytest.approx(one.mean, abs=1e-6)
    assert other.covariance == pytest.approx(one.covariance, abs=1e-6)


@pytest.mark.slow
def test_an_outcome_tightens_what_it_touches_and_nothing_else(truth, visit):
    belief = believe(visit.outcomes)
    _, own_low, own_high = interval_of(belief, ClientUptake("client 0"))
    _, low, high = interval_of(NOTHING_LEARNED, ClientUptake("client 0"))
    assert own_high - own_low < high - low
    assert interval_of(belief, ClientUptake("somebody else")) == pytest.approx((1.0, low, high))


def test_the_same_dose_in_less_time_speaks_for_thirstier_hair(truth):
    outcome = outcome_of(readings(), DONE, truth.shelf)
    quick, slow = (
        interval_of(believe([with_other_minutes(outcome, minutes)]), ClientUptake("client 0"))[0] for minutes in (6, 20)
    )
    assert quick > slow


@pytest.mark.slow
def test_a_shade_whose_swatch_was_read_anew_is_another_shade(truth, visit):
    belief = believe(visit.outcomes)
    learned = learned_shelf(truth.shelf, belief)
    taught = {shade.name for outcome in visit.outcomes for shade in outcome.shades if not shade.clear}
    assert {shade.name for shade in learned.shades if shade.strength != 1.0} == taught
    lighter = [
        replace(s, lab_d65_on_white=(s.lab_d65_on_white[0] + 1, *s.lab_d65_on_white[1:])) for s in truth.shelf.shades
    ]
    anew = learned_shelf(replace(truth.shelf, shades=tuple(lighter)), belief)
    assert all(shade.strength == 1.0 for shade in anew.shades)


def test_uptake_for_a_plan_is_surer_after_outcomes_of_this_client(truth, visit):
    porosity = Porosity(visit.outcomes[0].porosity)
    before = uptake_of(NOTHING_LEARNED, "client 0", porosity, truth.shelf, UptakeBasis.RESULTS)
    after = uptake_of(believe(visit.outcomes), "client 0", porosity, truth.shelf, UptakeBasis.RESULTS)
    assert np.trace(after.by_shade.log_covariance) < np.trace(before.by_shade.log_covariance)
    assert (before.mean, before.rate) == (1.0, 0.5)


def test_a_result_of_another_bowl_than_was_written_down_is_a_surprise(truth, visit):
    # Violet written down, and gold on the hair: b* rises where it should fall.
    told = outcome_of(readings(after=(70.0, 3.0, 34.0)), DONE, truth.shelf)
    assert surprise(NOTHING_LEARNED, told) > SURPRISE
    assert all(surprise(NOTHING_LEARNED, outcome) < SURPRISE for outcome in visit.outcomes)


def test_a_row_without_a_source_does_not_load():
    with pytest.raises(ValueError, match="no source"):
        sourced_table("priors", '[[prior]]\nname = "x"\nsd = 1.0\n')


@pytest.mark.slow
def test_over_twenty_visits_the_error_falls_and_the_intervals_hold():
    # Hidden truth: shades a quarter off, clients 15 % apart. Two salons; the study tells the same of eight.
    learning = [twenty_visits(seed, True) for seed in (11, 12)]
    without = [twenty_visits(seed, False, False) for seed in (11, 12)]

    def rows(salons, first, last):
        return np.array([row for told in salons for visit in told[first:last] for row in visit])

    early, late, untaught = rows(learning, 0, 3), rows(learning, 10, 20), rows(without, 10, 20)
    assert late[:, 0].mean() < 0.85 * early[:, 0].mean()
    assert late[:, 0].mean() < 0.7 * untaught[:, 0].mean()
    assert 0.85 <= rows(learning, 0, 20)[:, 1:4].mean() <= 0.97
    assert late[:, 5].mean() < early[:, 5].mean()  # and the intervals are narrower


def test_a_plan_that_is_followed_is_told_zone_by_zone(visit):
    assert len(followed(visit)) == len(visit.true_after)
