"""The draft of a reply: changed by the colourist, copied or downloaded, and sent by their own means."""

import hashlib

import streamlit as st

from estimator.pages.remote_case import Case
from estimator.pages.showing import put

_TEXT, _FROM = "remote_reply", "remote_reply_from"


def show(case: Case, draft: str) -> None:
    """The draft to change. What was changed by hand stays; a newer draft is offered, never put in its place unasked."""
    key, mark = f"{_TEXT}_{case.key}", hashlib.sha256(draft.encode()).hexdigest()
    known = st.session_state.setdefault(_FROM, {})
    before = known.get(case.key)
    if before is None or (before[0] != mark and st.session_state.get(key, before[1]) == before[1]):
        st.session_state[key] = draft
        known[case.key] = (mark, draft)
    elif before[0] != mark:
        put("<p>What was found has changed since you began to write.</p>")
        st.button("Begin again from the new draft", key="reply_anew", on_click=_anew, args=(case.key, mark, draft))
    text = st.text_area("A draft for you to change. Nothing is sent.", height=420, key=key)
    st.download_button("Download the reply as text", text.encode(), "reply.txt", "text/plain", on_click="ignore")


def _anew(case_key: str, mark: str, draft: str) -> None:
    st.session_state[f"{_TEXT}_{case_key}"] = draft
    st.session_state[_FROM][case_key] = (mark, draft)
