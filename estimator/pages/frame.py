"""What every screen has: the step, the client and the next step, always in view."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import streamlit as st

from estimator.pages import draft, unfinished
from estimator.pages.escaping import in_html
from estimator.pages.showing import one_sentence, put

_STYLE = Path(__file__).with_name("style.css")


@dataclass(frozen=True)
class Step:
    """One screen of a visit.

    path : Last part of its address.
    show : Draws the screen.
    """

    name: str
    path: str
    show: Callable[[], None]


def run(title: str, steps: tuple[Step, ...], above: Callable[[], None] = lambda: None) -> None:
    """Draw the screen that the address names, inside the frame that all screens share.

    above : Draws what stands above every screen.
    """
    st.set_page_config(page_title=title, layout="wide", initial_sidebar_state="collapsed")
    pages = [
        st.Page(step.show, title=step.name, url_path=step.path, default=number == 0)
        for number, step in enumerate(steps)
    ]
    chosen = st.navigation(pages, position="hidden")
    st.session_state["pages"] = {step.path: page for step, page in zip(steps, pages, strict=True)}
    st.html(_STYLE)
    with one_sentence():
        unfinished.open_from_address()
    with one_sentence():  # before the screen as well: what a widget has just changed is on the disk whatever comes
        unfinished.keep()
    number = next(i for i, page in enumerate(pages) if page == chosen)
    _bar(number, steps)
    _steps(number, pages, steps)
    with one_sentence():
        above()
    with one_sentence():
        chosen.run()
    with one_sentence():
        unfinished.keep()


def _bar(number: int, steps: tuple[Step, ...]) -> None:
    visit = draft.current()
    demo = '<span class="demo">DEMO</span>' if visit.demo else ""
    client = in_html(visit.client) if visit.client else "no client named"
    here = f"<span><b>Step {number + 1} of {len(steps)}: {steps[number].name}</b></span>"
    with st.container(key="bar"):
        put(f'<div class="where">{here}<span class="client">{client}</span>{demo}</div>')


def _steps(here: int, pages: list[Any], steps: tuple[Step, ...]) -> None:
    place = f".st-key-steps > :nth-child({here + 1}) a"
    st.html(f"<style>{place} {{ border: 3px solid var(--accent); }} {place} p {{ font-weight: 600; }}</style>")
    with st.container(key="steps", horizontal=True, gap="small"):
        for number, (page, step) in enumerate(zip(pages, steps, strict=True), start=1):
            st.page_link(page, label=f"**{number}** {step.name}")


def next_step(label: str, path: str, *, waits_for: str = "") -> None:
    """The main action of a screen: the way to the next step, or the sentence that says what it needs."""
    if main_action(f"Next: {label}", waits_for=f"Next: {label}, {waits_for}" if waits_for else ""):
        st.switch_page(st.session_state["pages"][path])


def main_action(label: str, *, waits_for: str = "") -> bool:
    """The one main action of a screen, always in view; True once it is pressed. A sentence while it must wait."""
    with st.container(key="action"):
        if waits_for:
            st.markdown(waits_for)
            return False
        return st.button(label, type="primary", key="main_action", width="stretch")
