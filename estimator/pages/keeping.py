"""Keeping a visit in the salon's records, with the client's consent, and taking it back."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from estimator.errors import BadInputError
from estimator.pages import kept_records, taught, unfinished
from estimator.pages.draft import Draft
from estimator.pages.escaping import in_html
from estimator.pages.showing import capital, one_sentence, put, tell
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.records.visit_record import ConsentRecord

_ASKED = (Scope.RECORD, Scope.HEALTH, Scope.PORTFOLIO)
_AGREES = "the client agrees"
_HOW = ("signed", "spoken", "by a tap")
_KEPT, _OPEN = "kept_visit", "keeping_open"


@dataclass(frozen=True)
class _Kept:
    """What this session has kept. key : Of the visit as it stood then. whose : Tells it from every other visit."""

    key: str
    visit_id: str
    client: str
    whose: tuple[str, ...]
    photos: int
    left_out: tuple[str, ...]


def show(visit: Draft) -> None:
    """The section: keep the visit, or what was kept and the way back."""
    st.header("Records")
    with one_sentence():
        done = _done(visit)
        if done is not None:
            _say_kept(done)
            if done.key == kept_records.state_of(visit):
                return
            st.markdown("The visit was changed since. Keeping it once more puts it in place of the one kept before.")
        if not st.session_state.get(_OPEN):
            st.button("Keep this visit in the records", key="keep_open", on_click=_open)
            return
        _form(visit)


def _done(visit: Draft) -> _Kept | None:
    """What was kept of this very visit; another one of the same client is never put out of sight by it."""
    done: _Kept | None = st.session_state.get(_KEPT)
    return done if done is not None and done.whose == _whose(visit) else None


def _whose(visit: Draft) -> tuple[str, ...]:
    return unfinished.name_in_hand(), visit.client, taught.day(visit).isoformat()


def _open() -> None:
    st.session_state[_OPEN] = True


def _close() -> None:
    st.session_state[_OPEN] = False


def _form(visit: Draft) -> None:
    """What the client is asked, each use on its own, with the very text that is kept."""
    if not visit.client:
        tell("note", "A visit is kept under a client's code.", "Give initials or a code on step 1.", said="no client")
        return
    standing = kept_records.agreed(visit)
    if visit.demo:
        st.markdown("This is demo data, and is kept marked as such.")
    asked = [scope for scope in _ASKED if scope not in standing]
    for scope in _ASKED:
        _ask(scope, standing.get(scope))
    how, day = _how_and_when() if asked else ("", "")
    with st.container(horizontal=True, gap="small"):
        wanted = st.button("Keep", key="keep")
        st.button("Not now", key="keep_not_now", on_click=_close)
    if wanted:
        with st.spinner("Keeping the visit"):
            _keep(visit, _given(asked, how, day))
        st.rerun()


def _ask(scope: Scope, given_on: date | None) -> None:
    usual = scope_texts()[scope]
    if given_on is not None:
        put(f"<div><p>Agreed on {in_html(wording.date_text(given_on))}: {in_html(usual.what)}.</p></div>")
        return
    put(f'<div class="told plain"><p>{in_html(usual.text)}</p></div>')
    st.pills(capital(usual.what), (_AGREES,), key=f"agrees_{scope.value}")


def _how_and_when() -> tuple[str, str]:
    how = st.pills("How the client said so", _HOW, key="agrees_how") or ""
    day = st.text_input("On which day, such as 2026-10-05", date.today().isoformat(), 10, key="agrees_on")
    return how, day


def _given(asked: list[Scope], how: str, day: str) -> "tuple[ConsentRecord, ...]":
    from estimator.records.visit_record import ConsentRecord

    ticked = [scope for scope in asked if st.session_state.get(f"agrees_{scope.value}")]
    if not ticked:
        return ()
    on = _day(day)
    return tuple(ConsentRecord(scope, on, how, scope_texts()[scope].text) for scope in ticked)


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as problem:
        raise BadInputError(f"{text!r} is no day. Write it as 2026-10-05; nothing was kept.") from problem
    if day > date.today():
        raise BadInputError("The day of the consent is still to come. Write the day on which the client agreed.")
    return day


def _keep(visit: Draft, consents: "tuple[ConsentRecord, ...]") -> None:
    done = _done(visit)
    made = kept_records.keep(visit, consents, done.visit_id if done is not None else "")
    photos = 1 + sum(shot is not None for shot in (visit.turned, visit.after))
    key = kept_records.state_of(visit)
    st.session_state[_KEPT] = _Kept(key, made.id, visit.client, _whose(visit), photos, made.left_out)
    _close()


def _say_kept(done: _Kept) -> None:
    what = f"Readings, plan and {wording.count_text(done.photos, 'photo')}. Found again on the screen Clients."
    tell("note", what, " ".join(done.left_out), said=f"kept under {done.client}")
    if st.button("Take it back", key="keep_undo"):
        kept_records.take_back(done.visit_id)
        st.session_state.pop(_KEPT, None)
        st.rerun()
