"""A client's code, name and contact, changed; where somebody else changed them meanwhile, both are shown."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import kept_clients, opened_client
from estimator.pages.escaping import in_html
from estimator.pages.showing import one_sentence, put, tell
from estimator.records.errors import ChangedMeanwhileError

if TYPE_CHECKING:
    from estimator.records.clients import ClientDetails
    from estimator.records.remembering import ClientMemory

_SEEN, _TYPED = "client_seen", "client_conflict"
Entered = tuple[str, str, str]


def show(memory: "ClientMemory") -> None:
    """The form; in a conflict what is kept and what was typed, and a key for each."""
    st.header("Name and contact")
    typed: Entered | None = st.session_state.get(_TYPED)
    if typed is not None:
        _conflict(memory.details, typed)
        return
    seen: ClientDetails = st.session_state.setdefault(_SEEN, memory.details)
    version = f"{seen.id}_{seen.seen_version}"
    with st.form(f"details_{version}", border=False):
        code = st.text_input("Initials or code", seen.code, 200, key=f"details_code_{version}")
        name = st.text_input("Name, if it is wanted", seen.name, 200, key=f"details_name_{version}")
        contact = st.text_input("Contact, if it is wanted", seen.contact, 400, key=f"details_contact_{version}")
        sent = st.form_submit_button("Keep the changes", key="keep_details")
    if sent:
        with one_sentence():
            _keep(seen, (code, name, contact))


def _keep(seen: "ClientDetails", entered: Entered) -> None:
    try:
        kept_clients.change(seen, *entered)
    except ChangedMeanwhileError:
        st.session_state[_TYPED] = entered
    else:
        st.session_state[opened_client.SAID] = "The changes are kept. What stood before stays in the history."
        _begin_anew()
    st.rerun()


def _begin_anew() -> None:
    for name in (_SEEN, _TYPED):
        st.session_state.pop(name, None)


def _conflict(now: "ClientDetails", typed: Entered) -> None:
    """What somebody else has kept since the form was opened, beside what was typed here."""
    tell(
        "care",
        "Somebody else changed this client while you were typing. Nothing of yours is kept yet.",
        "Look at both, then keep one of them.",
        said="changed meanwhile",
    )
    rows = zip(("Code", "Name", "Contact"), (now.code, now.name, now.contact), typed, strict=True)
    lines = "".join(
        f"<tr><th>{what}</th><td>{in_html(kept) or 'none'}</td><td>{in_html(mine) or 'none'}</td></tr>"
        for what, kept, mine in rows
    )
    head = "<tr><th></th><th>Kept meanwhile</th><th>Typed here</th></tr>"
    put(f'<div class="wide"><table class="both">{head}{lines}</table></div>')
    with st.container(horizontal=True, gap="small"), one_sentence():
        if st.button("Keep what I typed", key="conflict_mine"):
            _keep(now, typed)
        if st.button("Leave what is kept", key="conflict_theirs"):
            _begin_anew()
            st.rerun()
