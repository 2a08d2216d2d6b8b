"""A result that missed: what happened in each zone, first aid in order, and a second bowl where care allows one."""

from dataclasses import dataclass, replace

from calibration.colourspaces import FloatArray
from estimator.care.facts import Facts
from estimator.care.unknown import UNKNOWN
from estimator.care.verdicts import CareVerdict, CareWord
from estimator.errors import BadInputError, EmptyShelfError
from estimator.feedback.first_aid import (
    Allowed,
    FirstAid,
    WashOut,
    Withheld,
    first_aid_steps,
    wants_second_bowl,
    wash_out,
)
from estimator.feedback.happened import Cause, LightTaken, causes, light_taken
from estimator.feedback.same_bowl import mix_of
from estimator.feedback.signs import Miss, look_at_result
from estimator.toning.bowls import zone_work
from estimator.toning.plan import Plan, ZonePlan, ZoneRequest
from estimator.toning.shades import Family, Shelf
from estimator.toning.writing_out import Mix
from estimator.visit.consulting import Consultation, to_deposit, where_it_lies
from estimator.visit.planning import CheckedPlan, Wishes, plan, requests_of
from estimator.visit.reading import PhotoReading

# The weak lightening wash of the table: the strongest developer it names, and its minutes. Common practice.
WASH_VOLUME, WASH_MINUTES = 10.0, 5.0


@dataclass(frozen=True, eq=False)
class ZoneRescue:
    """One zone: how it missed, which light it takes too much of, why, what to do, and how far washing alone would go.

    causes : Empty where no bowl was planned for it. washing : None where washing brings it no nearer.
    """

    zone: str
    miss: Miss
    light: tuple[LightTaken, ...]
    causes: tuple[Cause, ...]
    steps: tuple[FirstAid | Withheld, ...]
    washing: WashOut | None


@dataclass(frozen=True, eq=False)
class Rescue:
    """All zones with a target, and the plan of a second mix; None where no zone wants one or nothing could be mixed."""

    zones: tuple[ZoneRescue, ...]
    second: CheckedPlan | None

    @property
    def missed(self) -> tuple[ZoneRescue, ...]:
        """Zones with something to mend."""
        return tuple(zone for zone in self.zones if not zone.miss.reached)


def rescue(
    before: PhotoReading, after: PhotoReading, consultation: Consultation, wishes: Wishes, planned: Plan | None
) -> Rescue:
    """What became of each zone with a target, and first aid.

    planned : The plan that was followed; without it no cause is told.
    Raises BadInputError where the photograph after must be taken again, or shows no zone with a target.
    """
    if after.refused:
        raise BadInputError("The photograph after has to be taken again before anything is judged by it.")
    here = {zone.name for zone in after.zones} & {zone.name for zone in before.zones}
    targets = tuple(target for target in wishes.targets if target.zone in here)
    if not targets:
        raise BadInputError("No zone with a target is read in both photographs. Outline the same zones in both.")
    shown = replace(wishes, targets=targets)
    requests = {request.zone: request for request in requests_of(before, shown)}
    misses = {
        zone: look_at_result(after.zone(zone).reading, zone_work(request).region) for zone, request in requests.items()
    }
    second = _second_bowl(after, consultation, shown, misses)
    zones = tuple(
        _zone(request, misses[zone], before, after, _Known(consultation, wishes, planned, second))
        for zone, request in requests.items()
    )
    return Rescue(zones, second if second is not None and second.plan is not None else None)


@dataclass(frozen=True, eq=False)
class _Known:
    """What all zones of a rescue share."""

    consultation: Consultation
    wishes: Wishes
    planned: Plan | None
    second: CheckedPlan | None

    def plan_of(self, zone: str) -> ZonePlan | None:
        zones = self.planned.zones if self.planned else ()
        return next((found for found in zones if found.zone == zone and found.bowl_number is not None), None)


def _zone(request: ZoneRequest, miss: Miss, before: PhotoReading, after: PhotoReading, known: _Known) -> ZoneRescue:
    zone = request.zone
    read, read_before = after.zone(zone).reading, before.zone(zone).reading
    wanted = zone_work(request).region.centre_lab_d65
    mix, dye = _meant(request, known)
    families = _families(tuple(mix.of_shade), known.wishes.shelf) if mix else ()
    washing = None
    if not miss.reached:
        washing = wash_out(read_before.lab_d65, read.lab_d65, wanted, families, request.hair.porosity)
    why = causes(read_before, read, dye) if dye is not None else ()
    steps = first_aid_steps(miss, _allowed(zone, known.consultation, known.second))
    return ZoneRescue(zone, miss, light_taken(read, wanted), why, steps, washing)


def _meant(request: ZoneRequest, known: _Known) -> tuple[Mix | None, FloatArray | None]:
    """The mix that was planned for a zone, and the K/S that it was meant to add; None without a bowl."""
    done = known.plan_of(request.zone)
    if known.planned is None or done is None or done.bowl_number is None:
        return None, None
    mix = mix_of(known.planned.bowl(done.bowl_number), known.wishes.shelf)
    uptake = request.uptake.mean if request.uptake else 1.0
    return mix, uptake * done.deposit_strength * mix.added


def _families(names: tuple[str, ...], shelf: Shelf) -> tuple[Family, ...]:
    return tuple(shelf.shade(name).family for name in names)


# --- what care allows ---


def _second_bowl(
    after: PhotoReading, consultation: Consultation, wishes: Wishes, misses: dict[str, Miss]
) -> CheckedPlan | None:
    """A plan from the result to the same targets, for zones whose first aid asks for a whole second mix."""
    wanting = tuple(
        target
        for target in wishes.targets
        if wants_second_bowl(misses[target.zone], _copper(consultation.zoned.of(target.zone)))
    )
    if not wanting:
        return None
    try:
        return plan(after, consultation, replace(wishes, targets=wanting))
    except EmptyShelfError:
        return None


def _allowed(zone: str, consultation: Consultation, second: CheckedPlan | None) -> Allowed:
    facts = consultation.zoned.of(zone)
    return Allowed(_why_no_bowl(zone, consultation, second), _why_no_lightener(consultation, facts), _copper(facts))


def _copper(facts: Facts) -> bool:
    """Copper may be in the hair: said to be, or not known."""
    return facts.copper_exposure is not False


def _why_no_bowl(zone: str, consultation: Consultation, second: CheckedPlan | None) -> str:
    verdict = consultation.judged_with(to_deposit(consultation.zoned.of(zone)))
    if verdict.is_stop:
        return _first_of(verdict, CareWord.STOP)
    if second is not None and zone in second.withheld:
        return _first_of(second.care, CareWord.STOP)
    return ""


def _why_no_lightener(consultation: Consultation, facts: Facts) -> str:
    """Why there is no lightener; "" only where care is clear or cautious and the hair is known to stretch well."""
    planned = where_it_lies(facts).with_plan_figures(
        wants_lightener=True,
        lightener_volume=WASH_VOLUME,
        lightening_passes_today=1,
        minutes_planned=WASH_MINUTES,
        wants_oxidative_dye=False,
    )
    verdict = consultation.judged_with(planned)
    for word in (CareWord.STOP, CareWord.TEST_FIRST):
        if verdict.findings_of(word):
            return _first_of(verdict, word)
    if facts.elasticity is UNKNOWN or facts.elasticity != "good":
        return "The wet hair is not known to stretch and return well. Test a wet hair first."
    return ""


def _first_of(verdict: CareVerdict, word: CareWord) -> str:
    finding = verdict.findings_of(word)[0]
    return f"{finding.message} {finding.remedy}"
