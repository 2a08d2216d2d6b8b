"""The sent photographs by view: what each is good for, what it reads, and the view as the colourist says."""

from functools import partial
from typing import TYPE_CHECKING, Any

import streamlit as st

from calibration.findings import Severity
from estimator.pages import kept_readings, remote_case
from estimator.pages.draft import Shot
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.photo_board import Drawing, photo_board
from estimator.pages.remote_case import Case
from estimator.pages.remote_kept import Seen
from estimator.pages.showing import put, tell, tell_findings
from estimator.remote.views import asked_views
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.remote.consultation import SentPhoto

SHOWN_PX = 300
_SAID = {"copy": "a copy", "screenshot": "a picture of a screen", "filter_suspected": "a filter is suspected"}
_ALT = "The photo. Tap the white sheet, or move the ring with the arrow keys, plus and minus for its size."


def show(case: Case, photos: "tuple[tuple[SentPhoto, Seen], ...]") -> None:
    """Every photograph, in the order of the views; those of no view last."""
    order = {view.code: place for place, view in enumerate(asked_views())}
    numbered = sorted(enumerate(photos), key=lambda each: order.get(each[1][0].view, len(order)))
    unsure = sum(not photo.view_stated for photo, _ in photos)
    if unsure:
        st.markdown(f"{wording.count_text(unsure, 'view')} proposed by name or not known. Say what each photo shows.")
    for number, (photo, seen) in numbered:
        with st.container(key=f"sent_photo_{number}"):
            left, right = st.columns([2, 3], gap="medium")
            with left:
                _picture(photo, seen)
            with right:
                _about(case, number, photo)


def _picture(photo: "SentPhoto", seen: Seen) -> None:
    if seen.jpeg is not None:
        st.image(seen.jpeg, width=SHOWN_PX, alt=f"Photo, {photo.view or 'view not known'}")
    put(f'<p class="quiet">{in_html(photo.name)}</p>')


def _about(case: Case, number: int, photo: "SentPhoto") -> None:
    titles = {view.code: view.title for view in asked_views()}
    key = f"view_{case.key}_{number}"

    def said() -> None:
        remote_case.change_of(photo.name, views=st.session_state[key])

    label = "View" if photo.view_stated else "View (proposed: confirm)" if photo.view else "View (not known)"
    st.pills(label, list(titles), format_func=titles.__getitem__, default=photo.view or None, key=key, on_change=said)
    if not photo.view_stated and photo.view:
        st.button("Confirm", key=f"confirm_{number}", on_click=_confirm, args=(photo,))
    if photo.reading is not None:
        put("".join(map(_zone_words, photo.reading.zones)) or "<p>No hair could be read in it.</p>")
    _marks(photo)
    if photo.reading is not None and not photo.reading.corrected.verified:
        _white_sheet(case, photo.name)


def _marks(photo: "SentPhoto") -> None:
    """What speaks against it in full; what is only worth knowing folded away."""
    notes = [mark for mark in photo.marks if mark.severity is Severity.NOTE]
    for mark in photo.marks:
        if mark.severity is not Severity.NOTE:
            tell(mark.severity.value, mark.message, mark.remedy, said=_SAID.get(mark.code, ""))
    if notes:
        with st.expander(wording.count_text(len(notes), "note")):
            tell_findings(tuple(notes))


def _confirm(photo: "SentPhoto") -> None:
    remote_case.change_of(photo.name, views=photo.view)


def _zone_words(zone: Any) -> str:
    unverified = "" if zone.reading.verified else '<span class="unverified">unverified</span> '
    level = in_html(wording.level_text(zone.level))
    stage = in_html(wording.stage_text(zone.warmth))
    return f'<p class="amounts">{unverified}Level {level}; warmth left: {stage}</p>'


def _white_sheet(case: Case, name: str) -> None:
    """Where no card is: a white sheet in the same light, pointed at."""
    with st.expander(f"Point at a white sheet in {in_markdown(name)}"):
        wanted = f"point_{case.key}_{name}"
        if not st.session_state.get(wanted):
            show = partial(st.session_state.update, {wanted: True})
            st.button("Show the photo to point at", key=f"show_{wanted}", on_click=show)
            return
        content = next(file.photo_bytes for file in case.bundle.photos if file.name == name)
        spot = case.neutrals.get(name)
        shot = Shot(content, kept_readings.hash_of(content), spot)

        def pointed(event: dict[str, Any]) -> None:
            found = (float(event["x_px"]), float(event["y_px"]), max(float(event["radius_px"]), 2.0))
            remote_case.change_of(name, neutrals=found, serials=int(event["serial"]))

        drawing = Drawing(spot=spot, serial=case.serials.get(name, 0))
        place = f"sheet_{case.key}_{shot.sha256[:12]}"
        photo_board(kept_readings.picture(shot), _ALT, drawing, mode="spot", key=place, on_event=pointed)
        if spot is not None:
            st.button("Leave the sheet out", key=f"no_{place}", on_click=_without_sheet, args=(name,))


def _without_sheet(name: str) -> None:
    remote_case.change_of(name, neutrals=None)
