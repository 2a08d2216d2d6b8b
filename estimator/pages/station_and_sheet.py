"""On the screen of the photograph: what makes its correction surer, a station that was learned and a white sheet."""

from dataclasses import replace

import streamlit as st

from estimator.pages import draft, kept_readings, kept_scales
from estimator.pages.draft import SheetPicture, Shot
from estimator.pages.escaping import in_markdown
from estimator.pages.file_endings import FILE_ENDINGS
from estimator.pages.showing import one_sentence, tell, tell_findings
from estimator.reports import wording

_ABOUT_BOTH = ("station_serves", "station_refused", "station_not_needed", "light_evened", "white_sheet_refused")
_FILES = "station_files"


def show(shot: Shot | None) -> None:
    """One closed drawer: a station's profile, a white sheet for this photograph, and what they gained."""
    station = draft.current().station_toml
    given = [kept_scales.station_name(station)] if station else []
    given += ["white sheet"] if shot is not None and shot.sheet is not None else []
    label = f"More, in use: {in_markdown(wording.list_text(given))}" if given else "More: station, white sheet"
    with st.expander(label):
        with one_sentence():
            _station(station)
        with one_sentence():
            _sheet(shot)
        if shot is not None and given:
            with one_sentence():
                _gained(shot)


def _turn() -> int:
    turn: int = st.session_state.setdefault(_FILES, 0)
    return turn


def _taken() -> None:
    st.session_state[_FILES] = _turn() + 1
    st.rerun()


def _station(held: str) -> None:
    st.markdown("One camera under one lamp, learned once from photographs of the card, as its command wrote it.")
    here = kept_scales.stations_here()
    if here:
        name = st.selectbox("A station of this salon", list(here), index=None, key=f"station_here_{_turn()}")
        if name and st.button("Use this station of the salon", key="use_station_here"):
            draft.change(station_toml=here[name])
            _taken()
    file = st.file_uploader("A station (TOML)", type=["toml"], key=f"station_file_{_turn()}")
    if file and st.button("Use this station", key="use_station"):
        draft.change(station_toml=kept_scales.checked_station(file.getvalue()))
        _taken()
    if held and st.button("Leave the station out", key="no_station"):
        draft.change(station_toml="")
        _taken()


def _sheet(shot: Shot | None) -> None:
    if shot is None:
        st.markdown("A white sheet is added once the photograph is there.")
        return
    st.markdown("A plain white sheet laid over card and hair, photographed from the same place: the light is evened.")
    file = st.file_uploader("The white sheet", type=FILE_ENDINGS, key=f"sheet_file_{_turn()}")
    if file and st.button("Use this white sheet", key="use_sheet"):
        draft.keep_shot("before", _with_sheet(shot, file.getvalue()))
        _taken()
    if shot.sheet is not None and st.button("Leave the white sheet out", key="no_sheet"):
        draft.keep_shot("before", replace(shot, sheet=None))
        _taken()


def _with_sheet(shot: Shot, photo_bytes: bytes) -> Shot:
    """The photograph with this white sheet, once it can be used. Raises PhotoRefusedError, CorrectionError."""
    changed = replace(shot, sheet=SheetPicture(kept_readings.hash_of(photo_bytes), photo_bytes))
    kept_readings.corrected(changed)
    return changed


def _gained(shot: Shot) -> None:
    """The error with and without them; where one was not used, why."""
    alone, now = kept_readings.corrected_alone(shot), kept_readings.corrected(shot)
    if now.sighting is None:
        tell("care", "No card was found in the photograph, so neither was used.", "Lay the card beside the hair.")
        return
    errors = [wording.card_error_text(one.correction.held_out_de2000, one.verified) for one in (alone, now)]
    if errors[0] == errors[1]:
        st.markdown(f"Colour error as without them: {in_markdown(errors[0])}.")
    else:
        st.markdown(f"Colour error {in_markdown(errors[1])}; without them {in_markdown(errors[0])}.")
    tell_findings(tuple(finding for finding in now.verdict.findings if finding.code in _ABOUT_BOTH))
