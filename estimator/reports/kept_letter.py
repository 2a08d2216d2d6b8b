"""The letter to the client about a visit that is kept: from the readings, findings and plan as they were that day."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from estimator.care.verdicts import CareFinding, CareVerdict, CareWord, verdict_from
from estimator.records.visit_record import ReadingRecord, VisitRecord
from estimator.reports.client_letter import ClientLetter, Hope, LetterFacts, letter_of
from estimator.reports.composing_kept import changes_then, level_then, warmth_then
from estimator.reports.document import Heading
from estimator.scale.appearance import Level, Warmth

if TYPE_CHECKING:
    from estimator.records.whole_visit import WholeVisit


@dataclass(frozen=True)
class _SeenThen:
    name: str
    level: Level
    warmth: Warmth
    verified: bool


def kept_letter(visit: "WholeVisit") -> ClientLetter:
    """The letter about a kept visit, with the quote that the client had been told; it holds no formula."""
    record = visit.record
    heading = Heading(record.client_code, record.salon, record.day, record.demo)
    seen = [_seen(read) for read in record.readings if read.side == "before"]
    care = _care(record) if visit.health else None
    changes = tuple((change.zone, change.words) for change in changes_then(record))
    return letter_of(LetterFacts(heading, seen, care, _hopes(record, care), changes), record.quote)


def _seen(read: ReadingRecord) -> _SeenThen:
    return _SeenThen(read.zone, level_then(read.level), warmth_then(read.warmth), read.verified)


def _care(record: VisitRecord) -> CareVerdict:
    """The verdict as it was told. Nothing is judged anew, so how grave a finding was needs not be known."""
    return verdict_from(
        [
            CareFinding(
                each.code, CareWord(each.weight), each.message, each.remedy, each.source, severity=1, zone=each.where
            )
            for each in record.findings
            if each.about == "care"
        ]
    )


def _hopes(record: VisitRecord, care: CareVerdict | None) -> tuple[Hope, ...]:
    """What each zone might become; nothing of what a stop is about, whatever is kept."""
    zones = record.plan.content.get("zones", ()) if record.plan else ()
    stopped = set(care.stopped_zones) if care is not None else set()
    if (care is not None and care.stops_everything) or any(zone.get("zone") in stopped for zone in zones):
        return ()
    return tuple(_hope(zone) for zone in zones if zone.get("predicted_level"))


def _hope(zone: Mapping[str, Any]) -> Hope:
    reasons = zone.get("out_of_reach") or ()
    return Hope(
        zone=str(zone["zone"]),
        left_alone=zone.get("bowl_number") is None,
        level=level_then(zone["predicted_level"]).level,
        stage=warmth_then(zone["predicted_warmth"]).stage,
        odds_inside=float(zone["odds_inside"]),
        longest_minutes=float(zone["minutes_high"]),
        out_of_reach=str(reasons[0]["message"]) if reasons else "",
    )
