"""Planning the toner: care first, then the bowls, then care once more with the plan's own figures."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from estimator.care.facts import Facts
from estimator.care.judging_zones import ZonedVerdict
from estimator.care.verdicts import CareVerdict
from estimator.errors import BadInputError
from estimator.reports.wording import planned_part_text
from estimator.toning.bowls import plan_bowls
from estimator.toning.plan import HairFacts, Plan, PlanSettings, ZoneRequest
from estimator.toning.recipes import Progress
from estimator.toning.shades import ShadeKind, Shelf
from estimator.toning.targets import Target
from estimator.toning.uptake import Uptake
from estimator.visit.consulting import Consultation, check, to_deposit
from estimator.visit.out_of_reach import with_visits
from estimator.visit.reading import PhotoReading


@dataclass(frozen=True)
class CheckedPlan:
    """A plan between two judgements: care before it, and care once more with its own figures.

    plan : None where care stops everything; zones that a stop of their own withholds are not in it.
    withheld : Those zones.
    """

    care_before: CareVerdict
    plan: Plan | None
    care: CareVerdict
    withheld: tuple[str, ...] = ()


@dataclass(frozen=True)
class Wishes:
    """What the colourist wants: targets by zone, what the hair of each is like, and the shelf to choose from.

    uptake : By zone, what a strand trial or earlier results tell of its hair; common practice where it is not named.
    """

    targets: tuple[Target, ...]
    hair: Mapping[str, HairFacts]
    shelf: Shelf
    settings: PlanSettings = field(default_factory=PlanSettings)
    uptake: Mapping[str, Uptake] = field(default_factory=dict)


def plan(
    reading: PhotoReading, consultation: Consultation, wishes: Wishes, progress: Progress | None = None
) -> CheckedPlan:
    """The bowls for one photograph's zones; a stop of one zone withholds that zone, a stop of the person everything.

    progress : Told the share done, 0-1, while recipes are compared; whatever it raises stops the plan.
    Raises
    ------
    BadInputError : A target names a zone that was not read, or there is no target.
    EmptyShelfError : No shade may serve.
    """
    first = check(consultation)
    if first.stops_everything:
        return CheckedPlan(first, None, first, tuple(target.zone for target in wishes.targets))
    checked = plan_requests(requests_of(reading, wishes), consultation, wishes, progress)
    if checked.plan is None:
        return checked
    notes = (*_for_which_part(reading, checked.plan), *checked.plan.notes)
    return replace(checked, plan=replace(checked.plan, notes=notes))


def _for_which_part(reading: PhotoReading, planned: Plan) -> tuple[str, ...]:
    """For which of its two colours each zone is planned: never for their mean."""
    names = {zone.zone for zone in planned.zones}
    two = (zone for zone in reading.zones if zone.parts and zone.name in names)
    return tuple(planned_part_text(zone.name, zone.parts[0].part) for zone in two)


def plan_requests(
    requests: tuple[ZoneRequest, ...], consultation: Consultation, wishes: Wishes, progress: Progress | None = None
) -> CheckedPlan:
    """The bowls for zones that were read elsewhere, as `plan`; of the wishes only shelf and settings count."""
    first = check(consultation)
    if first.stops_everything:
        return CheckedPlan(first, None, first, tuple(request.zone for request in requests))
    facts = {request.zone: to_deposit(consultation.zoned.of(request.zone)) for request in requests}
    before = care = consultation.judged_by_zone(facts)
    allowed, planned = _allowed(requests, before), None
    # A zone that its own figures stop is taken out, and what is left is planned anew: every round takes one at least.
    while allowed:
        planned = plan_bowls(allowed, wishes.shelf, wishes.settings, progress)
        planned = with_visits(planned, allowed, consultation)
        facts |= {zone.zone: _with_figures_of(planned, facts[zone.zone]) for zone in planned.zones}
        care = consultation.judged_by_zone(facts)
        still = _allowed(allowed, care)
        if len(still) == len(allowed):
            break
        allowed = still
    withheld = tuple(request.zone for request in requests if request not in allowed)
    return CheckedPlan(before.whole, planned if allowed else None, care.whole, withheld)


def _allowed(requests: tuple[ZoneRequest, ...], care: ZonedVerdict) -> tuple[ZoneRequest, ...]:
    return tuple(request for request in requests if not care.of(request.zone).is_stop)


def judged_again(before: CheckedPlan, planned: Plan, consultation: Consultation) -> CheckedPlan:
    """The same zones under another plan, as care judges its figures; without a plan where it stops one of them."""
    named = [*(zone.zone for zone in planned.zones), *before.withheld]
    facts = {zone: to_deposit(consultation.zoned.of(zone)) for zone in named}
    facts |= {zone.zone: _with_figures_of(planned, facts[zone.zone]) for zone in planned.zones}
    care = consultation.judged_by_zone(facts)
    stopped = any(care.of(zone.zone).is_stop for zone in planned.zones)
    return CheckedPlan(before.care_before, None if stopped else planned, care.whole, before.withheld)


def requests_of(reading: PhotoReading, wishes: Wishes) -> tuple[ZoneRequest, ...]:
    """One request for each target. Raises BadInputError for a target of a zone that was not read."""
    read = {zone.name: zone for zone in reading.zones}
    missing = [target.zone for target in wishes.targets if target.zone not in read]
    if missing:
        names = ", ".join(missing)
        raise BadInputError(f"There is a target for {names}, which was not read. Outline it, or take the target away.")
    return tuple(
        ZoneRequest(
            target.zone,
            read[target.zone].reading.lab_d65,
            read[target.zone].reading.covariance,
            read[target.zone].level,
            read[target.zone].warmth,
            target,
            wishes.hair.get(target.zone, HairFacts()),
            wishes.uptake.get(target.zone),
        )
        for target in wishes.targets
    )


def _with_figures_of(planned: Plan, facts: Facts) -> Facts:
    kinds = {bowl.kind for bowl in planned.bowls}
    direct = {ShadeKind.SEMI_PERMANENT} & kinds
    return facts.with_plan_figures(
        wants_oxidative_dye=bool(kinds - direct),
        wants_toner=True,
        wants_direct_dye=bool(direct),
        dye_volume=max((bowl.developer.volume for bowl in planned.bowls), default=0.0),
        minutes_planned=max((zone.minutes_high for zone in planned.zones), default=0.0),
    )
