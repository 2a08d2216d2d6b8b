"""Answers of the client's last visit: shown with their day, and counted only once the client says that they hold."""

from typing import Any

import streamlit as st

from estimator.pages import draft
from estimator.pages.asking import forget_widgets, keep_if_allowed
from estimator.pages.draft import Draft
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.showing import put
from estimator.records.search_keys import folded
from estimator.reports import wording

FIRST_SHOWN = 5


def show(visit: Draft) -> None:
    """The answers that wait to be confirmed; nothing where there are none."""
    waiting = {fact: value for fact, value in visit.told_before.items() if fact not in visit.answers}
    if visit.told_on is None or not (waiting or visit.asked_anew):
        return
    st.header("Told before")
    day = wording.date_text(visit.told_on)
    put(f"<div><p>On {in_html(day)}. Ask each again: it counts once the client has said that it still holds.</p></div>")
    facts = list(waiting)
    for fact in facts[:FIRST_SHOWN]:
        _offer(fact, waiting[fact])
    if facts[FIRST_SHOWN:]:
        with st.expander(f"{wording.count_text(len(facts) - FIRST_SHOWN, 'more answer')} to confirm"):
            for fact in facts[FIRST_SHOWN:]:
                _offer(fact, waiting[fact])
    _anew(visit)


def _offer(fact: str, value: Any) -> None:
    from estimator.reports.answer_wording import about_text, value_text

    told = f"{about_text(fact)}: {value_text(fact, value)}"
    st.button(f"Still so: {in_markdown(told)}", key=f"still_{fact}", on_click=_confirm, args=(fact, value))


def _confirm(fact: str, value: Any) -> None:
    visit = draft.current()
    waiting = {name: told for name, told in visit.told_before.items() if name != fact}
    forget_widgets(fact)
    keep_if_allowed({"answers": {**visit.answers, fact: value}, "told_before": waiting})


def _anew(visit: Draft) -> None:
    """What was said then of things that change from week to week; to be compared, never taken over."""
    from estimator.reports.answer_wording import about_text, value_text

    if not visit.asked_anew:
        return
    rows = "".join(
        f"<li>{in_html(about_text(fact))}: {in_html(value_text(fact, value))}</li>"
        for fact, value in visit.asked_anew.items()
    )
    with st.expander(f"{wording.count_text(len(visit.asked_anew), 'answer')} of that day, asked anew"):
        put(f"<div><ul>{rows}</ul></div>")


def forget(code: str) -> None:
    """The visit in hand no longer tells what this client answered before."""
    if folded(draft.current().client) == folded(code):
        draft.change(told_before={}, asked_anew={}, told_on=None)
