"""Keeping a visit: consent first, then the files, then every row in one transaction."""

from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.changes import KEPT_TABLES
from estimator.records.clients import add_consent, agreed, found_or_new, need_consent
from estimator.records.consent_scopes import Scope
from estimator.records.database import check_space
from estimator.records.errors import ChangedMeanwhileError, RecordsError
from estimator.records.model_base import Kept, new_id
from estimator.records.photo_files import hash_of
from estimator.records.search_keys import visit_tags
from estimator.records.store import Store
from estimator.records.visit_record import PhotoRecord, ReadingRecord, VisitRecord, clock_without_health

_TRIES = 3


@dataclass(frozen=True)
class KeptVisit:
    """What was kept. new : It was not there before. left_out : What was not kept, and why, in sentences."""

    id: str
    client_id: str
    new: bool
    left_out: tuple[str, ...]


def keep_visit(store: Store, visit: VisitRecord) -> KeptVisit:
    """The visit in the records; keeping the same one again finds it there.

    Raises
    ------
    ConsentMissingError : The client has not agreed to a record; nothing was written.
    RecordsError : The disk or the database can't take it; nothing is half kept.
    """
    contents = [photo.content for photo in visit.photos] + [photo.thumbnail for photo in visit.photos]
    contents += [document.content for document in visit.documents]
    check_space(store.place, sum(map(len, contents)))
    hashes = [hash_of(content) for content in contents if content]
    try:
        with store.files.noted(hashes):
            for content in contents:
                if content:
                    store.files.put(content)
            return _rows_kept(store, visit)
    except BaseException:
        _tidy_quietly(store)
        raise


def _tidy_quietly(store: Store) -> None:
    """Files of a visit that was refused go at once where they can, else at the next start."""
    try:
        store.tidy()
    except (RecordsError, OSError):
        return


def _rows_kept(store: Store, visit: VisitRecord) -> KeptVisit:
    """The rows, once more where the connection broke or somebody made the same client: the key keeps it single."""
    for again in range(_TRIES):
        try:
            with store.writing("visit kept") as session:
                return _kept(session, visit)
        except (ChangedMeanwhileError, RecordsError) as problem:
            cause = problem.__cause__
            broken = isinstance(problem, ChangedMeanwhileError) or (
                isinstance(cause, DBAPIError) and cause.connection_invalidated
            )
            if not broken or again == _TRIES - 1:
                raise
    raise AssertionError("the loop returns or raises")


def _kept(session: Session, visit: VisitRecord) -> KeptVisit:
    keys = (visit.key, without_health(visit).key)
    rows = session.scalars(select(model.Visit).where(model.Visit.key.in_(keys))).all()
    for row in rows:
        if not row.removed:
            return KeptVisit(row.id, row.client_id, False, ())
    client = found_or_new(session, visit.client_code, visit.client_name, visit.contact, visit.demo)
    for consent in visit.consents:
        add_consent(session, client, consent)
    need_consent(session, client, Scope.RECORD)
    health = agreed(session, client.id, Scope.HEALTH)
    told = visit if health else without_health(visit)
    for row in rows:
        if row.key == told.key:  # an undo had taken it out of sight; one with answers is another than one without
            _bring_back(session, row)
            return KeptVisit(row.id, row.client_id, True, _left_out(visit, health))
    row = _visit_row(session, client.id, told, health)
    zone_ids = _zones_kept(session, row.id, told)
    session.add_all(_parts(row.id, told, zone_ids))
    session.add_all(_marks(row, told))
    session.add_all(_said(client.id, row.id, told))
    session.flush()
    return KeptVisit(row.id, client.id, True, _left_out(visit, health))


def _bring_back(session: Session, visit: model.Visit) -> None:
    """A visit that was taken out of sight, with all that was kept with it but consents: they are asked for anew."""
    new = model.Version.before.is_(None)
    kept_in = select(model.Version.change_sequence).where(model.Version.row_id == visit.id, new).scalar_subquery()
    for version in session.scalars(select(model.Version).where(model.Version.change_sequence == kept_in, new)):
        row = session.get_one(KEPT_TABLES[version.table], version.row_id)
        assert isinstance(row, Kept)
        if not isinstance(row, model.Consent):
            row.removed = False


def without_health(visit: VisitRecord) -> VisitRecord:
    """The visit without anything that tells of the client's health.

    Answers, care's findings, reports with both, and what the clock says of the skin.
    """
    findings = tuple(finding for finding in visit.findings if finding.about != "care")
    clock = tuple(replace(event, content=clock_without_health(event.content)) for event in visit.clock)
    return replace(visit, facts={}, care_verdict="", findings=findings, answers=(), documents=(), clock=clock)


def _left_out(visit: VisitRecord, health: bool) -> tuple[str, ...]:
    raw = [photo for photo in visit.photos if not photo.content]
    told = []
    if not health and (visit.facts or visit.documents):
        told.append(
            f"{visit.client_code} has not agreed that health answers are kept, so the consultation, care's findings "
            f"and the report were left out{', and what the clock says of the skin' if visit.clock else ''}."
        )
    if raw:
        told.append(
            f"{len(raw)} RAW file(s) of a rare kind can't be freed of private tags: only hash and readings were kept."
        )
    return tuple(told)


def _visit_row(session: Session, client_id: str, visit: VisitRecord, health: bool) -> model.Visit:
    consultation = None
    if visit.facts:
        consultation = model.Consultation(client_id=client_id, day=visit.day, facts=visit.facts)
        session.add(consultation)
        session.flush()
    row = model.Visit(
        client_id=client_id,
        consultation_id=consultation.id if consultation else None,
        key=visit.key,
        day=visit.day,
        salon=visit.salon,
        demo=visit.demo,
        care_verdict=visit.care_verdict,
        health_kept=health,
        program_version=visit.program_version,
    )
    session.add(row)
    session.flush()
    return row


def _zones_kept(session: Session, visit_id: str, visit: VisitRecord) -> dict[str, str]:
    """Each zone's row by its name; they are written first, since readings lean on them."""
    zones = [
        model.Zone(id=new_id(), visit_id=visit_id, place=place, **vars(zone)) for place, zone in enumerate(visit.zones)
    ]
    session.add_all(zones)
    session.flush()
    return {zone.name: zone.id for zone in zones}


def _parts(visit_id: str, visit: VisitRecord, zone_ids: dict[str, str]) -> list[Any]:
    """The rows that are written once: photographs, readings, findings, answers, plan, reports."""
    rows: list[Any] = []
    rows += [_photo_row(visit_id, place, photo) for place, photo in enumerate(visit.photos)]
    rows += [_reading_row(visit_id, zone_ids[reading.zone], reading) for reading in visit.readings]
    rows += [model.FindingRow(visit_id=visit_id, place=n, **vars(found)) for n, found in enumerate(visit.findings)]
    rows += [model.AnswerRow(visit_id=visit_id, place=n, **vars(answer)) for n, answer in enumerate(visit.answers)]
    if visit.plan:
        rows.append(model.PlanRow(visit_id=visit_id, **vars(visit.plan)))
    return rows + [
        model.Document(visit_id=visit_id, sha256=hash_of(document.content), ending=document.ending)
        for document in visit.documents
    ]


def _marks(row: model.Visit, visit: VisitRecord) -> list[model.VisitTag]:
    readings = [(reading.level["level"], reading.warmth["stage"]) for reading in visit.readings]
    tones = [zone.target.get("tone", "") for zone in visit.zones]
    marks = visit_tags(readings, tones, [finding.code for finding in visit.findings])
    return [model.VisitTag(tag=mark, day=row.day, visit_id=row.id) for mark in sorted(marks)]


def _photo_row(visit_id: str, place: int, photo: PhotoRecord) -> model.Photo:
    told = {name: value for name, value in vars(photo).items() if name not in ("content", "thumbnail")}
    return model.Photo(
        visit_id=visit_id,
        place=place,
        sha256=hash_of(photo.content) if photo.content else "",
        thumbnail_sha256=hash_of(photo.thumbnail) if photo.thumbnail else "",
        **told,
    )


def _reading_row(visit_id: str, zone_id: str, reading: ReadingRecord) -> model.Reading:
    told = {name: value for name, value in vars(reading).items() if name not in ("zone", "lab_d65", "level")}
    told |= {"photos": list(reading.photos), "basis": list(reading.basis), "stage": reading.warmth["stage"]}
    told |= dict(zip(("lab_l", "lab_a", "lab_b"), reading.lab_d65, strict=True))
    level = reading.level
    told |= {name: level[name] for name in ("level", "level_low", "level_high", "scale")}
    return model.Reading(visit_id=visit_id, zone_id=zone_id, level_beyond=level["beyond"], **told)


def _said(client_id: str, visit_id: str, visit: VisitRecord) -> list[Any]:
    """The rows that a person may change later: what was mixed, the clock, outcomes, notes, the quote."""
    rows: list[Any] = [mixed_row(visit_id, mixed) for mixed in visit.mixed]
    rows += [model.ClockEvent(visit_id=visit_id, place=n, **vars(event)) for n, event in enumerate(visit.clock)]
    rows += [model.Outcome(visit_id=visit_id, **vars(outcome)) for outcome in visit.outcomes]
    rows += [model.Note(client_id=client_id, visit_id=visit_id, day=visit.day, text=note) for note in visit.notes]
    if visit.quote:
        quote = visit.quote
        rows.append(
            model.Quote(
                client_id=client_id,
                visit_id=visit_id,
                seen_on=quote.seen_on,
                visits_low=quote.visits[0],
                visits_high=quote.visits[1],
                hours_low=quote.hours[0],
                hours_high=quote.hours[1],
                price_low=quote.price[0],
                price_high=quote.price[1],
                currency=quote.currency,
                text=quote.text,
            )
        )
    return rows


def mixed_row(visit_id: str, mixed: Any) -> model.Mixed:
    """What was really mixed, as a row."""
    told = vars(mixed) | {"zones": list(mixed.zones), "shade_grams": [list(pair) for pair in mixed.shade_grams]}
    return model.Mixed(visit_id=visit_id, **told)
