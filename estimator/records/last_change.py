"""The change that an undo would put back: what, by whom, when, and which clients it is about."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.changes import KEPT_TABLES, last_change_row, undo_last
from estimator.records.store import Store


@dataclass(frozen=True)
class LastChange:
    """One change.

    sequence : Its number, to be handed back so that no other one is undone.
    client_ids : Whom it is of.
    """

    sequence: int
    what: str
    who: str
    at_utc: datetime
    client_ids: frozenset[str]


def last_change(store: Store) -> LastChange | None:
    """The change that undoing would put back; None where there is none."""
    with store.looking() as session:
        row = last_change_row(session)
        if row is None:
            return None
        versions = session.scalars(select(model.Version).where(model.Version.change_sequence == row.sequence)).all()
        clients = frozenset(filter(None, (_client_of(session, version) for version in versions)))
        return LastChange(row.sequence, row.what, row.who, row.at_utc, clients)


def undo_shown(store: Store, shown: LastChange) -> str:
    """The kind of change that was undone: the one that was shown, and no other.

    Raises
    ------
    ChangedMeanwhileError : Another change is the last one by now; nothing was undone.
    """
    return undo_last(store.engine, store.who, shown.sequence)


def _client_of(session: Session, version: model.Version) -> str:
    """The id of the client that a changed row is of; "" where the row is gone."""
    row: Any = session.get(KEPT_TABLES[version.table], version.row_id)
    if isinstance(row, model.Client):
        return row.id
    found = getattr(row, "client_id", "")
    if found or row is None:
        return str(found)
    return session.get_one(model.Visit, row.visit_id).client_id
