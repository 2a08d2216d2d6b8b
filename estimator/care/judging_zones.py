"""The judge for heads whose zones differ: rules about hair look at each zone, rules about the person at all of it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, cast

from estimator.care.answers import Answer
from estimator.care.expressions import Kind
from estimator.care.facts import Facts, PlanFigures
from estimator.care.questions import FACT_TABLE
from estimator.care.rules import (
    About,
    Rule,
    answered,
    judge,
    judge_with_answers,
    load_rules,
    planned_volume,
    refuse_answers,
)
from estimator.care.unknown import UNKNOWN
from estimator.care.verdicts import CareFinding, CareVerdict, verdict_from
from estimator.care.zoned_facts import ZonedFacts


@dataclass(frozen=True)
class ZonedVerdict:
    """What care says of a plan.

    whole : Every finding, each with the zone that it speaks of, the worst first.
    of_zone : What counts for each zone: its own findings and those of the whole person.
    """

    whole: CareVerdict
    of_zone: Mapping[str, CareVerdict]

    def of(self, zone: str) -> CareVerdict:
        """What counts for this zone; for one that was not judged, what is said of the whole head."""
        alone = [finding for finding in self.whole.findings if not finding.zone]
        return self.of_zone.get(zone, verdict_from(alone))


def judge_zones(
    zoned: ZonedFacts, planned: Mapping[str, Facts], answers: tuple[Answer, ...], today: date
) -> ZonedVerdict:
    """The verdict on each zone of a plan, and on the whole head.

    planned : zone -> its facts with the figures that the plan has for it; facts are those of `zoned.of(zone)`.
    A finding that every zone shares is told once, of the head. An answer covers the zone that it names, or the head.
    Raises BadInputError for an answer that opens nothing, and for a day still to come.
    """
    one = next(iter(planned.values()), None)
    if one is not None and not zoned.own and all(facts == one for facts in planned.values()):
        alike = judge_with_answers(one, answers, today)
        return ZonedVerdict(alike, dict.fromkeys(planned, alike))
    refuse_answers(answers, today)
    by_about = {about: tuple(rule for rule in load_rules() if rule.about is about) for about in About}
    head = _of_person(zoned, planned, by_about[About.HEAD])
    shared, alone = _of_hair(zoned, planned, by_about[About.ZONE])
    asked = {name for finding in head for name in finding.missing}
    shared = [finding for finding in shared if not finding.missing or set(finding.missing) - asked]
    strongest = _strongest(planned)
    common = [answered(finding, answers, strongest, today) for finding in (*head, *shared)]
    own = {
        zone: [answered(finding, answers, planned_volume(planned[zone]), today) for finding in alone[zone]]
        for zone in planned
    }
    whole = verdict_from([*common, *(finding for found in own.values() for finding in found)])
    return ZonedVerdict(whole, {zone: verdict_from([*common, *found]) for zone, found in own.items()})


def _of_person(zoned: ZonedFacts, planned: Mapping[str, Facts], rules: tuple[Rule, ...]) -> list[CareFinding]:
    """Findings on the whole person: the strictest figures of the plan, looked at with every zone's facts."""
    figures = _strictest(tuple(planned.values()))
    found: dict[tuple[object, ...], CareFinding] = {}
    for facts in (*planned.values(), *(facts.with_plan_figures(**figures) for facts in zoned.every)):
        for finding in judge(facts, rules).findings:
            found.setdefault((finding.code, finding.message, finding.missing), finding)
    return list(found.values())


def _of_hair(
    zoned: ZonedFacts, planned: Mapping[str, Facts], rules: tuple[Rule, ...]
) -> tuple[list[CareFinding], dict[str, list[CareFinding]]]:
    """Findings that all zones share, and those that are each zone's own."""
    found = {zone: list(judge(facts, rules).findings) for zone, facts in planned.items()}
    in_all = [finding for finding in next(iter(found.values()), []) if all(finding in own for own in found.values())]
    lone_and_different = len(found) == 1 and zoned.differs(next(iter(found)))
    shared = [] if lone_and_different else in_all
    alone = {
        zone: [replace(finding, zone=zone) for finding in own if finding not in shared] for zone, own in found.items()
    }
    return shared, alone


def _strongest(planned: Mapping[str, Facts]) -> float | None:
    volumes = [planned_volume(facts) for facts in planned.values()]
    known = [volume for volume in volumes if volume is not None]
    return max(known, default=0.0) if len(known) == len(volumes) else None


def _strictest(planned: tuple[Facts, ...]) -> PlanFigures:
    """The figures of a plan at their strictest over its zones: the largest number, yes before unknown before no."""
    figures: dict[str, Any] = {}
    for spec in FACT_TABLE.plan_figures if planned else ():
        values = [facts.by_name[spec.fact] for facts in planned]
        if spec.kind is Kind.YES_NO:
            figures[spec.fact] = True if True in values else UNKNOWN if UNKNOWN in values else False
        else:
            figures[spec.fact] = UNKNOWN if UNKNOWN in values else max(cast("list[float]", values))
    return cast("PlanFigures", figures)
