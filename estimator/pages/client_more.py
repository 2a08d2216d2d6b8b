"""What is done with a client's record as a whole: details, undo, handing out, erasing."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.errors import EstimatorError
from estimator.pages import client_details, client_erasing, confirming, kept_clients, opened_client, person
from estimator.pages.showing import one_sentence, put, tell
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.records.last_change import LastChange
    from estimator.records.remembering import ClientMemory

_REFUSED = "client_undo_refused"
_UNDONE = {
    "visit kept": "a visit was kept",
    "visit taken back": "a visit was taken back",
    "client": "name, code or contact was changed",
    "consent given": "a consent was given",
    "consent withdrawn": "a consent was taken back",
    "quote": "what it takes was told",
    "mixed": "what was mixed was written down",
    "outcome": "an outcome was written down",
    "note": "a note was written",
}


def show(memory: "ClientMemory") -> None:
    """Details, undo; for an owner the whole record as a file, and erasing."""
    if person.may(Right.WORK):
        client_details.show(memory)
        _undo(memory)
    if person.may(Right.HAND_OUT):
        _hand_out(memory)
        client_erasing.show(memory)
    else:
        put("<div><p class='quiet'>Handing out the whole record and erasing it is for an owner of the salon.</p></div>")


def _undo(memory: "ClientMemory") -> None:
    """The last change, where it is of this client; another client's is never told here."""
    st.header("Undo")
    refused = st.session_state.pop(_REFUSED, "")
    if refused:
        tell("not possible", refused)
    last = kept_clients.last_change()
    if last is None or memory.details.id not in last.client_ids:
        put("<div><p>The last change in the records is not of this client, so there is nothing to undo here.</p></div>")
        return
    st.text(f"The last change: {_told(last)}.")
    st.button(f"Undo: {_UNDONE.get(last.what, last.what)}", key="client_undo", on_click=_put_back, args=(last,))


def _told(change: "LastChange") -> str:
    here = change.at_utc.astimezone()
    by = f", by {change.who}" if change.who else ""
    what = _UNDONE.get(change.what, change.what)
    return f"{what}, {wording.date_text(here.date())}, {here:%H:%M}{by}"


def _put_back(shown: "LastChange") -> None:
    """Undo the very change that was shown; called before the screen is drawn anew."""
    try:
        kept_clients.undo(shown)
        st.session_state[opened_client.SAID] = f"Undone: {_UNDONE.get(shown.what, shown.what)}."
    except EstimatorError as fault:
        st.session_state[_REFUSED] = str(fault)


def _hand_out(memory: "ClientMemory") -> None:
    """The client's whole record as one file; made when it is asked for."""
    st.header("Hand out")
    made: bytes | None = st.session_state.get("client_zip")
    if made is None:
        st.markdown("Everything kept of this client: readings, photographs, reports, in one zip file.")
        if confirming.asked("handing_out"):
            return
        with one_sentence():
            if st.button("Make the file", key="client_export"):
                with st.spinner("Collecting everything"):
                    st.session_state["client_zip"] = kept_clients.exported(memory.details.id)
                st.rerun()
        return
    st.markdown("The file is as private as the record, and is not encrypted. Hand it to the client alone.")
    st.download_button("Download the file", made, "client.zip", "application/zip", key="client_take", on_click="ignore")
