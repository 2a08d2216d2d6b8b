"""Which plan a strand trial leads to, and a strand that an instrument measured."""

from dataclasses import replace

import numpy as np
import pytest

from estimator import visit
from estimator.care.facts import baseline_facts
from estimator.errors import BadInputError
from estimator.feedback.journal import Journal
from estimator.feedback.outcome import Done
from estimator.toning.shades import demo_shelf
from tests.estimator.visit.test_results import DAY, MIX, TOO_WARM, WISHES, before, consultation, reading_as

__all__ = ["before"]  # the fixture


def trial_of(photo, measured, minutes=10.0):
    strand = visit.TriedStrand(
        photo.zones[0].reading, visit.strand_by_instrument(photo.zones[0].reading, measured), Done(MIX, minutes)
    )
    return visit.try_strands((strand,), "Marigold", DAY, demo_shelf(), Journal())


def test_a_measured_strand_is_verified_and_brings_an_interval_of_its_own(before):
    photo = reading_as((62, 6, 26), before, verified=True)
    read = visit.strand_by_instrument(photo.zones[0].reading, (57.0, 6.0, 19.0))
    assert read.verified
    assert read.lab_d65.tolist() == [57.0, 6.0, 19.0]
    assert (read.lab_sd >= 1.0).all()  # wider than any instrument errs, on purpose: our assumption
    assert not read.shared_covariance.any()


@pytest.mark.parametrize("lab", [(-1, 0, 0), (101, 0, 0), (50, 90, 0), (50, 0, -90), (np.nan, 0, 0), (50, np.inf, 0)])
def test_a_colour_that_no_hair_has_is_refused_in_a_sentence(before, lab):
    photo = reading_as((62, 6, 26), before)
    with pytest.raises(BadInputError, match="L\\* lies from 0 to 100"):
        visit.strand_by_instrument(photo.zones[0].reading, lab)


@pytest.mark.slow
def test_the_plan_to_follow_keeps_its_bowls_where_a_new_one_is_not_worth_mixing(before):
    photo = reading_as((62, 6, 26), before)
    plans = visit.plan_after_trial(photo, consultation(), WISHES, trial_of(photo, (57.0, 6.0, 19.0)))
    assert plans.kept_bowls.plan.bowls == plans.before.plan.bowls
    kept = replace(plans, anew=replace(plans.anew, plan=plans.same_bowls))  # as near as the bowls that are mixed
    assert kept.to_follow is plans.kept_bowls
    assert kept.to_follow.plan.zones[0].rests_on == "a strand trial of this client"


def test_without_a_trial_to_rest_on_the_plan_before_it_is_followed(before):
    photo = reading_as((62, 6, 26), before)
    plans = visit.plan_after_trial(photo, consultation(), WISHES, trial_of(photo, (60.0, 4.0, 70.0)))
    assert plans.trial.surprising
    assert plans.to_follow is plans.before
    assert plans.known is None


@pytest.mark.slow
def test_a_second_bowl_takes_the_uptake_that_the_plan_to_follow_rests_on(before):
    photo, missed = reading_as((62, 6, 26), before), reading_as(TOO_WARM, before)
    plans = visit.plan_after_trial(photo, consultation(), WISHES, trial_of(photo, (57.0, 6.0, 19.0)))
    said = consultation(copper_exposure=False)
    second = visit.rescue(photo, missed, said, plans.known, plans.to_follow.plan).second.plan
    assert [zone.rests_on for zone in second.zones] == ["a strand trial of this client"]


def test_a_stop_of_care_leaves_no_plan_to_follow(before):
    photo = reading_as((62, 6, 26), before)
    stopped = visit.Consultation(baseline_facts(elasticity="gummy"), DAY)
    plans = visit.plan_after_trial(photo, stopped, WISHES, trial_of(photo, (57.0, 6.0, 19.0)))
    assert plans.to_follow.plan is None
