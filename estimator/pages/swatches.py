"""A shade's colour off a photograph: white hair with one full part of it, pointed at."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import streamlit as st

from estimator.errors import BadInputError
from estimator.pages import draft, kept_readings
from estimator.pages.draft import Draft, Shot
from estimator.pages.escaping import in_markdown
from estimator.pages.photo_board import Drawing, photo_board
from estimator.pages.photograph import take
from estimator.pages.showing import one_sentence, tell_findings
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.toning.shades import Shade, Shelf
    from estimator.visit import PhotoReading

_HOW = (
    "White hair with one full part of the shade on it, left its full time, rinsed, dried and laid beside the card. "
    "Point at the hair."
)
_ALT = "The photograph of the swatches. Tap the swatch, or move the ring with the arrow keys, plus and minus."


def measured_swatch(visit: Draft, own: "Shelf", keep: Callable[[str], None]) -> None:
    """Point at a swatch, see what it reads, and give its colour to a shade. keep : Takes the new shelf as CSV."""
    from estimator.toning.shelf_file import BARE_HAIR

    with st.expander("A shade's colour from a photographed swatch", expanded=visit.swatch is not None), one_sentence():
        st.markdown(_HOW)
        names = [*(shade.name for shade in own.shades), BARE_HAIR]
        name = st.selectbox("Swatch of", names, key="swatch_of", format_func=_named)
        for shade in own.shades:
            if shade.name == name:
                st.text(known_text(shade))
        if visit.swatch is None:
            take("swatch", "Choose or take the photograph of the swatch")
            return
        _point(visit, visit.swatch)
        if visit.swatch_spot is not None and name is not None:
            _offer(visit, own, name, keep)
        st.button("Leave this photograph out", key="swatch_out", on_click=_leave_out)


def known_text(shade: "Shade") -> str:
    """How well the colour of a shade is known, and by what."""
    doubt = wording.number_text(shade.doubt, 1)
    return f"{shade.name}: its colour is known by {shade.known_by}, give or take {doubt} CIELAB units."


def _named(name: str) -> str:
    from estimator.toning.shelf_file import BARE_HAIR

    return "the bare white hair" if name == BARE_HAIR else name


def _leave_out() -> None:
    draft.change(swatch=None, swatch_spot=None)


def _point(visit: Draft, shot: Shot) -> None:
    tell_findings(kept_readings.corrected(shot).verdict.findings)

    def pointed(event: dict[str, Any]) -> None:
        st.session_state["swatch_serial"] = int(event["serial"])
        spot = (float(event["x_px"]), float(event["y_px"]), max(float(event["radius_px"]), 2.0))
        draft.change(swatch_spot=spot)

    drawing = Drawing(spot=visit.swatch_spot, serial=st.session_state.get("swatch_serial", 0))
    key = f"swatch_spot_{shot.sha256[:8]}"
    photo_board(kept_readings.picture(shot), _ALT, drawing, mode="spot", key=key, on_event=pointed)


def _offer(visit: Draft, own: "Shelf", name: str, keep: Callable[[str], None]) -> None:
    from estimator import visit as verbs
    from estimator.toning.shelf_file import shelf_text

    reading = _read(visit, name)
    changed = verbs.measure_shades(own, reading)  # what can't be read is told here
    if not reading.shows_hair:
        raise BadInputError(
            "No hair could be read at the place that was pointed at. Point at hair, with a larger ring."
        )
    st.markdown(f"Read there: {in_markdown(wording.reading_text(reading.zones[0].reading))}.")
    if st.button(f"Use this colour for {in_markdown(_named(name))}", key="use_swatch"):
        keep(shelf_text(changed))


def _read(visit: Draft, name: str) -> "PhotoReading":
    from estimator import visit as verbs
    from estimator.zones.outline import Setting

    assert visit.swatch is not None  # the board stands above
    assert visit.swatch_spot is not None
    return verbs.read_spot(kept_readings.corrected(visit.swatch), visit.swatch_spot, (name, Setting.BOARD))
