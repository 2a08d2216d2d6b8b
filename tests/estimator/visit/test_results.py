"""Trying, mending and learning as verbs of a visit: what care has a say in, and what the plan becomes."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from estimator import visit
from estimator.care.facts import Facts, baseline_facts
from estimator.care.rules import judge
from estimator.feedback.first_aid import FirstAid, StepKind, Withheld
from estimator.feedback.journal import Journal
from estimator.feedback.outcome import Done
from estimator.toning.plan import HairFacts
from estimator.toning.shades import demo_shelf
from estimator.toning.targets import Target
from estimator.zones.inputs import load_zone_spec

SAMPLES = Path(__file__).parents[3] / "sample_images"
DAY = date(2026, 10, 5)
MIX = (("Violet pearl, demo", 2.0), ("Clear gloss, demo", 1.0))
WISHES = visit.Wishes((Target("crown", 8.5, "beige"),), {"crown": HairFacts()}, demo_shelf())


def consultation(**facts):
    return visit.Consultation(baseline_facts(**facts), DAY)


@pytest.fixture(scope="module")
def before():
    spec = load_zone_spec(SAMPLES / "strands_zones.json")
    return visit.read_photo((SAMPLES / "strands_before.jpg").read_bytes(), spec)


def reading_as(crown_lab, photo, **changes):
    """The photograph as if its crown read this colour, and well."""
    crown = photo.zone("crown")
    read = replace(
        crown.reading,
        lab_d65=np.array(crown_lab, dtype=float),
        covariance=np.diag([0.6, 0.3, 0.4]),
        shared_covariance=np.zeros((3, 3)),
        spread_lab=np.ones(3),
        profile=(),
        **changes,
    )
    return replace(photo, zones=(replace(crown, reading=read),))


def steps(rescue, kind):
    return [step for step in rescue.zones[0].steps if step.kind is kind]


# The target, beige at level 8.5, lies at L* 55: a crown of L* 44 is too dark.
TOO_DARK, TOO_WARM, GREEN = (44, 4, 12), (55, 9, 30), (54, -7, 14)


@pytest.mark.slow
def test_a_lightener_is_named_only_where_care_is_clear_and_the_hair_stretches_well(before):
    after = reading_as(TOO_DARK, before)
    free = visit.rescue(before, after, consultation(), WISHES, None)
    assert isinstance(steps(free, StepKind.LIGHTENER)[0], FirstAid)
    for facts in (
        {"elasticity": "reduced"},
        {"scalp_state": "broken"},
        {"relaxer_kind": "hydroxide", "touches_relaxed_hair": True},
        {"breakage": "snapping"},
        {"age_years": 14},
    ):
        (step,) = steps(visit.rescue(before, after, consultation(**facts), WISHES, None), StepKind.LIGHTENER)
        assert isinstance(step, Withheld), facts
        assert step.why


@pytest.mark.slow
def test_what_nobody_answered_withholds_the_lightener(before):
    after = reading_as(TOO_DARK, before)
    unknown = visit.Consultation(Facts(), DAY)
    (step,) = steps(visit.rescue(before, after, unknown, WISHES, None), StepKind.LIGHTENER)
    assert isinstance(step, Withheld)


@pytest.mark.slow
def test_a_second_bowl_is_planned_from_the_result_and_not_behind_a_stop(before):
    after = reading_as(TOO_WARM, before)
    free = visit.rescue(before, after, consultation(copper_exposure=False), WISHES, None)
    assert free.second.plan.zones[0].now_lab_d65 == pytest.approx(np.array(TOO_WARM, dtype=float))
    assert isinstance(steps(free, StepKind.BOWL)[0], FirstAid)
    stopped = consultation(scalp_state="broken")
    assert judge(stopped.facts.with_plan_figures(wants_toner=True, wants_oxidative_dye=True)).is_stop
    behind = visit.rescue(before, after, stopped, WISHES, None)
    assert behind.second is None
    assert isinstance(steps(behind, StepKind.BOWL)[0], Withheld)


def test_green_hair_that_may_hold_copper_gets_no_second_bowl(before):
    after = reading_as(GREEN, before)
    copper = visit.rescue(before, after, consultation(copper_exposure=True), WISHES, None)
    assert copper.second is None
    assert steps(copper, StepKind.ASK)
    from_dye = visit.rescue(before, after, consultation(copper_exposure=False), WISHES, None)
    assert from_dye.second is not None
    assert not steps(from_dye, StepKind.ASK)


def test_a_crown_on_its_target_needs_nothing(before):
    target = visit.plan(before, consultation(), WISHES).plan.zones[0].target_lab_d65
    rescue = visit.rescue(before, reading_as(target, before), consultation(), WISHES, None)
    assert rescue.missed == ()
    assert rescue.zones[0].steps == ()


@pytest.mark.slow
def test_causes_are_told_only_where_a_bowl_was_planned(before):
    after, planned = reading_as(TOO_WARM, before), visit.plan(before, consultation(), WISHES).plan
    assert visit.rescue(before, after, consultation(), WISHES, None).zones[0].causes == ()
    told = visit.rescue(before, after, consultation(), WISHES, planned).zones[0].causes
    assert sum(cause.odds for cause in told) == pytest.approx(1)


@pytest.mark.slow
def test_a_trial_changes_the_minutes_and_never_the_bowls_that_are_mixed(before):
    pair = reading_as((62, 6, 26), before), reading_as((57, 6, 19), before)
    strand = visit.TriedStrand(pair[0].zones[0].reading, pair[1].zones[0].reading, Done(MIX, 10.0))
    trial = visit.try_strands((strand,), "Marigold", DAY, demo_shelf(), Journal())
    plans = visit.plan_after_trial(pair[0], consultation(), WISHES, trial)
    assert plans.same_bowls.bowls == plans.before.plan.bowls
    assert plans.same_bowls.zones[0].rests_on == "a strand trial of this client"
    assert plans.before.plan.zones[0].rests_on == "common practice"


def test_nothing_rests_on_a_trial_that_its_mix_can_not_have_made(before):
    pair = reading_as((62, 6, 26), before), reading_as((60, 4, 48), before)
    strand = visit.TriedStrand(pair[0].zones[0].reading, pair[1].zones[0].reading, Done(MIX, 10.0))
    trial = visit.try_strands((strand,), "Marigold", DAY, demo_shelf(), Journal())
    plans = visit.plan_after_trial(pair[0], consultation(), WISHES, trial)
    assert trial.surprising
    assert (plans.same_bowls, plans.anew) == (None, None)


def test_a_lesson_says_which_zones_teach_and_why_the_others_do_not(before):
    pair = reading_as((62, 6, 26), before), reading_as((57, 6, 19), before)
    done = {"crown": Done(MIX, 10.0), "nape": Done(MIX, 10.0)}
    client = visit.Client("Marigold", DAY)
    lesson = visit.lesson_of(pair, client, done, demo_shelf(), Journal())
    assert [outcome.zone for outcome in lesson.outcomes] == ["crown"]
    assert lesson.refused == (
        visit.NotLearned("nape", "nape was not read in the photograph before. Outline it there."),
    )
    unverified = pair[0], reading_as((57, 6, 19), before, verified=False)
    refused = visit.lesson_of(unverified, client, {"crown": Done(MIX, 10.0)}, demo_shelf(), Journal())
    assert refused.outcomes == ()
    assert "unverified" in refused.refused[0].why


def test_an_empty_journal_leaves_a_plan_as_it_is():
    assert visit.with_outcomes(WISHES, "Marigold", Journal()) is WISHES


def test_a_plan_with_a_journal_says_that_it_rests_on_results(before):
    pair = reading_as((62, 6, 26), before), reading_as((57, 6, 19), before)
    lesson = visit.lesson_of(pair, visit.Client("Marigold", DAY), {"crown": Done(MIX, 10.0)}, demo_shelf(), Journal())
    taught = visit.with_outcomes(WISHES, "Marigold", Journal().with_outcomes(lesson.outcomes))
    assert visit.plan(before, consultation(), taught).plan.zones[0].rests_on == "earlier results"
