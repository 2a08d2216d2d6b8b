"""A client's consents: each use with the very text, given and taken back by one tap, and what happens then."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.pages import kept_clients, opened_client, person, told_before
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.showing import capital, one_sentence, put
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.records.remembering import ClientMemory, KeptConsent

HOW = ("spoken", "signed", "by a tap")
TAKEN_BACK = {
    Scope.RECORD: "Nothing more is kept or shown. What is there stays until an owner erases the client.",
    Scope.HEALTH: "The answers, care's findings and the reports that tell them are erased at once, for good.",
    Scope.REMOTE: "Nothing more is taken in from afar. What was sent stays with the record.",
    Scope.PORTFOLIO: "No more pictures are made for others. Take down those that were handed out.",
    Scope.TEACHING: "No more pictures or readings are used to teach. Take back those that were handed out.",
}


def show(memory: "ClientMemory") -> None:
    """Every use, with one button each."""
    works = person.may(Right.WORK)
    how = (st.pills("How the client says so", HOW, default=HOW[0], key="consent_how") or HOW[0]) if works else HOW[0]
    for scope in Scope:
        _use(memory, scope)
        if works:
            _button(memory, scope, how)


def _use(memory: "ClientMemory", scope: Scope) -> None:
    """One use: how it stands, with the text that was agreed to, and how it stood before."""
    told = [each for each in memory.consents if each.scope is scope]
    standing = [each for each in told if each.withdrawn_on is None]
    rows = "".join(f"<p><b>{_stands(each)}</b></p><p>{in_html(each.text)}</p>" for each in standing)
    asked = f"<p>{in_html(scope_texts()[scope].text)}</p><p class='how'>Not agreed to.</p>"
    before = "".join(f"<p class='quiet'>{_stands(each)}</p>" for each in told if each.withdrawn_on is not None)
    then = f"<p class='how'>When it is taken back: {in_html(TAKEN_BACK[scope])}</p>" if standing else ""
    what = capital(scope_texts()[scope].what)
    put(f'<div class="told plain"><p class="word">{in_html(what)}</p>{rows or asked}{then}{before}</div>')


def _stands(consent: "KeptConsent") -> str:
    given = f"Agreed on {wording.date_text(consent.given_on)}, {consent.how}"
    if consent.withdrawn_on is None:
        return in_html(f"{given}.")
    return in_html(f"{given}; taken back on {wording.date_text(consent.withdrawn_on)}, {consent.withdrawn_how}.")


def _button(memory: "ClientMemory", scope: Scope, how: str) -> None:
    what = in_markdown(scope_texts()[scope].what)
    code = memory.details.id
    with one_sentence():
        if scope in memory.agreed:
            if st.button(f"Take back: {what}", key=f"take_back_{scope.name}"):
                done = kept_clients.take_back(code, scope, how)
                if scope is Scope.HEALTH:
                    told_before.forget(memory.details.code)
                erased = f" {wording.count_text(done.health_rows, 'row')} erased." if scope is Scope.HEALTH else ""
                _said(f"Taken back: {scope_texts()[scope].what}. {TAKEN_BACK[scope]}{erased}")
        elif st.button(f"Agrees: {what}", key=f"agree_{scope.name}"):
            kept_clients.give(code, scope, how)
            _said(f"Agreed to, {how}: {scope_texts()[scope].what}. It can be taken back here at any time.")


def _said(words: str) -> None:
    st.session_state[opened_client.SAID] = words
    st.rerun()
