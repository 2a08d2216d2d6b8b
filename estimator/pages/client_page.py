"""One client: visits, consents, answers, notes, and what is done with the record as a whole. One part at a time."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.pages import (
    client_answers,
    client_consents,
    client_more,
    client_new_visit,
    client_notes,
    client_visit,
    client_visits,
    kept_clients,
    opened_client,
    person,
)
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.frame import main_action
from estimator.pages.showing import one_sentence, put, tell
from estimator.records.consent_scopes import Scope
from estimator.records.errors import NotKeptError

if TYPE_CHECKING:
    from estimator.records.remembering import ClientMemory

VISITS, CONSENTS, ANSWERS, NOTES, MORE = "Visits", "Consents", "Answers", "Notes", "More"
_DRAWN = {
    VISITS: client_visits.show,
    CONSENTS: client_consents.show,
    ANSWERS: client_answers.show,
    NOTES: client_notes.show,
    MORE: client_more.show,
}


def show(code: str) -> None:
    """The client's screen, or that of one visit of the client."""
    try:
        memory = kept_clients.memory_of(code)
    except NotKeptError:
        _gone()
        return
    opened_client.name_in_address(memory.details.id)
    if opened_client.visit_id():
        client_visit.show(memory, opened_client.visit_id())
        return
    st.button("All clients", key="clients_back", on_click=opened_client.close)
    _head(memory)
    parts = list(_DRAWN) if Scope.RECORD in memory.agreed else [CONSENTS, MORE]
    chosen = _part(parts)
    with one_sentence():
        _DRAWN[chosen](memory)
    if person.may(Right.WORK) and Scope.RECORD in memory.agreed and main_action("Begin a visit"):
        with one_sentence():
            client_new_visit.begin(memory)


def _part(parts: list[str]) -> str:
    if st.session_state.get(opened_client.PART) not in parts:
        st.session_state[opened_client.PART] = parts[0]
    return str(st.pills("What to look at", parts, key=opened_client.PART, label_visibility="collapsed"))


def _gone() -> None:
    st.title("Clients")
    tell("note", "This client is not in the records any more.", "Go back to the list.", said="not here")
    st.button("All clients", key="clients_back", on_click=opened_client.close)


def _head(memory: "ClientMemory") -> None:
    """Who it is; without the consent to the record the code alone."""
    details, shown = memory.details, Scope.RECORD in memory.agreed
    st.title(in_markdown(details.code))
    said = st.session_state.pop(opened_client.SAID, "")
    if said:
        tell("note", said, said="done")
    demo = " <span class='unverified'>DEMO</span>" if details.demo else ""
    about = [in_html(text) for text in (details.name, details.contact) if text and shown]
    if about or demo:
        put(f"<div class='whose'><p>{', '.join(about)}{demo}</p></div>")
    if not shown:
        tell(
            "note",
            "This client does not agree to the record, so nothing of it is shown and nothing more is kept.",
            "Ask again under Consents, or let an owner erase the client under More.",
            said="no consent to the record",
        )
