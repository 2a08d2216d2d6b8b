"""Clients as the Clients screens see them: every look and every act asks the right of the person whose page it is."""

import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from estimator.access.roles import Right
from estimator.errors import BadInputError
from estimator.pages import kept_records, person
from estimator.records.consent_scopes import Scope

if TYPE_CHECKING:
    from estimator.records.clients import ClientDetails
    from estimator.records.earlier import VisitThen
    from estimator.records.erasing import Receipt
    from estimator.records.last_change import LastChange
    from estimator.records.remembering import ClientMemory, VisitFiles
    from estimator.records.searching import Asked, FoundClient, FoundVisit
    from estimator.records.visit_record import MixedRecord, QuoteRecord
    from estimator.records.whole_visit import WholeVisit
    from estimator.records.withdrawing import Withdrawn

LINES = 10
Place = tuple[date, str]


@dataclass(frozen=True)
class FoundPage:
    """Some visits of a list. next : Where the next page goes on; None where this is the last."""

    visits: "tuple[FoundVisit, ...]"
    next: Place | None


def visits_found(asked: "Asked", after: Place | None) -> FoundPage:
    """Visits that answer to what was asked, the newest first; none without consent to it. Raises BadInputError."""
    from estimator.records.remembering import with_consent
    from estimator.records.searching import find_visits

    person.must(Right.LOOK)
    with kept_records.opened() as store:
        found = find_visits(store, asked, after, LINES + 1)
        shown = found[:LINES]
        agreed = with_consent(store, tuple(each.code for each in shown))
    more = shown[-1].place if len(found) > LINES else None
    return FoundPage(tuple(each for each in shown if each.code in agreed), more)


def clients_named(text: str) -> "tuple[tuple[FoundClient, bool], ...]":
    """Clients whose name or code begins so, each with whether the record is agreed to. Raises BadInputError."""
    from estimator.records.remembering import with_consent
    from estimator.records.searching import find_clients

    person.must(Right.LOOK)
    with kept_records.opened() as store:
        found = find_clients(store, text)
        agreed = with_consent(store, tuple(each.code for each in found))
    return tuple((each, each.code in agreed) for each in found)


def memory_of(code: str) -> "ClientMemory":
    """What is remembered of a client. Raises NotKeptError."""
    from estimator.records.remembering import client_memory

    person.must(Right.LOOK)
    with kept_records.opened() as store:
        return client_memory(store, code)


def visits_of(code: str) -> "tuple[VisitThen, ...]":
    """The client's visits, the oldest first. Raises NotKeptError, ConsentMissingError."""
    from estimator.records.earlier import earlier_visits

    person.must(Right.LOOK)
    with kept_records.opened() as store:
        return earlier_visits(store, code)


def visit(visit_id: str) -> "tuple[WholeVisit, VisitFiles]":
    """One visit whole, and its files. Raises NotKeptError, ConsentMissingError."""
    from estimator.records.remembering import visit_files
    from estimator.records.whole_visit import whole_visit

    person.must(Right.LOOK)
    with kept_records.opened() as store:
        return whole_visit(store, visit_id), visit_files(store, visit_id)


def pictures_of(visit_ids: tuple[str, ...]) -> dict[str, tuple[tuple[str, bytes], ...]]:
    """Side and bytes of the small pictures of these visits; one that is missing is left out, the doctor tells of it."""
    from estimator.records.errors import RecordsError
    from estimator.records.remembering import visit_files

    person.must(Right.LOOK)
    found: dict[str, tuple[tuple[str, bytes], ...]] = {}
    with kept_records.opened() as store:
        for visit_id in visit_ids:
            pictures = []
            for side, sha256 in visit_files(store, visit_id).pictures:
                try:
                    pictures.append((side, store.files.get(sha256)))
                except RecordsError:
                    continue
            found[visit_id] = tuple(pictures)
    return found


def file(sha256: str) -> bytes:
    """The content of a kept file. Raises RecordsError where it is missing or damaged."""
    person.must(Right.LOOK)
    with kept_records.opened() as store:
        return store.files.get(sha256)


# --- what a colourist does


def give(code: str, scope: Scope, how: str) -> None:
    """Keep that the client agrees today to one use, by the usual text. Raises BadInputError, NotKeptError."""
    from estimator.records.clients import give_consent
    from estimator.records.visit_record import ConsentRecord

    person.must(Right.WORK)
    with kept_records.opened() as store:
        give_consent(store, code, ConsentRecord(scope, date.today(), how))


def take_back(code: str, scope: Scope, how: str) -> "Withdrawn":
    """Keep that the client takes one consent back today; health answers go with theirs. Raises NotKeptError."""
    from estimator.records.withdrawing import withdraw

    person.must(Right.WORK)
    with kept_records.opened() as store:
        return withdraw(store, code, scope, date.today(), how)


def add_note(code: str, text: str) -> None:
    """Keep a note of today. Raises BadInputError, ConsentMissingError."""
    from estimator.records import adding

    person.must(Right.WORK)
    with kept_records.opened() as store:
        adding.add_note(store, code, date.today(), text)


def add_quote(code: str, quote: "QuoteRecord") -> None:
    """Keep what the client was told that it takes. Raises BadInputError, ConsentMissingError."""
    from estimator.records.quotes import keep_quote

    person.must(Right.WORK)
    with kept_records.opened() as store:
        keep_quote(store, code, quote)


def add_mixed(visit_id: str, mixed: "MixedRecord") -> None:
    """Keep what was really mixed for a bowl. Raises BadInputError, ConsentMissingError."""
    from estimator.records import adding

    person.must(Right.WORK)
    with kept_records.opened() as store:
        adding.add_mixed(store, visit_id, mixed)


def add_outcome(visit_id: str, zone: str, told: str) -> None:
    """Keep what came of a zone. Raises BadInputError, ConsentMissingError."""
    from estimator.records import adding
    from estimator.records.visit_record import OutcomeRecord

    person.must(Right.WORK)
    with kept_records.opened() as store:
        adding.add_outcome(store, visit_id, OutcomeRecord(zone, told))


def change(seen: "ClientDetails", code: str, name: str, contact: str) -> "ClientDetails":
    """The client with what differs from what was seen. Raises ChangedMeanwhileError, BadInputError."""
    from estimator.records.clients import change_client

    person.must(Right.WORK)
    entered = {"code": code.strip(), "name": name.strip(), "contact": contact.strip()}
    fields = {what: text for what, text in entered.items() if text != getattr(seen, what)}
    if not fields:
        return seen
    with kept_records.opened() as store:
        return change_client(store, seen, **fields)


def last_change() -> "LastChange | None":
    """What an undo would put back."""
    from estimator.records.last_change import last_change as found

    person.must(Right.LOOK)
    with kept_records.opened() as store:
        return found(store)


def undo(shown: "LastChange") -> None:
    """Put back the change that was shown. Raises ChangedMeanwhileError where another one came since."""
    from estimator.records.last_change import undo_shown

    person.must(Right.WORK)
    with kept_records.opened() as store:
        undo_shown(store, shown)


def paper(what: str, visit_id: str) -> bytes:
    """The "visit-record" or the "letter" of a kept visit, as PDF. Raises NotKeptError, ConsentMissingError."""
    from estimator.records.whole_visit import whole_visit
    from estimator.reports.client_letter import letter_form
    from estimator.reports.kept_letter import kept_letter
    from estimator.reports.visit_record import record_form
    from estimator.visit.recorded import visit_record_of

    person.must(Right.WORK)
    with kept_records.opened() as store:
        if what == "letter":
            found = whole_visit(store, visit_id)
            return letter_form(kept_letter(found), found.record.day).pdf()
        return record_form(visit_record_of(store, visit_id)).pdf()


def portfolio_picture(visit_id: str, hiding: str) -> bytes:
    """The hair of a kept visit, all else hidden, as PNG. hiding : "blur" or "cut", as in `Hiding`.

    Raises NotKeptError, ConsentMissingError, BadInputError.
    """
    from estimator.reports.portfolio import Hiding
    from estimator.visit.kept_pictures import kept_portfolio

    person.must(Right.WORK)
    with kept_records.opened() as store:
        return kept_portfolio(store, visit_id, Hiding(hiding))


# --- what an owner does


def exported(code: str) -> bytes:
    """Everything kept of the client as one zip file. Raises NotKeptError, OutputError."""
    from estimator.access.trail import Happened
    from estimator.exchange.beside import beside_client
    from estimator.records.exporting import export_client

    person.must(Right.HAND_OUT)
    person.must_be_confirmed()
    with tempfile.TemporaryDirectory(prefix="tressmeter-") as folder, kept_records.opened() as store:
        path = Path(folder) / "client.zip"
        export_client(store, code, path, beside_client)
        content = path.read_bytes()
    person.note_act(kept_records.place().folder, Happened.EXPORTED)
    return content


def erase(details: "ClientDetails", typed: str) -> "Receipt":
    """The receipt once nothing of the client is left. Raises BadInputError where another code was typed."""
    from estimator.access.trail import Happened
    from estimator.pages import remote_kept
    from estimator.records.erasing import erase_client

    person.must(Right.HAND_OUT)
    person.must_be_confirmed()
    if typed.strip() != details.code.strip():
        raise BadInputError("That is not this client's code. Nothing was erased. Type the code as it stands above.")
    with kept_records.opened() as store:
        receipt = erase_client(store, details.id)
    remote_kept.forget_client(details.code, details.name)
    person.note_act(kept_records.place().folder, Happened.ERASED)
    return receipt
