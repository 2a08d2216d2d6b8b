"""A client's visits, the newest first, each with its small pictures; and how the hair went on over them."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import earlier, kept_clients, opened_client, small_pictures
from estimator.pages.showing import put
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.records.remembering import ClientMemory

FIRST_SHOWN = 3
_ALL = "client_visits_all"


def show(memory: "ClientMemory") -> None:
    """The last three visits, more on a key, then the trend."""
    visits = kept_clients.visits_of(memory.details.id)
    if not visits:
        put("<div><p>No visit of this client is kept.</p></div>")
        return
    newest = visits[::-1]
    shown = newest if st.session_state.get(_ALL) else newest[:FIRST_SHOWN]
    pictures = kept_clients.pictures_of(tuple(visit.id for visit in shown))
    for visit in shown:
        put(earlier.visit_words(visit))
        small_pictures.show(pictures[visit.id])
        day = wording.date_text(visit.day)
        st.button(f"Open {day}", key=f"open_{visit.id}", on_click=opened_client.open_visit, args=(visit.id,))
    if len(shown) < len(newest):
        more = wording.count_text(len(newest) - len(shown), "more visit")
        st.button(f"Show {more}", key="visits_more", on_click=lambda: st.session_state.update({_ALL: True}))
    if len({visit.day for visit in visits}) > 1:
        with st.expander("Over the visits"):
            earlier.show_trend(memory.details.code, visits)
    put("<div><p class='quiet'>Intervals hold nine times in ten.</p></div>")
