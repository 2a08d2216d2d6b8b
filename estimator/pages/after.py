"""Step 6: the photograph after, what changed, and the report."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import draft, keeping, kept_papers, kept_readings, outlines, papers
from estimator.pages.care import first_aid
from estimator.pages.demo import demo_after
from estimator.pages.draft import Draft, Shot
from estimator.pages.escaping import in_html
from estimator.pages.frame import main_action
from estimator.pages.photograph import look, take
from estimator.pages.readings import show_picture, show_reading, show_zones
from estimator.pages.results import show_results
from estimator.pages.showing import capital, drawing, one_sentence, put
from estimator.pages.zones import draw_zones
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.reading.comparing import ZoneDifference
    from estimator.visit import PhotoReading

_VIEWS = ("Photograph", "Zones", "Difference")


def show() -> None:
    """The screen."""
    st.title("After")
    visit = draft.current()
    if visit.before is None or not outlines.drawn_zones(visit.before):
        st.markdown("There is no reading from before yet. Steps 1 to 3 make one.")
        main_action("Make the report", waits_for="The report can be made once there is a reading from before.")
        return
    if visit.after is None:
        _take_after(visit)
    else:
        _show_after(visit, visit.after)
    first_aid()
    keeping.show(visit)
    papers.show(visit)
    _report(visit)


def _take_after(visit: Draft) -> None:
    st.markdown("Photograph the hair again: dry, in the same place, the card in the same light.")
    take("after", "Choose or take the photograph after")
    if visit.demo and st.button("Demo photograph after", key="demo_after"):
        draft.keep_shot("after", demo_after())
        st.rerun()


def _show_after(visit: Draft, after: Shot) -> None:
    drawn = outlines.drawn_zones(after)
    view = st.pills("Show", _VIEWS, default="Difference" if drawn else "Photograph", key=f"after_view_{bool(drawn)}")
    if view == "Zones":
        draw_zones("after", after)
    elif view == "Difference" and drawn:
        _differences(visit, after)
    else:
        look("after", after)
    if not drawn:
        st.button("Use the outlines from before", key="outlines_from_before", on_click=_copy_outlines)


def _copy_outlines() -> None:
    visit = draft.current()
    if visit.before is not None and visit.after is not None:
        draft.keep_shot("after", kept_readings.with_outlines_of(visit.after, visit.before))


# --- what changed ---


def _differences(visit: Draft, after: Shot) -> None:
    assert visit.before is not None
    before_reading, after_reading = kept_readings.reading_before(visit), kept_readings.reading(after)
    if after_reading.refused or not after_reading.zones:
        show_reading(after, after_reading, "after")
        return
    with st.container(key="pair"):
        for column, side, reading in zip(
            st.columns(2), (visit.before, after), (before_reading, after_reading), strict=True
        ):
            with column:
                show_picture(side, reading, "before" if side is visit.before else "after")
    for changed in kept_readings.differences(visit):
        _difference(changed, before_reading, after_reading)
    with st.expander("The readings after"):
        show_zones(after_reading)
    show_results(visit)


def _difference(changed: "ZoneDifference", before: "PhotoReading", after: "PhotoReading") -> None:
    from estimator.reports.drawings import Patch, swatches

    pair = (before.zone(changed.zone), after.zone(changed.zone))
    labs = [tuple(float(x) for x in read.reading.lab_d65) for read in pair]
    words = (("before", wording.level_text(pair[0].level)), ("after", wording.level_text(pair[1].level)))
    patches = swatches(
        [
            Patch((lab[0], lab[1], lab[2]), word, read.reading.verified)
            for lab, word, read in zip(labs, words, pair, strict=True)
        ]
    )
    name = wording.zone_text(changed.zone)
    put(
        f'<div class="reading"><h2>{in_html(name)}</h2><div class="row wraps">{drawing(patches)}<div>'
        f'<p class="figure">{in_html(wording.delta_e_text(changed.delta_e_2000))}</p>'
        f"<p><b>{in_html(capital(changed.words))}</b></p><p>{in_html(capital(wording.direction_text(changed)))}</p>"
        f'<p class="amounts quiet">{in_html(wording.lab_difference_text(changed))}</p></div></div></div>'
    )


# --- the report ---


def _report(visit: Draft) -> None:
    key = kept_papers.report_key(visit)
    made = st.session_state.get("report")
    if made and made[0] == key:
        with st.container(key="action"):
            st.download_button(
                "Download the report (PDF)",
                made[1].pdf,
                made[1].stem + ".pdf",
                "application/pdf",
                type="primary",
                key="main_action",
                width="stretch",
                on_click="ignore",
            )
            st.download_button(
                "Download as a web page (HTML)",
                made[1].html,
                made[1].stem + ".html",
                "text/html",
                key="html_report",
                width="stretch",
                on_click="ignore",
            )
    elif main_action("Make the report"):
        with one_sentence(), st.spinner("Setting the report"):
            st.session_state["report"] = (key, kept_papers.report(visit))
            st.rerun()
