"""What one client's hair read at each visit, as plain values: for a list of earlier visits, and for their trend."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.clients import agreed, client_row
from estimator.records.consent_scopes import Scope
from estimator.records.errors import ConsentMissingError
from estimator.records.showing import level_of_row, warmth_of_row
from estimator.records.store import Store
from estimator.scale.appearance import Level, Warmth

MOST_VISITS = 200


@dataclass(frozen=True)
class ZoneThen:
    """One zone as it read at one visit. side : "before" or "after". tone : That was wanted; "" where none was."""

    zone: str
    side: str
    level: Level
    warmth: Warmth
    verified: bool
    tone: str


@dataclass(frozen=True)
class VisitThen:
    """One visit of a client. zones : Before ones first, in the order in which they were outlined."""

    id: str
    day: date
    demo: bool
    zones: tuple[ZoneThen, ...]


def earlier_visits(store: Store, code: str) -> tuple[VisitThen, ...]:
    """The last 200 visits of the client of this code, the oldest first; nobody else's.

    Raises
    ------
    NotKeptError : No client has this code.
    ConsentMissingError : The client has taken back the consent to the record.
    """
    with store.looking() as session:
        row = client_row(session, code)
        if not agreed(session, row.id, Scope.RECORD):
            raise ConsentMissingError(
                f"{row.code} has taken back the consent to the record, so earlier visits are not shown. "
                f'`tressmeter erase "{row.code}"` takes them out.'
            )
        kept = select(model.Visit).where(model.Visit.client_id == row.id, ~model.Visit.removed)
        latest = kept.order_by(model.Visit.day.desc(), model.Visit.id.desc()).limit(MOST_VISITS)
        visits = session.scalars(latest).all()
        return tuple(VisitThen(each.id, each.day, each.demo, _zones(session, each.id)) for each in reversed(visits))


def _zones(session: Session, visit_id: str) -> tuple[ZoneThen, ...]:
    reading, zone = model.Reading, model.Zone
    kept = select(reading, zone.name, zone.target).join(zone, zone.id == reading.zone_id)
    rows = session.execute(kept.where(reading.visit_id == visit_id).order_by(reading.side.desc(), zone.place)).all()
    return tuple(_then(row, name, target) for row, name, target in rows)


def _then(row: model.Reading, name: str, target: dict[str, Any]) -> ZoneThen:
    tone = str(target.get("tone", ""))
    return ZoneThen(name, row.side, level_of_row(row), warmth_of_row(row), row.verified, tone)
