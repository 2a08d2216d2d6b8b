"""Step 3: what each zone reads, how sure that is, and what it rests on."""

from typing import TYPE_CHECKING

import streamlit as st

from calibration.findings import Verdict
from estimator.pages import draft, kept_readings, kept_scales, outlines
from estimator.pages.draft import Draft, Shot
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.frame import next_step
from estimator.pages.photo_board import Drawing, photo_board
from estimator.pages.photograph import take
from estimator.pages.showing import capital, drawing, figure, listed, put, tell, tell_findings
from estimator.pages.zones import draw_zones
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.visit import PhotoReading, ReadZone


def show() -> None:
    """The screen."""
    st.title("Readings")
    shot = draft.shot("before")
    if shot is None or not outlines.drawn_zones(shot):
        st.markdown("No zone is outlined yet. Step 2 outlines them.")
        next_step("care", "care", waits_for="once a zone is outlined.")
        return
    visit = draft.current()
    reading = kept_readings.reading_before(visit)
    show_reading(shot, reading, "before")
    if not kept_readings.reading(shot).refused:
        _turned(visit)
    next_step("care", "care", waits_for="" if reading.zones else "once a zone is read.")


def _turned(visit: Draft) -> None:
    """A second photograph of the same hair: shine and shade fall elsewhere in it, and the intervals grow tighter."""
    assert visit.before is not None
    with st.expander("A second photograph, turned under the lamp", expanded=visit.turned is not None):
        if visit.turned is None:
            st.markdown("Turn the client under the lamp and photograph the same zones, the card again beside the hair.")
            take("turned", "Choose or take the second photograph")
            return
        if not outlines.drawn_zones(visit.turned):
            turned = visit.turned
            st.button(
                "Use the outlines of the first",
                key="outlines_for_turned",
                on_click=lambda: draft.keep_shot(
                    "turned", kept_readings.with_outlines_of(turned, visit.before or turned)
                ),
            )
        draw_zones("turned", visit.turned)
        refused = kept_readings.corrected(visit.turned)
        if refused.verdict.verdict is Verdict.RETAKE:
            tell_findings(refused.verdict.findings)
        st.button("Leave this photograph out", key="turned_out", on_click=_leave_out)


def _leave_out() -> None:
    draft.change(turned=None)


def show_reading(shot: Shot, reading: "PhotoReading", word: str) -> None:
    """The picture beside what was read in it."""
    with st.container(key="reading_grid"):
        left, right = st.columns([1, 1], gap="medium")
    with left:
        show_picture(shot, reading, word)
        if reading.evenness is not None:
            tell("note", capital(wording.evenness_text(reading.evenness)) + ".", said="Evenness")
        with st.container(key="plots"):
            if reading.zones:
                _together(reading)
    with right:
        if reading.refused:
            tell("retake", "This photograph can't be read.", "Take it again as the findings below say.")
            tell_findings(reading.corrected.verdict.findings)
        show_zones(reading)


def show_zones(reading: "PhotoReading") -> None:
    """What each zone reads, and why one could not be read."""
    tell_findings(reading.unread)
    for zone in reading.zones:
        _zone(zone, reading)


def show_picture(shot: Shot, reading: "PhotoReading", word: str) -> None:
    """The corrected photograph with its zones outlined, and how good it is."""
    picture = kept_readings.picture(shot)
    names = wording.list_text([wording.zone_text(zone.name) for zone in outlines.drawn_zones(shot)])
    photo_board(
        picture,
        f"The corrected photograph, {word}, with these zones outlined: {names}",
        Drawing(zones=outlines.drawn_zones(shot)),
        key=f"{word}_reading_{shot.sha256[:12]}",
    )
    corrected = reading.corrected
    error = wording.card_error_text(corrected.correction.held_out_de2000, corrected.verified)
    st.caption(f"{capital(word)}: {wording.verdict_text(corrected.verdict.verdict)}; colour error {error}.")
    if picture.beyond_screen_share > 0.01:
        share = wording.share_text(picture.beyond_screen_share)
        st.caption(
            f"{share} of this picture has colours that no ordinary screen can show; the figures are not touched."
        )


def _zone(zone: "ReadZone", reading: "PhotoReading") -> None:
    from estimator.reports.drawings import Patch, swatches

    lab = (float(zone.reading.lab_d65[0]), float(zone.reading.lab_d65[1]), float(zone.reading.lab_d65[2]))
    name = wording.zone_text(zone.name)
    patch = swatches((Patch(lab, (name,), zone.reading.verified),))
    unsure = "" if zone.reading.verified else '<p><span class="unverified">unverified: no card</span></p>'
    proposed = '<p><span class="unverified">proposed outline</span></p>' if zone.reading.proposed else ""
    put(
        f'<div class="reading"><h2>{in_html(name)}</h2><div class="row">{drawing(patch)}<div>'
        f"{figure(wording.level_text(zone.level), 'Level')}"
        f"<p><b>Warmth left: {in_html(wording.stage_text(zone.warmth))}</b></p>"
        f"<p class='amounts'>Strength {in_html(wording.chroma_text(zone.warmth))}</p>{unsure}{proposed}"
        "</div></div></div>"
    )
    tell_findings(zone.reading.findings)
    if zone.parts:
        put(f"<div>{listed(tuple(wording.part_text(told.part, told.level, told.warmth) for told in zone.parts))}</div>")
    with st.expander(f"Why this figure? {in_markdown(name)}"):
        _basis(zone, reading)


def _basis(zone: "ReadZone", reading: "PhotoReading") -> None:
    corrected = reading.corrected
    lines = (
        *_why(zone, reading),
        f"Colour {wording.reading_text(zone.reading)}, CIELAB D65; brackets hold nine times in ten.",
        f"Correction: {wording.card_error_text(corrected.correction.held_out_de2000, corrected.verified)}.",
        f"Level from the {zone.level.scale}; {zone.reading.pixels:,} hair pixels; "
        f"photo {wording.hash_text(corrected.photo.sha256)}.",
    )
    put(f"<div>{listed(lines)}</div>")


def _why(zone: "ReadZone", reading: "PhotoReading") -> tuple[str, ...]:
    from estimator.reports.explaining_words import explanation_lines

    told = next((each for each in kept_readings.explained(reading) if each.zone == zone.name), None)
    return explanation_lines(told) if told is not None else zone.reading.basis


def _together(reading: "PhotoReading") -> None:
    from estimator.reports.drawings import PlanePoint, StripRow, ab_plane, level_strip, plane_range
    from estimator.scale.level import default_scale

    rows = [StripRow(wording.zone_text(z.name), z.level, z.reading.verified) for z in reading.zones]
    points = [
        PlanePoint(wording.zone_text(z.name), z.reading.lab_d65, z.reading.covariance, "square", z.reading.verified)
        for z in reading.zones
    ]
    scale = kept_scales.own_scale() or default_scale()
    put(f"<div><h2>Levels</h2>{drawing(level_strip(rows, scale.lightness))}</div>")
    put(f"<div><h2>Warm or cool</h2>{drawing(ab_plane(points, plane_range(points)))}</div>")
