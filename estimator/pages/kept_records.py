"""The salon's records as pages see them. No database is loaded before a visit is kept, or there are records to look in.

Only the client in hand is looked up, by the very code that was entered.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.errors import BadInputError
from estimator.pages import kept_papers, kept_plans, kept_readings, person, taught, unfinished
from estimator.pages.draft import Draft
from estimator.pages.outlines import drawn_zones
from estimator.records.errors import ConsentMissingError, NotKeptError
from estimator.records.place import SalonPlace, salon_place, usual_folder

if TYPE_CHECKING:
    from estimator.feedback.outcome import Outcome
    from estimator.records.consent_scopes import Scope
    from estimator.records.earlier import VisitThen
    from estimator.records.store import Store
    from estimator.records.visit_record import (
        ClockRecord,
        ConsentRecord,
        DocumentRecord,
        OutcomeRecord,
        QuoteRecord,
        VisitRecord,
    )
    from estimator.records.visits import KeptVisit
    from estimator.visit.keeping import Side


def place() -> SalonPlace:
    """Where this salon's records lie."""
    return salon_place(usual_folder())


def begun() -> bool:
    """Whether there are records to look in."""
    return place().begun


@contextmanager
def opened() -> "Iterator[Store]":
    """The records, for the person whose page this is: a change tells who made it."""
    from estimator.records.store import open_store

    with open_store(place(), person.who().name) as store:
        yield store


def agreed(visit: Draft) -> "dict[Scope, date]":
    """What the client in hand has agreed to and not taken back, with the day; nothing where the client is new."""
    from estimator.records.consent_scopes import Scope

    if not visit.client or not begun():
        return {}
    from estimator.records.showing import client_page

    with opened() as store:
        try:
            page = client_page(store, visit.client)
        except NotKeptError:
            return {}
    _need_same_kind(visit, page.details.demo)
    return {Scope(each.scope): each.given_on for each in page.consents if each.withdrawn_on is None}


def _need_same_kind(visit: Draft, kept_as_demo: bool) -> None:
    """Invented data never stand among a real client's visits, nor the other way round."""
    if visit.demo != kept_as_demo:
        what = "demo data" if kept_as_demo else "a real client"
        raise BadInputError(f"{visit.client[:60]} is kept as {what}. Give this visit another code on step 1.")


def need_consent(visit: Draft, scope: "Scope") -> None:
    """Nothing where the client in hand has agreed to this use. Raises ConsentMissingError."""
    from estimator.records.consent_scopes import scope_texts

    if scope not in agreed(visit):
        raise ConsentMissingError(
            f"There is no consent to {scope_texts()[scope].what}. Ask the client, then keep the visit with it."
        )


def keep(visit: Draft, consents: "tuple[ConsentRecord, ...]", replaced: str = "") -> "KeptVisit":
    """The visit in the records. replaced : An earlier state of it, which goes out of sight once this one is kept.

    Raises
    ------
    BadInputError : It has no client's code, or the code is kept as another kind of data.
    ConsentMissingError : The client has not agreed to a record; nothing was written.
    RecordsError : The records can't take it; nothing is half kept.
    NotAllowedError : The person only looks.
    """
    from estimator.records.consent_scopes import Scope

    person.must(Right.WORK)
    if not visit.client:
        raise BadInputError("A visit is kept under a client's code. Give initials or a code on step 1.")
    if Scope.RECORD not in {*agreed(visit), *(consent.scope for consent in consents)}:
        raise ConsentMissingError("Nothing was kept: the client has not agreed to the record. Ask, then tick it.")
    told = replace(_record(visit), consents=consents)
    from estimator.records.clients import give_consent
    from estimator.records.taking_back import take_back as put_out_of_sight
    from estimator.records.visits import keep_visit

    with opened() as store:
        kept_visit = keep_visit(store, told)
        if not kept_visit.new:  # it was there already, but what the client agrees to now may be new
            for consent in consents:
                give_consent(store, visit.client, consent)
        if replaced and replaced != kept_visit.id:
            put_out_of_sight(store, replaced)
    return replace(kept_visit, left_out=(*kept_visit.left_out, *_clock_fault(visit)))


def take_back(visit_id: str) -> None:
    """The visit out of sight, as if it had not been kept. Raises NotKeptError, RecordsError."""
    from estimator.records.taking_back import take_back as put_out_of_sight

    person.must(Right.WORK)
    with opened() as store:
        put_out_of_sight(store, visit_id)


def earlier(visit: Draft) -> "tuple[VisitThen, ...]":
    """Visits kept of the client in hand, the oldest first. Raises ConsentMissingError where it was taken back."""
    if not visit.client or not begun():
        return ()
    from estimator.records.earlier import earlier_visits

    with opened() as store:
        try:
            return earlier_visits(store, visit.client)
        except NotKeptError:
            return ()


def quote_of(visit: Draft) -> "QuoteRecord | None":
    """What the client in hand was told last that it takes; None where nothing was kept, or may not be shown."""
    if not visit.client or not begun():
        return None
    from estimator.records.quotes import latest_quote

    with opened() as store, suppress(NotKeptError, ConsentMissingError):
        return latest_quote(store, visit.client)
    return None


def _record(visit: Draft) -> "VisitRecord":
    from estimator.visit.keeping import Wanted, visit_record

    if visit.before is None:
        raise BadInputError("There is no photograph from before, so there is nothing to keep. Take one in step 1.")
    wishes = bool(visit.wishes) and not kept_readings.reading_before(visit).refused
    wanted = Wanted(kept_plans.targets(visit), kept_plans.hair(visit)) if wishes else Wanted()
    heading, told = kept_papers.heading(visit), kept_plans.consultation(visit)
    made = visit_record(heading, _sides(visit), told, kept_plans.checked(visit), wanted)
    return replace(
        made, documents=_report_made(visit), outcomes=(*made.outcomes, *_learned(visit)), clock=_clock(visit)
    )


def state_of(visit: Draft) -> str:
    """Changes whenever what would be kept of this visit does."""
    timed = [str(event.content["id"]) for event in _clock(visit)]
    return " ".join((kept_papers.report_key(visit), *(outcome.key for outcome in _learned_here(visit)), *timed))


def _clock(visit: Draft) -> "tuple[ClockRecord, ...]":
    """What the clock of the lift says of the visit in hand: of the runs that were started while it was."""
    from estimator.pages.kept_lift import store
    from estimator.visit.keeping import clock_records

    try:
        return clock_records(store(), unfinished.name_in_hand(), visit.day or date.today())
    except BadInputError:  # a damaged clock keeps no visit from being kept; `_clock_fault` says so
        return ()


def _clock_fault(visit: Draft) -> tuple[str, ...]:
    """Why the clock's events were not kept, in a sentence; nothing where they were."""
    from estimator.pages.kept_lift import store

    try:
        store().all_clocks(visit.day or date.today())
    except BadInputError as problem:
        return (f"The clock's events were left out. {problem}",)
    return ()


def _learned_here(visit: Draft) -> "list[Outcome]":
    """What was learned from this very visit."""
    mine = taught.code(visit), taught.day(visit)
    return [outcome for outcome in taught.journal(visit).outcomes if (outcome.client, outcome.day) == mine]


def _learned(visit: Draft) -> "tuple[OutcomeRecord, ...]":
    from estimator.records.visit_record import OutcomeRecord
    from estimator.reports import wording
    from estimator.visit.keeping import as_json

    return tuple(
        OutcomeRecord(one.zone, f"learned from, {wording.plain_text(one.minutes)} minutes on the hair", as_json(one))
        for one in _learned_here(visit)
    )


def _sides(visit: Draft) -> "tuple[Side, ...]":
    from estimator.visit.keeping import Side

    assert visit.before is not None
    turned = (visit.turned.photo_bytes,) if visit.turned and drawn_zones(visit.turned) else ()
    before = Side("before", kept_readings.reading_before(visit), (visit.before.photo_bytes, *turned))
    if visit.after is None:
        return (before,)
    return before, Side("after", kept_readings.reading(visit.after), (visit.after.photo_bytes,))


def _report_made(visit: Draft) -> "tuple[DocumentRecord, ...]":
    """The report, where it was made of the visit as it stands."""
    from estimator.visit.keeping import report_records

    key, made = st.session_state.get("report") or ("", None)
    return report_records(made.html, made.pdf) if made and key == kept_papers.report_key(visit) else ()
