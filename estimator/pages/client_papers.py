"""Papers of a kept visit: the reports that were kept with it, its record, and a letter to the client."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.pages import kept_clients, person
from estimator.pages.showing import one_sentence

if TYPE_CHECKING:
    from estimator.records.remembering import VisitFiles
    from estimator.records.whole_visit import WholeVisit

_KINDS = {"pdf": "application/pdf", "html": "text/html"}
_NAMES = {"pdf": "PDF", "html": "page"}
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
                _make(what, whole, day)


def _make(what: str, whole: "WholeVisit", day: str) -> None:
    """A key that makes the paper; once it is made of the visit as it stands, a key to take it away."""
    held: dict[tuple[str, str, int], bytes] = st.session_state.setdefault(HELD, {})
    key = (what, whole.id, whole.last_change)
    if key not in held and st.button(f"Make the {_MADE[what]}", key=f"make_{what}"):
        with st.spinner("Setting the sheet"):
            st.session_state[HELD] = {key: kept_clients.paper(what, whole.id)} | held
        st.rerun()
    if key in held:
        _offer(f"Open the {_MADE[what]} (PDF)", held[key], f"{day}-{what}.pdf", f"take_{what}")


def _offer(label: str, content: bytes, name: str, key: str) -> None:
    kind = _KINDS.get(name.rpartition(".")[2], "application/octet-stream")
    st.download_button(label, content, name, kind, key=key, on_click="ignore")
