"""A strand trial before the head is done: what it tells of the client, and the plan made anew with it."""

from dataclasses import dataclass, replace
from datetime import date

from estimator.feedback.applying import learned_shelf, uptake_of
from estimator.feedback.journal import Journal
from estimator.feedback.learning import Belief, believe
from estimator.feedback.outcome import Done, Outcome, Readings, outcome_of
from estimator.feedback.same_bowl import same_bowls
from estimator.feedback.strand_trial import StrandTrial, judge_trial
from estimator.reading.zone_reading import ZoneReading
from estimator.toning.plan import HairFacts, Plan
from estimator.toning.shades import Shelf
from estimator.toning.uptake import UptakeBasis
from estimator.visit.consulting import Consultation
from estimator.visit.planning import CheckedPlan, Wishes, plan, requests_of
from estimator.visit.reading import PhotoReading

NEW_BOWL_GAINS = 1.0  # [ΔE2000] over all zones; below it nobody mixes another bowl. Our assumption.


@dataclass(frozen=True, eq=False)
class TriedStrand:
    """One test strand: its two readings, and what was done to it."""

    before: ZoneReading
    after: ZoneReading
    done: Done


@dataclass(frozen=True, eq=False)
class TrialPlans:
    """The plan before a strand trial, the same bowls after it, and the plan that would be made now.

    same_bowls, anew : None where care stops everything, or where the trial was a surprise that nothing may rest on.
    """

    trial: StrandTrial
    before: CheckedPlan
    same_bowls: Plan | None
    anew: CheckedPlan | None

    @property
    def new_bowl_gains(self) -> float:
        """How much nearer the new plan comes, over all zones. [ΔE2000]; 0 where there is none."""
        if self.same_bowls is None or self.anew is None or self.anew.plan is None:
            return 0.0
        return _away(self.same_bowls) - _away(self.anew.plan)


def with_outcomes(wishes: Wishes, client: str, journal: Journal) -> Wishes:
    """The wishes with what earlier outcomes tell of shades and of this client; as they are for an empty journal."""
    if not journal.outcomes:
        return wishes
    return _with_belief(wishes, client, believe(journal.outcomes), UptakeBasis.RESULTS)


def _with_belief(wishes: Wishes, client: str, belief: Belief, basis: UptakeBasis) -> Wishes:
    zones = {target.zone: wishes.hair.get(target.zone, HairFacts()).porosity for target in wishes.targets}
    uptake = {zone: uptake_of(belief, client, porosity, wishes.shelf, basis) for zone, porosity in zones.items()}
    return replace(wishes, shelf=learned_shelf(wishes.shelf, belief), uptake=uptake)


def try_strands(
    strands: tuple[TriedStrand, ...], client: str, day: date, shelf: Shelf, journal: Journal
) -> StrandTrial:
    """What these strands tell of the client, beside the outcomes of the journal.

    Raises BadInputError where a reading is unverified or unusable, or a mix or its minutes can't be.
    """
    return judge_trial(tuple(_outcome(strand, client, day, shelf) for strand in strands), journal.outcomes)


def _outcome(strand: TriedStrand, client: str, day: date, shelf: Shelf) -> Outcome:
    return outcome_of(Readings(client, day, strand.before, strand.after, trial=True), strand.done, shelf)


def plan_after_trial(
    reading: PhotoReading, consultation: Consultation, wishes: Wishes, trial: StrandTrial
) -> TrialPlans:
    """The plan before the trial and after it. Raises as `visit.plan`."""
    before = plan(reading, consultation, wishes)
    if before.plan is None or trial.surprising:
        return TrialPlans(trial, before, None, None)
    known = _with_belief(wishes, trial.client, trial.belief, UptakeBasis.STRAND_TRIAL)
    planned = {zone.zone for zone in before.plan.zones}
    requests = tuple(request for request in requests_of(reading, known) if request.zone in planned)
    same = same_bowls(before.plan, requests, known.shelf)
    return TrialPlans(trial, before, same, plan(reading, consultation, known))


def _away(planned: Plan) -> float:
    return sum(zone.expected_delta_e_2000 for zone in planned.zones)
