"""Changes: every one numbered, every version before it kept, the last one undone at a word."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Engine, delete, event, exists, insert, inspect, select
from sqlalchemy.orm import Session

from estimator.records import model
from estimator.records.database import WRITES, told_plainly
from estimator.records.errors import ChangedMeanwhileError, NotKeptError, RecordsError
from estimator.records.model_base import Base, Kept, new_id
from estimator.records.search_keys import words_of

_CHANGE = "change"
KEPT_TABLES: dict[str, type[Base]] = {
    mapper.class_.__tablename__: mapper.class_
    for mapper in Base.registry.mappers
    if issubclass(mapper.class_, Kept) and issubclass(mapper.class_, Base)
}


@contextmanager
def looking(engine: Engine) -> Iterator[Session]:
    """A session that only looks; all that it sees is from one moment."""
    with told_plainly(), Session(engine) as session:
        yield session


@contextmanager
def writing(engine: Engine, what: str, who: str) -> Iterator[Session]:
    """A session whose changes are kept all together or not at all, as one numbered change.

    what : The kind of change, without a word on the person. who : The member of staff, or "".
    """
    with told_plainly(), Session(engine.execution_options(**{WRITES: True})) as session, session.begin():
        change = model.Change(at_utc=datetime.now(UTC), who=who, what=what)
        session.add(change)
        session.flush()
        session.info[_CHANGE] = change.sequence
        yield session


@event.listens_for(Session, "before_flush")
def _keep_versions(session: Session, _context: Any, _instances: Any) -> None:
    """No row that a person may change is written without the version before it: here, and nowhere else."""
    sequence = session.info.get(_CHANGE)
    if session.deleted:
        raise RecordsError("Rows are never deleted one by one; only `erase` takes a client out.")
    if sequence is None:
        return
    for row in list(session.new):
        if isinstance(row, Kept):
            row.id = row.id or new_id()
            session.add(_version(row, sequence, 0, None))
    for row in list(session.dirty):
        if isinstance(row, Kept) and session.is_modified(row):
            session.add(_version(row, sequence, row.version, _as_it_stood(row)))


@event.listens_for(Session, "after_flush")
def _keep_words(session: Session, _context: Any) -> None:
    """The words that find a client follow every change of the name or code, an undo's as well."""
    for row in (*session.new, *session.dirty):
        if isinstance(row, model.Client):
            session.execute(delete(model.ClientWord).where(model.ClientWord.client_id == row.id))
            words = [{"word": word, "client_id": row.id} for word in sorted(words_of(row.name, row.code))]
            session.execute(insert(model.ClientWord), words)


def _version(row: Kept, sequence: int, number: int, before: dict[str, Any] | None) -> model.Version:
    table = type(row).__tablename__  # type: ignore[attr-defined]
    return model.Version(change_sequence=sequence, table=table, row_id=row.id, row_version=number, before=before)


def _as_it_stood(row: Kept) -> dict[str, Any]:
    """The columns that change, with what they held, as JSON holds it."""
    before = {}
    for attribute in inspect(row).attrs:
        if attribute.key != "version" and attribute.history.has_changes():
            before[attribute.key] = _as_json(attribute.history.deleted[0] if attribute.history.deleted else None)
    return before


def _as_json(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date) else value


def last_change_row(session: Session) -> model.Change | None:
    """The last change that can be undone; an undo is none, and what was undone is none any more."""
    return session.scalars(
        select(model.Change)
        .where(model.Change.what != "undo", ~model.Change.undone)
        .where(exists().where(model.Version.change_sequence == model.Change.sequence))
        .order_by(model.Change.sequence.desc())
        .limit(1)
    ).first()


def undo_last(engine: Engine, who: str, seen: int | None = None) -> str:
    """Put back what the last change changed; what was new goes out of sight. Returns the kind of change undone.

    Undoing is a change itself, so nothing is lost by it. Undoing again undoes the change before.
    seen : The number of the change that was shown; only that one is undone.

    Raises
    ------
    NotKeptError : There is no change left to undo.
    ChangedMeanwhileError : Another change than the one that was shown is the last one now.
    """
    with writing(engine, "undo", who) as session:
        last = last_change_row(session)
        if last is None:
            raise NotKeptError("There is no change left to undo.")
        if seen is not None and last.sequence != seen:
            raise ChangedMeanwhileError
        versions = session.scalars(
            select(model.Version)
            .where(model.Version.change_sequence == last.sequence)
            .order_by(model.Version.id.desc())
        )
        for version in versions.all():
            _put_back(session, version)
        last.undone = True
        mine = session.get_one(model.Change, session.info[_CHANGE])
        mine.undoes = last.sequence
        return last.what


def _put_back(session: Session, version: model.Version) -> None:
    row: Any = session.get_one(KEPT_TABLES[version.table], version.row_id)
    if version.before is None:
        row.removed = True
        return
    for name, value in version.before.items():
        setattr(row, name, _from_json(type(row), name, value))


def _from_json(table: type[Base], name: str, value: Any) -> Any:
    if value is None:
        return None
    kind = table.__table__.columns[name].type.python_type
    if kind is datetime:
        return datetime.fromisoformat(value)
    return date.fromisoformat(value) if kind is date else value
