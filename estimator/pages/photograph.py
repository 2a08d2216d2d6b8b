"""Step 1: the photograph, the card found in it, and what it is good for."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import streamlit as st

from calibration.errors import CalibrationError
from calibration.findings import Verdict
from estimator.pages import draft, earlier, kept_readings, kept_scales, station_and_sheet, unfinished
from estimator.pages.demo import demo_visit
from estimator.pages.draft import Shot, Side
from estimator.pages.file_endings import FILE_ENDINGS
from estimator.pages.frame import next_step
from estimator.pages.photo_board import Drawing, photo_board
from estimator.pages.showing import one_sentence, tell, tell_findings
from estimator.reports import wording

if TYPE_CHECKING:
    from calibration.corrected import CorrectedPhoto

_HOW = "Hair dry, one kind of light, a 24-patch card beside the hair."
_POINT = (
    "No card was found. Point at a neutral thing in the same light: a white towel, a grey card. "
    "The reading is then rough."
)
_POINT_ALT = "The photograph. Tap a neutral thing, or move the ring with the arrow keys, plus and minus for its size."


def show() -> None:
    """The screen."""
    st.title("Photograph")
    shot = draft.shot("before")
    if shot is None:
        st.markdown(_HOW)
        take("before", "Choose or take the photograph")
        _name()
        if st.button("Open the demo visit", key="demo"):
            with one_sentence():
                st.session_state["draft"] = demo_visit()
                st.rerun()
        with one_sentence():
            unfinished.offer()
    else:
        look("before", shot)
        _name()
    _printed_card()
    station_and_sheet.show(shot)
    with one_sentence():
        earlier.show(draft.current())
    next_step("zones", "zones", waits_for=_waits_for(shot))


def _printed_card() -> None:
    """The values of the salon's own print, where no 24-patch card is at hand."""
    measured = draft.current().print_toml
    with st.expander(f"Printed card: {'measured' if measured else 'none'}"), one_sentence():
        st.markdown("The values of your own print, as the command that measures it wrote them.")
        turn = st.session_state.setdefault("print_files", 0)
        file = st.file_uploader("A measured card (TOML)", type=["toml"], key=f"print_file_{turn}")
        if file and st.button("Use this card", key="use_print"):
            _take_print(kept_scales.checked_print(file.getvalue()))
        if measured and st.button("Leave the printed card out", key="no_print"):
            _take_print("")


def _take_print(print_toml: str) -> None:
    draft.change(print_toml=print_toml)
    st.session_state["print_files"] += 1
    st.rerun()


def _waits_for(shot: Shot | None) -> str:
    if shot is None:
        return "once there is a photograph."
    refused = kept_readings.corrected(shot).verdict.verdict is Verdict.RETAKE
    return "once this photograph can be read." if refused else ""


def _name() -> None:
    key = "client_name"

    def named() -> None:
        draft.change(client=st.session_state[key].strip())

    st.session_state[key] = draft.current().client  # whom the bar names, though another visit was opened meanwhile
    st.text_input("Client, by initials or a code", max_chars=80, key=key, on_change=named)


def take(side: Side, label: str) -> None:
    """Take one photograph in. A phone offers its own camera here, at full size."""
    turn = st.session_state.setdefault("uploads", 0)
    file = st.file_uploader(label, type=FILE_ENDINGS, key=f"{side}_photo_{turn}")
    st.caption("JPEG, HEIC, PNG, TIFF, WebP, DNG and other RAW files, up to 60 MB.")
    refused = st.session_state.get(f"{side}_refused")
    if refused is not None:
        with one_sentence():
            raise refused
    if file is None:
        return
    photo_bytes = file.getvalue()
    shot = Shot(photo_bytes, kept_readings.hash_of(photo_bytes))
    st.session_state["uploads"] = turn + 1  # what is stored is ours to show; the uploader starts empty again
    st.session_state[f"{side}_refused"] = None
    try:
        kept_readings.corrected(shot)
        draft.keep_shot(side, _with_earlier_outlines(side, shot))
        st.session_state.pop(f"{side}_retaken", None)
    except CalibrationError as refusal:  # told on the fresh screen, beside an empty uploader
        st.session_state[f"{side}_refused"] = refusal
    st.rerun()


def _with_earlier_outlines(side: Side, shot: Shot) -> Shot:
    """Outlines drawn on the photograph that this one replaces are kept, to be moved where the hair lies now."""
    replaced = draft.shot(side)
    return shot if replaced is None else kept_readings.with_outlines_of(shot, replaced)


def look(side: Side, shot: Shot) -> None:
    """The photograph with its card drawn on it, its verdict, and what to do about each finding."""
    photo = kept_readings.corrected(shot)
    left, right = st.columns([3, 2], gap="medium")
    with left:
        _board(side, shot, photo)
    with right:
        _verdict(photo)
        _take_again(side)


def _take_again(side: Side) -> None:
    """Another photograph in place of this one, which stays until the other is there."""
    key = f"{side}_retaken"
    if st.session_state.get(key):
        take(side, "Choose or take the other photograph")
        st.button("Keep this photograph", key=f"{side}_keep", on_click=lambda: st.session_state.pop(key, None))
    else:
        st.button("Take another photograph", key=f"{side}_again", on_click=lambda: st.session_state.update({key: True}))


def _board(side: Side, shot: Shot, photo: "CorrectedPhoto") -> None:
    picture = kept_readings.picture(shot)
    if photo.sighting is not None:
        quads = (photo.sighting.corners_px, *photo.sighting.patch_quads_px)
        photo_board(picture, "The photograph, its card outlined", Drawing(quads_px=quads), key=f"{side}_look")
        return
    st.markdown(_POINT)

    def pointed(event: dict[str, Any]) -> None:
        neutral = (float(event["x_px"]), float(event["y_px"]), max(float(event["radius_px"]), 2.0))
        draft.keep_shot(side, replace(shot, neutral=neutral, serial=int(event["serial"])))

    drawing = Drawing(spot=shot.neutral, serial=shot.serial)
    photo_board(picture, _POINT_ALT, drawing, mode="spot", key=f"{side}_spot", on_event=pointed)


def _verdict(photo: "CorrectedPhoto") -> None:
    verdict = photo.verdict
    error = wording.card_error_text(photo.correction.held_out_de2000, photo.verified)
    if verdict.verdict is not Verdict.RETAKE:  # what calls for a retake says so itself
        tell(verdict.verdict.value, f"Colour error {error}.")
    tell_findings(verdict.findings)
