"""Planning the toner: care first, then the bowls, then care once more with the plan's own figures."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from estimator.care.facts import Facts
from estimator.care.verdicts import CareVerdict, CareWord
from estimator.errors import BadInputError
from estimator.toning.bowls import plan_bowls
from estimator.toning.plan import HairFacts, Plan, PlanSettings, ZoneRequest
from estimator.toning.shades import ShadeKind, Shelf
from estimator.toning.targets import Target
from estimator.visit.consulting import Consultation, check, where_it_lies
from estimator.visit.reading import PhotoReading


@dataclass(frozen=True)
class CheckedPlan:
    """A plan between two judgements: care before it, and care once more with its own figures.

    plan : None where care says stop; then nothing was planned.
    """

    care_before: CareVerdict
    plan: Plan | None
    care: CareVerdict


@dataclass(frozen=True)
class Wishes:
    """What the colourist wants: targets by zone, what the hair of each is like, and the shelf to choose from."""

    targets: tuple[Target, ...]
    hair: Mapping[str, HairFacts]
    shelf: Shelf
    settings: PlanSettings = field(default_factory=PlanSettings)


def plan(reading: PhotoReading, consultation: Consultation, wishes: Wishes) -> CheckedPlan:
    """The bowls for one photograph's zones, unless care says stop.

    Raises
    ------
    BadInputError : A target names a zone that was not read, or there is no target.
    EmptyShelfError : No shade may serve.
    """
    care_before = check(consultation)
    if care_before.verdict is CareWord.STOP:
        return CheckedPlan(care_before, None, care_before)
    planned = plan_bowls(_requests(reading, wishes), wishes.shelf, wishes.settings)
    care = consultation.judged_with(_with_figures_of(planned, consultation.facts))
    return CheckedPlan(care_before, None if care.verdict is CareWord.STOP else planned, care)


def _requests(reading: PhotoReading, wishes: Wishes) -> tuple[ZoneRequest, ...]:
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
        )
        for target in wishes.targets
    )


def _with_figures_of(planned: Plan, facts: Facts) -> Facts:
    kinds = {bowl.kind for bowl in planned.bowls}
    direct = {ShadeKind.SEMI_PERMANENT} & kinds
    return where_it_lies(facts).with_plan_figures(
        wants_oxidative_dye=bool(kinds - direct),
        wants_toner=True,
        wants_direct_dye=bool(direct),
        dye_volume=max((bowl.developer.volume for bowl in planned.bowls), default=0.0),
        minutes_planned=max((zone.minutes_high for zone in planned.zones), default=0.0),
    )
