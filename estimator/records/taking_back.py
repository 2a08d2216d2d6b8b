"""One visit taken back: out of sight with all that was kept together with it, whatever was kept since."""

from sqlalchemy import exists, or_, select
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.changes import KEPT_TABLES
from estimator.records.model_base import Kept
from estimator.records.showing import visit_row
from estimator.records.store import Store


def take_back(store: Store, visit_id: str) -> None:
    """Put the visit out of sight; the client and the consents stay where another visit or a note rests on them.

    It is a change of its own: undoing it, or keeping the same visit again, brings everything back. Raises NotKeptError.
    """
    with store.writing("visit taken back") as session:
        visit = visit_row(session, visit_id)
        stays = _has_more(session, visit)
        for row in _kept_together(session, visit):
            if not (stays and isinstance(row, model.Client | model.Consent)):
                row.removed = True


def _kept_together(session: Session, visit: model.Visit) -> list[Kept]:
    """Every row that was new in the change that kept the visit."""
    new = model.Version.before.is_(None)
    kept_in = select(model.Version.change_sequence).where(model.Version.row_id == visit.id, new).scalar_subquery()
    versions = session.scalars(select(model.Version).where(model.Version.change_sequence == kept_in, new)).all()
    rows = [session.get_one(KEPT_TABLES[version.table], version.row_id) for version in versions]
    return [row for row in rows if isinstance(row, Kept)]


def _has_more(session: Session, visit: model.Visit) -> bool:
    """Whether the client has another visit, or a note that is not this visit's."""
    other, note = model.Visit, model.Note
    visits = exists().where(other.client_id == visit.client_id, other.id != visit.id, ~other.removed)
    elsewhere = or_(note.visit_id.is_(None), note.visit_id != visit.id)
    notes = exists().where(note.client_id == visit.client_id, elsewhere, ~note.removed)
    return bool(session.scalar(select(or_(visits, notes))))
