"""Everything that is kept of one visit, as plain values: what a paper needs that proves what was done."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import Select, func, or_, select
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.clients import agreed, client_row
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.records.errors import ConsentMissingError, NotKeptError, RecordsError
from estimator.records.quotes import quote_of_row
from estimator.records.showing import visit_row
from estimator.records.store import Store
from estimator.records.visit_record import (
    AnswerRecord,
    ClockRecord,
    FindingRecord,
    MixedRecord,
    OutcomeRecord,
    PhotoRecord,
    PlanRecord,
    QuoteRecord,
    ReadingRecord,
    VisitRecord,
    ZoneRecord,
    clock_without_health,
)


@dataclass(frozen=True)
class ConsentThen:
    """One consent: use, day, how; withdrawn_on is None while it stands."""

    scope: Scope
    given_on: date
    how: str
    withdrawn_on: date | None


@dataclass(frozen=True, eq=False)
class WholeVisit:
    """One visit as the records hold it now.

    record : As it was kept, with what was added since; photographs come with their small pictures only.
    consents : In force on the day of the visit, or given since.
    health : Whether the client agrees that health answers are kept; without it the record holds none.
    facts_before : The consultation before this one, and its day; None where this is the first.
    kept_in, last_change : Numbers of the change that kept the visit, and of the last one that touched it.
    """

    id: str
    record: VisitRecord
    consents: tuple[ConsentThen, ...]
    health: bool
    facts_before: tuple[date, dict[str, Any]] | None
    kept_in: int
    last_change: int


def whole_visit(store: Store, visit_id: str) -> WholeVisit:
    """The visit of this id, or of the beginning of one.

    Raises
    ------
    NotKeptError : There is no such visit.
    ConsentMissingError : The client has taken back the consent to the record.
    """
    with store.looking() as session:
        visit = visit_row(session, visit_id)
        client = session.get_one(model.Client, visit.client_id)
        if not agreed(session, client.id, Scope.RECORD):
            raise ConsentMissingError(
                f"{client.code} has taken back the consent to the record, so the visit is not shown. "
                f'`tressmeter erase "{client.code}"` takes it out.'
            )
        health = visit.health_kept and agreed(session, client.id, Scope.HEALTH)
        changed = _changes(session, visit)
        return WholeVisit(
            id=visit.id,
            record=_record(session, store, visit, health),
            consents=_consents(session, visit),
            health=health,
            facts_before=_consultation_before(session, visit) if health else None,
            kept_in=min(changed, default=0),
            last_change=max(changed, default=0),
        )


@dataclass(frozen=True, eq=False)
class KeptPhotos:
    """Photographs of one visit with their content, in their order; one of which no copy is kept has none.

    demo : Invented hair, so that no person's consent is needed beyond the one to the record.
    """

    photos: tuple[PhotoRecord, ...]
    demo: bool


def kept_photos(store: Store, visit_id: str, needs: Scope) -> KeptPhotos:
    """The photographs of one visit, for a use that the client has agreed to.

    Raises
    ------
    NotKeptError : There is no such visit.
    ConsentMissingError : The client has not agreed to this use, or has taken it back.
    RecordsError : A photograph is missing or damaged.
    """
    with store.looking() as session:
        visit = visit_row(session, visit_id)
        client = session.get_one(model.Client, visit.client_id)
        needed = (Scope.RECORD,) if visit.demo else (Scope.RECORD, needs)
        for scope in needed:
            if not agreed(session, client.id, scope):
                raise ConsentMissingError(
                    f"{client.code} has not agreed to {scope_texts()[scope].what}, so nothing was made. Ask the client "
                    "first, and write it down."
                )
        rows = session.scalars(_parts(model.Photo, visit)).all()
        photos = tuple(replace(_photo(store, row), content=_content(store, row)) for row in rows)
        return KeptPhotos(photos, visit.demo)


def _content(store: Store, row: model.Photo) -> bytes:
    return store.files.get(row.sha256) if row.sha256 else b""


def visit_of_day(store: Store, code: str, day: date | None = None) -> str:
    """The id of a client's visit of that day; of the last one without a day. Raises NotKeptError."""
    with store.looking() as session:
        row = client_row(session, code)
        kept = select(model.Visit).where(model.Visit.client_id == row.id, ~model.Visit.removed)
        if day is not None:
            kept = kept.where(model.Visit.day == day)
        found = session.scalars(kept.order_by(model.Visit.day.desc(), model.Visit.id.desc()).limit(2)).all()
        if not found:
            when = f" of {day.isoformat()}" if day else ""
            raise NotKeptError(f"No visit{when} is kept of {row.code}. `tressmeter records show` lists the visits.")
        if day is not None and len(found) > 1:
            raise NotKeptError(f"{row.code} has more than one visit of {day.isoformat()}. Name it with --visit.")
        return found[0].id


def visit_of_client(store: Store, code: str, visit_id: str) -> str:
    """The id of this visit, once it is sure that it is this client's. Raises NotKeptError."""
    with store.looking() as session:
        client, visit = client_row(session, code), visit_row(session, visit_id)
        if visit.client_id != client.id:
            raise NotKeptError(f"The visit {visit_id[:40]!r} is not one of {client.code}. Look it up once more.")
        return visit.id


def _record(session: Session, store: Store, visit: model.Visit, health: bool) -> VisitRecord:
    client = session.get_one(model.Client, visit.client_id)
    zones = session.scalars(_parts(model.Zone, visit)).all()
    names = {zone.id: zone.name for zone in zones}
    facts = session.get(model.Consultation, visit.consultation_id) if visit.consultation_id and health else None
    plan = session.scalars(select(model.PlanRow).where(model.PlanRow.visit_id == visit.id)).first()
    found = session.scalars(_parts(model.FindingRow, visit))
    return VisitRecord(
        client_code=client.code,
        client_name=client.name,
        day=visit.day,
        salon=visit.salon,
        program_version=visit.program_version,
        demo=visit.demo,
        facts=facts.facts if facts else {},
        care_verdict=visit.care_verdict if health else "",
        zones=tuple(ZoneRecord(zone.name, zone.setting, zone.strand_pattern, zone.hair, zone.target) for zone in zones),
        photos=tuple(_photo(store, row) for row in session.scalars(_parts(model.Photo, visit))),
        readings=_readings(session, visit, names),
        findings=tuple(_finding(row) for row in found if health or row.about != "care"),
        answers=tuple(map(_answer, session.scalars(_parts(model.AnswerRow, visit)))) if health else (),
        plan=PlanRecord(plan.shelf, plan.content) if plan else None,
        mixed=tuple(map(_mixed, session.scalars(_standing(model.Mixed, visit).order_by(model.Mixed.bowl_number)))),
        clock=tuple(_clock(row, health) for row in session.scalars(_clock_rows(visit))),
        outcomes=tuple(
            OutcomeRecord(row.zone, row.told, row.content) for row in session.scalars(_standing(model.Outcome, visit))
        ),
        notes=tuple(row.text for row in session.scalars(_notes(visit))),
        quote=_quote(session, visit),
    )


def _parts(table: Any, visit: model.Visit) -> Select[Any]:
    """Rows of a visit that are written once, in their order."""
    return select(table).where(table.visit_id == visit.id).order_by(table.place)


def _standing(table: Any, visit: model.Visit) -> Select[Any]:
    """Rows of a visit that may change, as they stand."""
    return select(table).where(table.visit_id == visit.id, ~table.removed)


def _notes(visit: model.Visit) -> Select[Any]:
    """Notes on the visit, and on its client from that day."""
    mine = or_(
        model.Note.visit_id == visit.id,
        (model.Note.visit_id.is_(None)) & (model.Note.client_id == visit.client_id) & (model.Note.day == visit.day),
    )
    return select(model.Note).where(mine, ~model.Note.removed).order_by(model.Note.day, model.Note.id)


def _photo(store: Store, row: model.Photo) -> PhotoRecord:
    return PhotoRecord(
        side=row.side,
        original_sha256=row.original_sha256,
        content=b"",
        thumbnail=_small(store, row.thumbnail_sha256),
        ending=row.ending,
        width_px=row.width_px,
        height_px=row.height_px,
        verdict=row.verdict,
        verified=row.verified,
        method=row.method,
        held_out_de2000=row.held_out_de2000,
        pipeline_version=row.pipeline_version,
        steps=row.steps,
        outlines=row.outlines,
    )


def _small(store: Store, sha256: str) -> bytes:
    """The small picture; b"" where none was kept, or it is missing (the doctor says so)."""
    try:
        return store.files.get(sha256) if sha256 else b""
    except RecordsError:
        return b""


def _readings(session: Session, visit: model.Visit, names: dict[str, str]) -> tuple[ReadingRecord, ...]:
    zone, reading = model.Zone, model.Reading
    kept = select(reading).join(zone, zone.id == reading.zone_id).where(reading.visit_id == visit.id)
    rows = session.scalars(kept.order_by(zone.place, reading.side.desc()))
    return tuple(_reading(row, names[row.zone_id]) for row in rows)


def _reading(row: model.Reading, zone: str) -> ReadingRecord:
    told: dict[str, Any] = {
        name: getattr(row, name)
        for name in ("side", "covariance", "shared_covariance", "spread_lab", "profile", "warmth", "pixels")
    }
    told |= {name: getattr(row, name) for name in ("verified", "proposed", "verdict", "pipeline_version")}
    level = {name: getattr(row, name) for name in ("level", "level_low", "level_high", "scale")}
    return ReadingRecord(
        zone=zone,
        photos=tuple(row.photos),
        lab_d65=(row.lab_l, row.lab_a, row.lab_b),
        level=level | {"beyond": row.level_beyond},
        basis=tuple(row.basis),
        **told,
    )


def _finding(row: model.FindingRow) -> FindingRecord:
    return FindingRecord(row.about, row.code, row.weight, row.where, row.message, row.remedy, row.source)


def _answer(row: model.AnswerRow) -> AnswerRecord:
    return AnswerRecord(row.code, row.who, row.when, row.what, row.strength_volume, row.where, row.zone)


def _mixed(row: model.Mixed) -> MixedRecord:
    grams = tuple((str(name), float(weight)) for name, weight in row.shade_grams)
    zones = tuple(map(str, row.zones))
    return MixedRecord(row.bowl_number, zones, grams, row.developer_grams, row.developer_volume, row.minutes, row.note)


def _clock_rows(visit: model.Visit) -> Select[Any]:
    return _standing(model.ClockEvent, visit).order_by(model.ClockEvent.place)


def _clock(row: model.ClockEvent, health: bool) -> ClockRecord:
    content = dict(row.content) if health else clock_without_health(row.content)
    return ClockRecord(row.kind, row.zone, row.at_utc, content)


def _consents(session: Session, visit: model.Visit) -> tuple[ConsentThen, ...]:
    """Those taken back before the visit are left out: they stand for nothing that was done there."""
    consent = model.Consent
    kept = select(consent).where(
        consent.client_id == visit.client_id,
        ~consent.removed,
        or_(consent.withdrawn_on.is_(None), consent.withdrawn_on >= visit.day),
    )
    rows = session.scalars(kept.order_by(consent.given_on, consent.scope))
    return tuple(ConsentThen(Scope(row.scope), row.given_on, row.how, row.withdrawn_on) for row in rows)


def _consultation_before(session: Session, visit: model.Visit) -> tuple[date, dict[str, Any]] | None:
    """By the number of the change, never by the clock: the last consultation kept before this one."""
    if visit.consultation_id is None:
        return None
    made, consultation = model.Version, model.Consultation
    mine = min(_changes_of(session, (visit.consultation_id,)), default=0)
    earlier = (
        select(consultation)
        .join(made, made.row_id == consultation.id)
        .where(
            made.before.is_(None),
            consultation.client_id == visit.client_id,
            ~consultation.removed,
            consultation.day <= visit.day,
            made.change_sequence < mine,
        )
        .order_by(consultation.day.desc(), made.change_sequence.desc())
    )
    row = session.scalars(earlier.limit(1)).first()
    return (row.day, dict(row.facts)) if row is not None else None


def _quote(session: Session, visit: model.Visit) -> QuoteRecord | None:
    """What the client had been told by the day of the visit."""
    quote = model.Quote
    kept = select(quote).where(
        quote.client_id == visit.client_id,
        ~quote.removed,
        or_(quote.visit_id == visit.id, quote.seen_on <= visit.day),
    )
    row = session.scalars(kept.order_by(quote.seen_on.desc(), quote.id.desc()).limit(1)).first()
    return quote_of_row(row) if row is not None else None


def _changes(session: Session, visit: model.Visit) -> list[int]:
    """Numbers of all changes that touched the visit or what was said of it."""
    ids = [visit.id]
    for table in (model.Mixed, model.ClockEvent, model.Outcome, model.Note):
        ids += session.scalars(select(table.id).where(table.visit_id == visit.id))
    return _changes_of(session, ids)


def _changes_of(session: Session, ids: Iterable[str]) -> list[int]:
    changed = select(func.distinct(model.Version.change_sequence)).where(model.Version.row_id.in_(list(ids)))
    return [int(number) for number in session.scalars(changed)]
