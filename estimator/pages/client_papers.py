"""Papers of a kept visit: the reports that were kept with it, its record, and a letter to the client."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.pages import kept_clients, person
from estimator.pages.papers import HIDING, MOSAIC
from estimator.pages.showing import one_sentence
from estimator.records.consent_scopes import Scope

if TYPE_CHECKING:
    from estimator.records.remembering import VisitFiles
    from estimator.records.whole_visit import WholeVisit

_KINDS = {"pdf": "application/pdf", "html": "text/html", "png": "image/png"}
_NAMES = {"pdf": "PDF", "html": "page", "png": "PNG"}
_MADE = {"visit-record": "visit record", "letter": "letter to the client"}
HELD = "client_papers"  # made in this session: what they are, of which visit, as it stood at which change


def show(whole: "WholeVisit", files: "VisitFiles") -> None:
    """Kept reports to be opened; new papers to be made for whoever works here."""
    day = whole.record.day.isoformat()
    makes = person.may(Right.WORK)
    if files.papers or makes:
        st.header("Reports")
    for number, (ending, sha256) in enumerate(files.papers, 1):
        with one_sentence():
            label = f"Open the report ({_NAMES.get(ending, ending)})"
            _offer(label, kept_clients.file(sha256), f"{day}-{number}.{ending}", f"paper_{number}")
    if makes:
        for what in _MADE:
            with one_sentence():
                _make(_Asked(what, _MADE[what], "pdf", partial(kept_clients.paper, what, whole.id)), whole, day)
        if any(photo.outlines for photo in whole.record.photos):
            with one_sentence():
                _portfolio(whole, day)


def _portfolio(whole: "WholeVisit", day: str) -> None:
    agreed = any(each.scope is Scope.PORTFOLIO and each.withdrawn_on is None for each in whole.consents)
    if not (agreed or whole.record.demo):
        st.markdown("No portfolio picture: the client has not agreed to be shown to others.")
        return
    st.markdown("Hair before and after, all else hidden.")
    hide = st.pills("What becomes of all that is not hair", tuple(HIDING), default=MOSAIC, key="kept_portfolio_hide")
    how = HIDING[hide or MOSAIC]
    made = partial(kept_clients.portfolio_picture, whole.id, how)
    _make(_Asked(f"portfolio-{how}", "portfolio picture", "png", made), whole, day)


@dataclass(frozen=True)
class _Asked:
    """A paper to be made. what : Tells it from the others. words : What it is called."""

    what: str
    words: str
    ending: str
    make: Callable[[], bytes]


def _make(asked: _Asked, whole: "WholeVisit", day: str) -> None:
    """A key that makes the paper; once it is made of the visit as it stands, a key to take it away."""
    held: dict[tuple[str, str, int], bytes] = st.session_state.setdefault(HELD, {})
    key = (asked.what, whole.id, whole.last_change)
    if key not in held and st.button(f"Make the {asked.words}", key=f"make_{asked.what}"):
        with st.spinner("Setting the sheet"):
            st.session_state[HELD] = {key: asked.make()} | held
        st.rerun()
    if key in held:
        label = f"Open the {asked.words} ({_NAMES[asked.ending]})"
        _offer(label, held[key], f"{day}-{asked.what}.{asked.ending}", f"take_{asked.what}")


def _offer(label: str, content: bytes, name: str, key: str) -> None:
    kind = _KINDS.get(name.rpartition(".")[2], "application/octet-stream")
    st.download_button(label, content, name, kind, key=key, on_click="ignore")
