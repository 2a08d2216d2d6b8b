"""Erasing one client whole: rows, versions, files, drafts, free pages. A receipt stays that names nobody."""

from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Select, delete, select, update
from sqlalchemy.orm import Session

from estimator.errors import BadInputError, OutputError
from estimator.lifting.clock_visits import without_visits
from estimator.records import model
from estimator.records.beside import salon_clock, salon_journal
from estimator.records.client_rows import hashes_of, of_client, tables_with_clients
from estimator.records.clients import client_row
from estimator.records.drafts import Drafts
from estimator.records.errors import RecordsError
from estimator.records.model_base import Base, new_id
from estimator.records.search_keys import folded
from estimator.records.search_rows import index_visit
from estimator.records.sent_in import forget_sent_in
from estimator.records.store import Store
from estimator.records.visit_record import clock_without_health


@dataclass(frozen=True)
class Receipt:
    """That somebody was erased: its own name, the moment, how many rows, files, drafts and learned outcomes.

    drafts : With what the client had sent before coming. Nothing of the person.
    """

    id: str
    at_utc: datetime
    rows: int
    files: int
    drafts: int
    outcomes: int


def erase_client(store: Store, code: str) -> Receipt:
    """The receipt, once nothing of the client is left in the salon's folder and database.

    Backups made before still hold the client; so do copies that were handed out.

    Raises
    ------
    NotKeptError : There is no such client.
    RecordsError : The rows are gone, but files or free pages could not be cleaned; the sentence says so.
    """
    with store.looking() as session:
        client = client_row(session, code)
        client_id, code, names = client.id, client.code, {folded(client.code), folded(client.name)} - {""}
        hashes = hashes_of(session, client_id)
        timed = _timed(session, client_id)
    drafts = Drafts(store.place)
    # What is found by the client's words goes first: once the rows are gone nobody could find it any more.
    unfinished = [each.id for each in drafts.listed() if folded(each.client) in names]
    _clocks_cleaned(store, unfinished, timed)
    gone = sum(map(drafts.erase, unfinished))
    gone += forget_sent_in(store.place, names)
    unlearned = _unlearned(store, code)
    with store.files.noted_to_erase(hashes), store.writing("client erased") as session:
        receipt = _rows_erased(session, client_id, len(hashes))
    _tidied(store)
    return Receipt(receipt.id, receipt.at_utc, receipt.rows, receipt.files, gone, unlearned)


def _clocks_cleaned(store: Store, unfinished: list[str], timed: set[str]) -> None:
    """The clock's own records without the client's runs. Raises RecordsError where one can't be read or written."""
    try:
        salon_clock(store.place.folder).change_all(lambda clock: without_visits(clock, unfinished, timed))
    except (BadInputError, OutputError) as problem:
        raise RecordsError(
            f"Nothing was erased: a clock of a lift in {store.place.folder} can't be cleaned ({problem}) Take out the "
            "file clock.json, or the one of that day beside it, if nobody needs it, then erase again."
        ) from problem


def _timed(session: Session, client_id: str) -> set[str]:
    """Marks of the clock's events that were kept with the client's visits: the clock's own record names nobody."""
    kept = select(model.ClockEvent.content).where(model.ClockEvent.visit_id.in_(_visits(client_id)))
    return {str(content["id"]) for content in session.scalars(kept) if "id" in content}


def _tidied(store: Store) -> None:
    """Files and free pages follow the rows. Raises RecordsError, which says that the rows are gone."""
    try:
        store.tidy()
    except (RecordsError, OSError) as problem:
        raise RecordsError(
            "The rows are taken out for good, but not yet the files and free pages that they lay on: the disk is full, "
            "or another program holds the records open. Free some space, close other programs, then run "
            "`tressmeter doctor`: it finishes the work."
        ) from problem


def _unlearned(store: Store, code: str) -> int:
    """How many outcomes of this client the salon's journal no longer holds."""
    journal = salon_journal(store.place.folder)
    if not journal.path.exists():
        return 0
    before = len(journal.load().outcomes)
    return before - len(journal.change(lambda kept: kept.without_clients((code,))).outcomes)


def _rows_erased(session: Session, client_id: str, files: int) -> model.Erasure:
    rows = 0
    # What leans on others goes first; versions before all, since they are found by the rows they belong to.
    others = [table for table in reversed(tables_with_clients()) if table.name != "version"]
    for table in (Base.metadata.tables["version"], *others):
        mine = of_client(table, client_id)
        assert mine is not None
        rows += session.execute(delete(table).where(mine)).rowcount  # type: ignore[attr-defined]
    receipt = model.Erasure(id=new_id(), at_utc=datetime.now(UTC), client_id=client_id, rows=rows, files=files)
    session.add(receipt)
    session.flush()
    session.expunge(receipt)
    return receipt


def erased_ids(store: Store) -> list[str]:
    """The names that erased clients had here, which say nothing of the person."""
    with store.looking() as session:
        return list(session.scalars(select(model.Erasure.client_id)))


def erase_again(store: Store, ids: list[str]) -> int:
    """How many of these clients were here, as a restored backup brings them back, and are erased now."""
    with store.looking() as session:
        there = list(session.scalars(select(model.Client.id).where(model.Client.id.in_(ids))))
    for client_id in there:
        erase_client(store, client_id)
    return len(there)


def erase_health(store: Store, code: str) -> int:
    """How many rows that tell of the client's health are gone, with the reports that told of it; the rest stays.

    Raises
    ------
    NotKeptError : There is no such client.
    """
    with store.looking() as session:
        client_id = client_row(session, code).id
        documents = set(
            session.scalars(select(model.Document.sha256).where(model.Document.visit_id.in_(_visits(client_id))))
        )
    with store.files.noted_to_erase(documents), store.writing("health answers erased") as session:
        rows = _health_erased(session, client_id)
    _tidied(store)
    return rows


def _visits(client_id: str) -> Select[str]:
    return select(model.Visit.id).where(model.Visit.client_id == client_id)


def _health_erased(session: Session, client_id: str) -> int:
    mine = _visits(client_id)
    consultations = select(model.Consultation.id).where(model.Consultation.client_id == client_id)
    # What a visit's row was before may tell a verdict of care as well.
    session.execute(delete(model.Version).where(model.Version.row_id.in_(consultations)))
    told = model.Version.row_id.in_(mine), model.Version.before.is_not(None)
    session.execute(delete(model.Version).where(*told))
    session.execute(
        update(model.Visit)
        .where(model.Visit.client_id == client_id)
        .values(consultation_id=None, care_verdict="", health_kept=False, version=model.Visit.version + 1)
    )
    rows = 0
    for gone in (
        delete(model.Consultation).where(model.Consultation.client_id == client_id),
        delete(model.AnswerRow).where(model.AnswerRow.visit_id.in_(mine)),
        delete(model.FindingRow).where(model.FindingRow.visit_id.in_(mine), model.FindingRow.about == "care"),
        delete(model.Document).where(model.Document.visit_id.in_(mine)),
    ):
        rows += session.execute(gone).rowcount  # type: ignore[attr-defined]
    _clock_health_erased(session, client_id)
    for visit in session.scalars(select(model.Visit).where(model.Visit.client_id == client_id)):
        index_visit(session, visit)
    return rows


def _clock_health_erased(session: Session, client_id: str) -> None:
    """What the clock's events say of the skin goes, here and in their versions; that they happened stays."""
    event = model.ClockEvent
    told = session.execute(select(event.id, event.content).where(event.visit_id.in_(_visits(client_id)))).all()
    ids = [row.id for row in told]
    session.execute(delete(model.Version).where(model.Version.row_id.in_(ids), model.Version.before.is_not(None)))
    for row in told:
        bare = clock_without_health(row.content)
        session.execute(update(event).where(event.id == row.id).values(content=bare, version=event.version + 1))
