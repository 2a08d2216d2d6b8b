"""Erasing one client: said first what goes, done once the code is typed, and a receipt that names nobody."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import confirming, kept_clients, opened_client, unfinished
from estimator.pages.escaping import in_markdown
from estimator.pages.showing import one_sentence, tell
from estimator.records.search_keys import folded

if TYPE_CHECKING:
    from estimator.records.clients import ClientDetails
    from estimator.records.erasing import Receipt
    from estimator.records.remembering import ClientMemory

_OPEN = "client_erase"
ELSEWHERE = "Backups made before, and copies that were handed out, still hold this client. Erase there as well."
_SESSION_COPIES = ("papers", "report", "kept_visit", "client_zip")


def show(memory: "ClientMemory") -> None:
    """Two steps: the first says what goes, the second wants the code."""
    st.header("Erase")
    details = memory.details
    if not st.session_state.get(_OPEN):
        st.markdown("Takes out everything of this client for good.")
        st.button("Erase this client", key="client_erase_open", on_click=_open)
        return
    tell(
        "care",
        "Every visit, photograph, reading, report, note, consent and unfinished visit of this client goes for good. "
        "It can't be undone.",
        ELSEWHERE,
        said="erasing",
    )
    if confirming.asked("erasing"):
        st.button("Not now", key="client_erase_not_now", on_click=_close)
        return
    typed = st.text_input(f"Type the code to erase: {in_markdown(details.code)}", "", 200, key="client_erase_code")
    with st.container(horizontal=True, gap="small"):
        st.button("Not now", key="client_erase_not_now", on_click=_close)
        wanted = st.button("Erase for good", key="client_erase_do")
    if wanted:
        with one_sentence():
            _erase(details, typed)


def _open() -> None:
    st.session_state[_OPEN] = True


def _close() -> None:
    st.session_state[_OPEN] = False


def _erase(details: "ClientDetails", typed: str) -> None:
    with st.spinner("Erasing"):
        receipt = kept_clients.erase(details, typed)
    unfinished.forget(lambda client: folded(client) in {folded(details.code), folded(details.name)} - {""})
    for name in _SESSION_COPIES:
        st.session_state.pop(name, None)
    opened_client.close()
    st.session_state[opened_client.SAID] = _told(receipt)
    st.rerun()


def _told(receipt: "Receipt") -> str:
    counts = f"{receipt.rows} rows, {receipt.files} files, {receipt.drafts} unfinished visits"
    return (
        f"Erased: {counts}, {receipt.outcomes} learned outcomes. Receipt {receipt.id}, "
        f"{receipt.at_utc:%Y-%m-%d %H:%M} UTC; it names nobody. {ELSEWHERE}"
    )
