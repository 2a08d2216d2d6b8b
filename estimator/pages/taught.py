"""The journal of outcomes as pages see it: in the salon's folder, and for a demo visit in the session alone."""

import datetime
from collections.abc import Iterable
from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.pages import person
from estimator.pages.draft import Draft

if TYPE_CHECKING:
    from estimator.feedback.journal import Journal
    from estimator.feedback.journal_store import JournalStore
    from estimator.feedback.outcome import Outcome

_DEMO = "demo_journal"


def store() -> "JournalStore":
    """The journal's file."""
    from estimator.records.beside import salon_journal
    from estimator.records.place import usual_folder

    return salon_journal(usual_folder())


def journal(visit: Draft) -> "Journal":
    """What was learned so far. Raises BadInputError for a journal that can't be read."""
    from estimator.feedback.journal import Journal

    if visit.demo:
        kept: Journal = st.session_state.get(_DEMO, Journal())
        return kept
    return store().load()


def earlier(visit: Draft) -> "Journal":
    """What was learned from other visits: the plan of this one rests on them, and never on its own result."""
    return journal(visit).apart_from(code(visit), day(visit))


def key(visit: Draft) -> str:
    """Changes whenever what this visit's plan may rest on does."""
    return ",".join((code(visit), *(outcome.key for outcome in earlier(visit).outcomes)))


def code(visit: Draft) -> str:
    """The client's code in the journal."""
    return visit.client or "no code"


def day(visit: Draft) -> datetime.date:
    """The day of the visit; today where none was entered."""
    return visit.day or datetime.date.today()


def learn(visit: Draft, outcomes: "Iterable[Outcome]") -> None:
    """Keep these outcomes; those of a demo visit are forgotten with the session. Raises BadInputError, OutputError."""
    person.must(Right.WORK)
    new = tuple(outcomes)
    if visit.demo:
        st.session_state[_DEMO] = journal(visit).with_outcomes(new)
    else:
        store().change(lambda held: held.with_outcomes(new))


def take_back(visit: Draft, keys: Iterable[str]) -> None:
    """As if these outcomes had never been learned. Raises BadInputError, OutputError."""
    person.must(Right.WORK)
    dropped = tuple(keys)
    if visit.demo:
        st.session_state[_DEMO] = journal(visit).without(dropped)
    else:
        store().change(lambda held: held.without(dropped))
