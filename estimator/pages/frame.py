"""What every screen has: the step, the client and the next step, and the ways to the areas beside a visit."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import streamlit as st

from estimator.access.roles import Right
from estimator.pages import draft, locking, person, unfinished
from estimator.pages.escaping import in_html
from estimator.pages.showing import begin_telling, one_sentence, put

_STYLE = Path(__file__).with_name("style.css")
_LAST_STEP = "last_step"


@dataclass(frozen=True)
class Step:
    """One screen of a visit.

    path : Last part of its address.
    show : Draws the screen.
    right : What a person must be allowed to do to see it.
    """

    name: str
    path: str
    show: Callable[[], None]
    right: Right = Right.WORK


@dataclass(frozen=True)
class Area:
    """One screen beside the steps of a visit; fields as in `Step`."""

    name: str
    path: str
    show: Callable[[], None]
    right: Right = Right.LOOK


def run(title: str, steps: tuple[Step, ...], areas: tuple[Area, ...], above: Callable[[], None] = lambda: None) -> None:
    """Draw the screen that the address names, inside the frame that all screens share.

    above : Draws what stands above every screen.
    """
    st.set_page_config(page_title=title, layout="wide", initial_sidebar_state="collapsed")
    st.html(_STYLE)
    begin_telling()
    someone = None
    with one_sentence():
        someone = person.who()
    if someone is None:
        return  # a phone that was locked meanwhile: not even a client's name is drawn
    every: tuple[Step | Area, ...] = (*steps, *areas)
    refused = tuple(screen for screen in every if not someone.may(screen.right))
    steps = tuple(step for step in steps if someone.may(step.right))
    areas = tuple(area for area in areas if someone.may(area.right))
    screens = (*steps, *areas, *refused)  # whose address answers with one sentence
    pages = [
        st.Page(screen.show, title=screen.name, url_path=screen.path, default=number == 0)
        for number, screen in enumerate(screens)
    ]
    chosen = st.navigation(pages, position="hidden")
    st.session_state["pages"] = {screen.path: page for screen, page in zip(screens, pages, strict=True)}
    number = next(i for i, page in enumerate(pages) if page == chosen)
    with one_sentence():
        unfinished.open_from_address()
    with one_sentence():  # before the screen as well: what a widget has just changed is on the disk whatever comes
        _keep_draft()
    _bar(number, screens[number].name, steps, areas)
    if number < len(steps):
        st.session_state[_LAST_STEP] = steps[number].path
        _steps(number, pages, steps)
    if steps:
        with one_sentence():
            above()
    with one_sentence():
        person.must(screens[number].right)
        chosen.run()
    with one_sentence():
        _keep_draft()


def _keep_draft() -> None:
    if person.may(Right.WORK):
        unfinished.keep()


def _bar(number: int, name: str, steps: tuple[Step, ...], areas: tuple[Area, ...]) -> None:
    with st.container(key="bar"):
        put(f'<div class="where">{_where(number, name, len(steps))}</div>')
        if areas:
            _ways(number, steps, areas)


def _where(number: int, name: str, steps: int) -> str:
    """The step and the client in hand; the name of an area alone, since it may show other clients."""
    if number >= steps:
        return f"<span><b>{name}</b></span>"
    visit = draft.current()
    demo = '<span class="demo">DEMO</span>' if visit.demo else ""
    client = in_html(visit.client) if visit.client else "no client named"
    here = f"<span><b>Step {number + 1} of {steps}: {name}</b></span>"
    return f'{here}<span class="client">{client}</span>{demo}'


def _ways(number: int, steps: tuple[Step, ...], areas: tuple[Area, ...]) -> None:
    """The ways to the visit, at the step last seen, and to each area."""
    pages = st.session_state["pages"]
    visit = pages.get(st.session_state.get(_LAST_STEP, ""), next(iter(pages.values())))
    _mark("ways", max(number - len(steps) + bool(steps), 0))
    with st.container(key="ways", horizontal=True, gap="small"):
        if steps:
            st.page_link(visit, label="Visit")
        for area in areas:
            st.page_link(pages[area.path], label=area.name)
        if person.on_a_phone():
            locking.show()


def _steps(here: int, pages: list[Any], steps: tuple[Step, ...]) -> None:
    _mark("steps", here)
    with st.container(key="steps", horizontal=True, gap="small"):
        for number, (page, step) in enumerate(zip(pages, steps, strict=False), start=1):
            st.page_link(page, label=f"**{number}** {step.name}")


def _mark(row: str, here: int) -> None:
    """The link of the screen that is shown stands out."""
    place = f".st-key-{row} > :nth-child({here + 1}) a"
    st.html(f"<style>{place} {{ border: 3px solid var(--accent); }} {place} p {{ font-weight: 600; }}</style>")


def next_step(label: str, path: str, *, waits_for: str = "") -> None:
    """The main action of a screen: the way to the next step, or the sentence that says what it needs."""
    if main_action(f"Next: {label}", waits_for=f"Next: {label}, {waits_for}" if waits_for else ""):
        go_to(path)


def go_to(path: str) -> None:
    """Leave for the step or area of this path."""
    st.switch_page(st.session_state["pages"][path])


def main_action(label: str, *, waits_for: str = "") -> bool:
    """The one main action of a screen, always in view; True once it is pressed. A sentence while it must wait."""
    with st.container(key="action"):
        if waits_for:
            st.markdown(waits_for)
            return False
        return st.button(label, type="primary", key="main_action", width="stretch")
