"""Step 2: where each zone of hair lies."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import streamlit as st

from estimator.pages import draft, kept_readings, outlines
from estimator.pages.draft import Shot, Side
from estimator.pages.escaping import in_markdown
from estimator.pages.frame import next_step
from estimator.pages.photo_board import Drawing, photo_board
from estimator.pages.showing import one_sentence
from estimator.reports.wording import zone_text
from estimator.zones.outline import Setting, StrandPattern

_SETTINGS = {Setting.HEAD: "On a head", Setting.BOARD: "Locks beside the card"}
_BOARD_WORDS = (
    "The photograph, to outline zones on. Draw around the zone with a finger or the mouse. By keyboard: A adds a "
    "point, "
    "N and P go to the next and the previous one, arrows move it, Delete removes it."
)


def show() -> None:
    """The screen."""
    st.title("Zones")
    shot = draft.shot("before")
    if shot is None:
        st.markdown("There is no photograph yet. Step 1 takes one in.")
        next_step("readings", "readings", waits_for="once there is a photograph.")
        return
    draw_zones("before", shot)
    drawn = outlines.drawn_zones(draft.shot("before") or shot)
    next_step("readings", "readings", waits_for="" if drawn else "once a zone is outlined.")


def draw_zones(side: Side, shot: Shot) -> None:
    """Choose a zone, draw around it, say how its strands fall."""
    left, right = st.columns([3, 2], gap="medium")
    with left:
        _choose_zone(side, shot)
        _board(side, shot)
    with right:
        _about_zone(side, shot)
        _setting(side, shot)
        _wet(side, shot)
        _other_ways(side, shot)


def _changes(side: Side, make: Callable[[Shot], Shot]) -> None:
    shot = draft.shot(side)
    if shot is not None:
        draft.keep_shot(side, make(shot))


def _choose_zone(side: Side, shot: Shot) -> None:
    names = outlines.names_offered(shot)
    drawn = {zone.name for zone in outlines.drawn_zones(shot)}
    in_hand = outlines.chosen(shot)

    def worded(name: str) -> str:
        return in_markdown(zone_text(name)) + (" \u2713" if name in drawn else "")

    key = f"{side}_zone_{shot.revision}_{shot.selected}"

    def picked() -> None:
        name = st.session_state[key]
        if name is not None:
            _changes(side, lambda now: outlines.choose(now, name))

    st.pills(
        "Choose a zone, then draw around it",
        names,
        format_func=worded,
        key=key,
        on_change=picked,
        default=in_hand.name if in_hand else None,
    )


def _board(side: Side, shot: Shot) -> None:
    drawing = Drawing(zones=shot.zones, selected=shot.selected, serial=shot.serial, revision=shot.revision)

    def on_event(event: dict[str, Any]) -> None:
        _changes(side, lambda now: outlines.told(now, event))

    photo_board(
        kept_readings.picture(shot), _BOARD_WORDS, drawing, mode="outline", key=f"{side}_outline", on_event=on_event
    )


def _about_zone(side: Side, shot: Shot) -> None:
    zone = outlines.chosen(shot)
    if zone is None:
        return
    key = f"{side}_pattern_{shot.revision}_{zone.name}"
    st.pills(
        f"Strands of the {in_markdown(zone_text(zone.name))}",
        list(StrandPattern),
        key=key,
        default=zone.strand_pattern,
        on_change=lambda: _changes(side, lambda now: outlines.with_pattern(now, st.session_state[key])),
    )
    with st.container(horizontal=True):
        st.button("Undo", key=f"{side}_undo", disabled=not shot.earlier, on_click=_changes, args=(side, Shot.undone))
        st.button("Delete this zone", key=f"{side}_delete", on_click=_changes, args=(side, outlines.without_chosen))


def _setting(side: Side, shot: Shot) -> None:
    key = f"{side}_setting_{shot.revision}"

    def stated() -> None:
        setting = st.session_state[key]
        if setting is not None:
            _changes(side, lambda now: replace(now, setting=setting))

    st.pills(
        "The hair is",
        list(_SETTINGS),
        format_func=_SETTINGS.__getitem__,
        default=shot.setting,
        key=key,
        on_change=stated,
    )


def _wet(side: Side, shot: Shot) -> None:
    key = f"{side}_wet_{shot.revision}"

    def stated() -> None:
        wet = st.session_state[key]
        if wet is not None:
            _changes(side, lambda now: replace(now, wet=wet))

    words = {False: "Dry", True: "Wet"}
    st.pills("The hair was", list(words), format_func=words.__getitem__, default=shot.wet, key=key, on_change=stated)


def _other_ways(side: Side, shot: Shot) -> None:
    with st.expander("Other ways to a zone", key=f"{side}_other_ways"), one_sentence():
        key = f"{side}_own_name"
        st.text_input("A name of your own", key=key, max_chars=outlines.LONGEST_NAME)
        _way(side, "Add a zone of this name", "add_own", lambda: outlines.choose(shot, st.session_state[key]))
        _way(side, "Propose the whole hair", "propose", lambda: kept_readings.with_whole_hair(shot))
        zone = outlines.chosen(shot)
        if zone is not None and zone.drawn:
            _way(side, "Fit this outline to the hair", "fit", lambda: kept_readings.with_fitted_outline(shot))
        _from_file(side, shot)


def _way(side: Side, label: str, name: str, make: Callable[[], Shot]) -> None:
    if st.button(label, key=f"{side}_{name}"):
        with one_sentence(), st.spinner("Looking at the hair"):
            draft.keep_shot(side, make())
            st.rerun()


def _from_file(side: Side, shot: Shot) -> None:
    turn = st.session_state.setdefault("zone_files", 0)
    files = st.file_uploader(
        "A zones file (JSON, with its label picture if it has one)",
        type=["json", "png"],
        accept_multiple_files=True,
        key=f"{side}_zone_file_{turn}",
    )
    if files and st.button("Use these zones", key=f"{side}_use_file"):
        with one_sentence():
            draft.keep_shot(
                side, kept_readings.with_uploaded_zones(shot, {file.name: file.getvalue() for file in files})
            )
            st.session_state["zone_files"] = turn + 1
            st.rerun()
