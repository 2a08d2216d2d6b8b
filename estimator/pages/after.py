"""Step 6: the photograph after, what changed, and the report."""

from dataclasses import replace
from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import draft, kept, outlines
from estimator.pages.care import first_aid
from estimator.pages.draft import Draft, Shot
from estimator.pages.escaping import in_html
from estimator.pages.frame import main_action
from estimator.pages.photograph import look, take
from estimator.pages.readings import show_reading
from estimator.pages.showing import drawing, put
from estimator.pages.zones import draw_zones
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.reading.comparing import ZoneDifference


def show() -> None:
    """The screen."""
    st.title("After")
    visit = draft.current()
    if visit.before is None:
        st.markdown("There is no photograph from before yet. Step 1 takes one in.")
        return
    if visit.after is None:
        st.markdown("Photograph the hair again: dry, in the same place, with the card in the same light.")
        take("after", "Choose the photograph after")
        main_action("Report", waits_for="The report can be made once there is a photograph after.")
        return
    look("after", visit.after)
    first_aid()
