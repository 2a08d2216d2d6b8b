"""A strand trial before the head is done: what it tells of the client, and the plan made anew with it."""

from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from calibration.findings import verdict_from
from estimator.errors import BadInputError
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
from estimator.visit.planning import CheckedPlan, Wishes, judged_again, plan, requests_of
from estimator.visit.reading import PhotoReading

NEW_BOWL_GAINS = 1.0  # [ΔE2000] over all zones; below it nobody mixes another bowl. Our assumption.
MOST_CHROMA = 80.0  # as the shelf's columns allow: dyed hair reads no more
INSTRUMENT_SD = 1.0  # [CIELAB, each axis] a strand is narrower than most instruments see. Our assumption, wide.


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
    kept_bowls : The same bowls as care judges them with their new minutes.
    known : The wishes that the plan to follow rests on; None where nothing may rest on the trial.
    """

    trial: StrandTrial
    before: CheckedPlan
    same_bowls: Plan | None
    anew: CheckedPlan | None
    kept_bowls: CheckedPlan | None = None
    known: Wishes | None = None

    @property
    def new_bowl_gains(self) -> float:
        """How much nearer the new plan comes, over all zones. [ΔE2000]; 0 where there is none."""
        if self.same_bowls is None or self.anew is None or self.anew.plan is None:
            return 0.0
        return _away(self.same_bowls) - _away(self.anew.plan)

    @property
    def new_bowl_is_worth_mixing(self) -> bool:
        """Whether a new bowl comes clearly nearer than the ones that were planned."""
        return self.new_bowl_gains >= NEW_BOWL_GAINS

    @property
    def to_follow(self) -> CheckedPlan:
        """The plan to go by: a new bowl where it is worth mixing, else the same bowls at their new minutes.

        Without a trial to rest on it is the plan before; where care stops the new minutes, the plan made anew.
        """
        if self.anew is None or self.kept_bowls is None:
            return self.before
        stopped = self.kept_bowls.plan is None
        return self.anew if stopped or self.new_bowl_is_worth_mixing else self.kept_bowls


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
    anew = plan(reading, consultation, known)
    return TrialPlans(trial, before, same, anew, judged_again(before, same, consultation), known)


def strand_by_instrument(before: ZoneReading, lab_d65: tuple[float, float, float]) -> ZoneReading:
    """The strand after, as an instrument measured it: CIELAB, D65, 2°, of the zone that was read before.

    Raises BadInputError where no hair has such a colour.
    """
    lightness, *chroma = lab_d65
    if not (np.all(np.isfinite(lab_d65)) and 0 <= lightness <= 100 and max(map(abs, chroma)) <= MOST_CHROMA):
        raise BadInputError(
            f"No hair measures L* {lightness:g}, a* {chroma[0]:g}, b* {chroma[1]:g}. L* lies from 0 to 100, a* and b* "
            f"from -{MOST_CHROMA:g} to {MOST_CHROMA:g}."
        )
    return replace(
        before,
        lab_d65=np.array(lab_d65, dtype=np.float64),
        covariance=np.eye(3) * INSTRUMENT_SD**2,
        shared_covariance=np.zeros((3, 3)),
        spread_lab=np.zeros(3),
        profile=(),
        pixels=0,
        verified=True,
        proposed=False,
        verdict=verdict_from(()),
        findings=(),
        basis=("Measured by an instrument.",),
        parts=(),
        evidence=(),
    )


def _away(planned: Plan) -> float:
    return sum(zone.expected_delta_e_2000 for zone in planned.zones)
