"""What stands between a zone and a target that needs lift: how many visits, by the rules of the lift."""

from dataclasses import replace

from estimator.lifting.lift_rules import kinds_of_hair, visits_for
from estimator.toning.plan import Plan, Reason, StrandDiameter, ZonePlan, ZoneRequest
from estimator.toning.reach import levels_to_lift
from estimator.visit.consulting import Consultation


def with_visits(plan: Plan, requests: tuple[ZoneRequest, ...], consultation: Consultation) -> Plan:
    """The plan, where each reason that asks for lift also says how many visits that takes."""
    by_zone = {request.zone: request for request in requests}
    return replace(plan, zones=tuple(_told(zone, by_zone[zone.zone], consultation) for zone in plan.zones))


def _told(zone: ZonePlan, request: ZoneRequest, consultation: Consultation) -> ZonePlan:
    levels = levels_to_lift(request)
    if not levels:
        return zone
    facts = consultation.zoned.of(request.zone)
    visits = visits_for(levels, kinds_of_hair(StrandDiameter(request.hair.strand_diameter), facts), facts)
    if visits is None:
        how = "The rules of the lift know no way so far up."
    else:
        count = str(visits.fewest) if visits.fewest == visits.most else f"{visits.fewest} to {visits.most}"
        how = f"By the rules of the lift that takes {count} {'visit' if count == '1' else 'visits'}."
    reasons = tuple(_with(reason, how) if reason.code == "needs_lift" else reason for reason in zone.out_of_reach)
    return replace(zone, out_of_reach=reasons)


def _with(reason: Reason, how: str) -> Reason:
    return replace(reason, message=f"{reason.message} {how}")
