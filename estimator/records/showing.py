"""One client and one visit as the records hold them, as plain values for a screen or a table."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.clients import ClientDetails, client_row, details_of
from estimator.records.errors import NotKeptError
from estimator.records.search_keys import after_prefix
from estimator.records.store import Store
from estimator.scale.appearance import Level, Warmth


@dataclass(frozen=True)
class ShownConsent:
    """A consent in a client's list; withdrawn_on is None while it stands."""

    scope: str
    given_on: date
    how: str
    withdrawn_on: date | None


@dataclass(frozen=True)
class ShownVisit:
    """A visit in a client's list."""

    id: str
    day: date
    photos: int
    care_verdict: str


@dataclass(frozen=True)
class ClientPage:
    """All that a client's page shows."""

    details: ClientDetails
    consents: tuple[ShownConsent, ...]
    visits: tuple[ShownVisit, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class ShownReading:
    """A zone's reading, as it was that day."""

    side: str
    zone: str
    level: Level
    warmth: Warmth
    verified: bool


@dataclass(frozen=True)
class VisitPage:
    """All that a visit's page shows. photos : Side and hash of each. findings : Verdict or severity, and sentence."""

    id: str
    code: str
    day: date
    salon: str
    demo: bool
    care_verdict: str
    program_version: str
    readings: tuple[ShownReading, ...]
    findings: tuple[tuple[str, str], ...]
    plan: dict[str, Any] | None
    mixed: tuple[model.Mixed, ...]
    photos: tuple[tuple[str, str], ...]


def client_page(store: Store, code: str) -> ClientPage:
    """The client of this code, with consents, visits (the newest first) and notes. Raises NotKeptError."""
    with store.looking() as session:
        row = client_row(session, code)
        return ClientPage(details_of(row), _consents(session, row.id), _visits(session, row.id), _notes(session, row))


def _consents(session: Session, client_id: str) -> tuple[ShownConsent, ...]:
    kept = select(model.Consent).where(model.Consent.client_id == client_id, ~model.Consent.removed)
    rows = session.scalars(kept.order_by(model.Consent.given_on, model.Consent.scope))
    return tuple(ShownConsent(row.scope, row.given_on, row.how, row.withdrawn_on) for row in rows)


def _visits(session: Session, client_id: str) -> tuple[ShownVisit, ...]:
    visit, photo = model.Visit, model.Photo
    photos = select(func.count()).where(photo.visit_id == visit.id).correlate(visit).scalar_subquery()
    kept = select(visit.id, visit.day, photos.label("photos"), visit.care_verdict).where(
        visit.client_id == client_id, ~visit.removed
    )
    rows = session.execute(kept.order_by(visit.day.desc(), visit.id.desc()))
    return tuple(ShownVisit(row.id, row.day, row.photos, row.care_verdict) for row in rows)


def _notes(session: Session, row: model.Client) -> tuple[str, ...]:
    kept = select(model.Note.text).where(model.Note.client_id == row.id, ~model.Note.removed)
    return tuple(session.scalars(kept.order_by(model.Note.day.desc())))


def visit_page(store: Store, visit_id: str) -> VisitPage:
    """The visit of this id, or of the beginning of one. Raises NotKeptError."""
    with store.looking() as session:
        visit = visit_row(session, visit_id)
        client = session.get_one(model.Client, visit.client_id)
        found = select(model.FindingRow).where(model.FindingRow.visit_id == visit.id).order_by(model.FindingRow.place)
        photos = select(model.Photo).where(model.Photo.visit_id == visit.id).order_by(model.Photo.place)
        mixed = select(model.Mixed).where(model.Mixed.visit_id == visit.id, ~model.Mixed.removed)
        plan = session.scalars(select(model.PlanRow).where(model.PlanRow.visit_id == visit.id)).first()
        return VisitPage(
            id=visit.id,
            code=client.code,
            day=visit.day,
            salon=visit.salon,
            demo=visit.demo,
            care_verdict=visit.care_verdict,
            program_version=visit.program_version,
            readings=_readings(session, visit.id),
            findings=tuple((row.weight, row.message) for row in session.scalars(found)),
            plan=plan.content if plan else None,
            mixed=tuple(session.scalars(mixed.order_by(model.Mixed.bowl_number))),
            photos=tuple((row.side, row.sha256) for row in session.scalars(photos)),
        )


def visit_row(session: Session, visit_id: str) -> model.Visit:
    """The visit whose name is, or begins with, this. Raises NotKeptError."""
    if not visit_id or not visit_id.isalnum():
        raise NotKeptError(f"{visit_id[:40]!r} names no visit. `tressmeter records list` shows the names of visits.")
    prefix = visit_id.lower()
    begins = model.Visit.id >= prefix, model.Visit.id < after_prefix(prefix)  # one range of the index
    rows = session.scalars(select(model.Visit).where(*begins, ~model.Visit.removed).limit(2)).all()
    if len(rows) != 1:
        many = "More than one visit's name begins" if rows else "No visit's name begins"
        raise NotKeptError(f"{many} with {visit_id[:40]!r}. `tressmeter records list` shows the names of visits.")
    return rows[0]


def _readings(session: Session, visit_id: str) -> tuple[ShownReading, ...]:
    reading, zone = model.Reading, model.Zone
    kept = select(reading, zone.name).join(zone, zone.id == reading.zone_id).where(reading.visit_id == visit_id)
    rows = session.execute(kept.order_by(reading.side.desc(), zone.place)).all()
    return tuple(
        ShownReading(row.side, name, level_of_row(row), warmth_of_row(row), row.verified) for row, name in rows
    )


def level_of_row(row: model.Reading) -> Level:
    """The level of a kept reading, as it was that day."""
    return Level(row.level, row.level_low, row.level_high, row.level_beyond, row.scale)


def warmth_of_row(row: model.Reading) -> Warmth:
    """The warmth of a kept reading, as it was that day."""
    return Warmth(**(row.warmth | {"other_stages": tuple(row.warmth["other_stages"])}))
