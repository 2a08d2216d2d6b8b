"""Handing a visit to the records: readings, care and plan as plain values, photographs without private tags.

Not among the verbs of `estimator.visit` itself, so that a reading never waits for what only records need.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date, datetime, timedelta
from enum import Enum
from importlib.metadata import version
from typing import Any

import numpy as np

from calibration.errors import PhotoRefusedError
from calibration.findings import Finding
from calibration.opening import open_photo
from calibration.private_tags import clean_copy
from calibration.sniffing import FileKind, kind_of
from estimator.care.verdicts import CareFinding
from estimator.lifting.clock_store import ClockStore
from estimator.lifting.clock_visits import TimedEvent, events_of
from estimator.records.visit_record import (
    AnswerRecord,
    ClockRecord,
    DocumentRecord,
    FindingRecord,
    OutcomeRecord,
    PhotoRecord,
    PlanRecord,
    ReadingRecord,
    VisitRecord,
    ZoneRecord,
)
from estimator.reports.composing_kept import DIFFERENCE
from estimator.reports.document import Heading
from estimator.reports.pictures import corrected_picture
from estimator.reports.wording import change_text
from estimator.toning.plan import HairFacts
from estimator.toning.targets import Target
from estimator.visit.consulting import Consultation
from estimator.visit.planning import CheckedPlan
from estimator.visit.reading import PhotoReading, ReadZone, compare
from estimator.zones.masks import outer_borders

THUMBNAIL_PX = 320
_ENDINGS = {FileKind.JPEG: "jpg", FileKind.PNG: "png", FileKind.TIFF: "tif", FileKind.WEBP: "webp", FileKind.RAW: "dng"}


@dataclass(frozen=True, eq=False)
class Side:
    """One side of a visit, before or after: what was read, and the bytes of every photograph it was read from."""

    name: str
    reading: PhotoReading
    photos: tuple[bytes, ...]


@dataclass(frozen=True, eq=False)
class Wanted:
    """What was wanted for each zone, and what its hair is like."""

    targets: tuple[Target, ...] = ()
    hair: Mapping[str, HairFacts] | None = None


def visit_record(
    heading: Heading,
    sides: tuple[Side, ...],
    consultation: Consultation,
    checked: CheckedPlan,
    wanted: Wanted | None = None,
) -> VisitRecord:
    """A visit as the records take it. Consents, a name and reports are added by `dataclasses.replace`.

    Raises
    ------
    PhotoRefusedError : A photograph is damaged.
    """
    return VisitRecord(
        client_code=heading.client_code,
        day=heading.day,
        salon=heading.salon,
        program_version=version("tressmeter"),
        demo=heading.demo,
        facts=consultation.facts.as_answers() | ({"of_zones": as_json(consultation.own)} if consultation.own else {}),
        care_verdict=checked.care.verdict.value,
        zones=_zones(sides, wanted or Wanted()),
        photos=tuple(_photo(side, photo) for side in sides for photo in side.photos),
        readings=tuple(_reading(side, read) for side in sides for read in side.reading.zones),
        findings=(*_photo_findings(sides), *map(_care_finding, checked.care.findings)),
        answers=tuple(
            AnswerRecord(a.code, a.who, a.when, a.what, a.strength_volume, a.place, a.zone)
            for a in consultation.answers
        ),
        plan=PlanRecord(checked.plan.shelf_name, as_json(checked.plan)) if checked.plan is not None else None,
        outcomes=_changes(sides),
    )


def clock_records(clocks: ClockStore, visit: str, day: date) -> tuple[ClockRecord, ...]:
    """The events of the lift's clock that belong to the visit of this mark, on its day or later.

    Each holds what the clock's own record says, but which machine counted, and the minutes of its run by then.

    Raises
    ------
    BadInputError : A clock's record can't be read.
    """
    since = day - timedelta(days=1)  # a clock is put away under the day of this machine, a visit may have another's
    found = [timed for clock in clocks.all_clocks(since) for timed in events_of(clock, visit)]
    return tuple(_clock_record(timed) for timed in sorted(found, key=lambda timed: timed.event.at.wall))


def _clock_record(timed: TimedEvent) -> ClockRecord:
    event = timed.event
    content = as_json(replace(event, visit="")) | {"minutes": timed.minutes}
    content["at"].pop("boot")  # names the machine
    del content["visit"]
    return ClockRecord(event.kind.value, event.zone, event.at.wall, content)


def _changes(sides: tuple[Side, ...]) -> tuple[OutcomeRecord, ...]:
    """What changed in each zone that was read before and after."""
    read = {side.name: side.reading for side in sides}
    if "after" not in read or read["before"].refused or read["after"].refused:
        return ()
    changes = compare(read["before"], read["after"])
    return tuple(OutcomeRecord(each.zone, change_text(each), {DIFFERENCE: as_json(each)}) for each in changes)


def report_records(html: str, pdf: bytes) -> tuple[DocumentRecord, ...]:
    """Both forms of a report, to be kept with its visit."""
    return DocumentRecord("html", html.encode("utf-8")), DocumentRecord("pdf", pdf)


def _zones(sides: tuple[Side, ...], wanted: Wanted) -> tuple[ZoneRecord, ...]:
    targets = {target.zone: {"level": target.level, "tone": target.tone} for target in wanted.targets}
    hair = wanted.hair or {}
    found: dict[str, ZoneRecord] = {}
    for zone in (read.zone for side in sides for read in side.reading.zones):
        like = as_json(hair[zone.name]) if zone.name in hair else {}
        pattern = zone.strand_pattern.value if zone.strand_pattern else ""
        made = ZoneRecord(zone.name, zone.setting.value, pattern, like, targets.get(zone.name, {}))
        found.setdefault(zone.name, made)
    return tuple(found.values())


def _photo(side: Side, photo_bytes: bytes) -> PhotoRecord:
    """The photograph with its own facts; those of its correction where the reading's picture is this very one."""
    photo, corrected = open_photo(photo_bytes), side.reading.corrected
    mine = corrected.photo.sha256 == photo.sha256
    content = cleaned(photo_bytes)
    return PhotoRecord(
        side=side.name,
        original_sha256=photo.sha256,
        content=content,
        thumbnail=corrected_picture(corrected, THUMBNAIL_PX).jpeg if mine else b"",
        ending=_ENDINGS[kind_of(content or photo_bytes)],
        width_px=photo.width_px,
        height_px=photo.height_px,
        verdict=corrected.verdict.verdict.value if mine else "",
        verified=corrected.verified,
        method=corrected.correction.method if mine else "",
        held_out_de2000=_finite(corrected.correction.held_out_de2000) if mine else None,
        pipeline_version=corrected.pipeline_version,
        steps=as_json(corrected.steps if mine else photo.steps),
        outlines=_outlines(side.reading) if mine else {},
    )


def _outlines(reading: PhotoReading) -> dict[str, list[list[list[float]]]]:
    """Where each zone lies in the photograph, read or not, by its name; pieces that stand alone each on their own."""
    found: dict[str, list[list[list[float]]]] = {}
    for zone in reading.outlined:
        found.setdefault(zone.name, []).extend(as_json(outer_borders(zone.mask, zone.box.left, zone.box.top)))
    return found


def cleaned(photo_bytes: bytes) -> bytes:
    """The photograph without private tags; b"" for a RAW file of which no copy reads as it does."""
    try:
        return clean_copy(photo_bytes)
    except PhotoRefusedError as refusal:
        if refusal.finding.code == "raw_not_cleaned":
            return b""
        raise


def _reading(side: Side, read: ReadZone) -> ReadingRecord:
    reading = read.reading
    lightness, a, b = map(float, reading.lab_d65)
    return ReadingRecord(
        zone=read.name,
        side=side.name,
        photos=tuple(_hash(photo) for photo in side.photos),
        lab_d65=(lightness, a, b),
        covariance=as_json(reading.covariance),
        shared_covariance=as_json(reading.shared_covariance),
        spread_lab=as_json(reading.spread_lab),
        profile=as_json(reading.profile),
        level=as_json(read.level),
        warmth=as_json(read.warmth),
        pixels=reading.pixels,
        verified=reading.verified,
        proposed=reading.proposed,
        verdict=reading.verdict.verdict.value,
        basis=reading.basis,
        pipeline_version=side.reading.corrected.pipeline_version,
    )


def _hash(photo_bytes: bytes) -> str:
    import hashlib

    return hashlib.sha256(photo_bytes).hexdigest()


def _photo_findings(sides: tuple[Side, ...]) -> tuple[FindingRecord, ...]:
    told: list[FindingRecord] = []
    for side in sides:
        reading = side.reading
        told += [_finding("photo", found) for found in (*reading.corrected.verdict.findings, *reading.unread)]
        told += [_finding("zone", found) for read in reading.zones for found in read.reading.findings]
    return tuple(dict.fromkeys(told))


def _finding(about: str, found: Finding) -> FindingRecord:
    return FindingRecord(
        about, found.code, found.severity.value, found.where, found.message, found.remedy, found.source
    )


def _care_finding(found: CareFinding) -> FindingRecord:
    return FindingRecord("care", found.code, found.verdict.value, found.zone, found.message, found.remedy, found.source)


def as_json(value: Any) -> Any:
    """A value as JSON holds it: dataclasses by their fields, arrays as lists, words as text; no number that is none."""
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: as_json(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, np.ndarray | np.generic):
        return as_json(value.tolist())
    if isinstance(value, Mapping):
        return {str(name): as_json(entry) for name, entry in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [as_json(entry) for entry in value]
    if isinstance(value, date | datetime):
        return value.isoformat()
    return _finite(value) if isinstance(value, float) else value


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
