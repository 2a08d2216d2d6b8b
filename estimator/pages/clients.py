"""The Clients area: today's and the last visits without typing, and every client and visit that can be found."""

from datetime import date, timedelta
from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import client_page, client_search, kept_clients, kept_records, opened_client
from estimator.pages.escaping import in_markdown
from estimator.pages.frame import main_action
from estimator.pages.showing import one_sentence, tell
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.pages.kept_clients import Place
    from estimator.records.searching import Asked, FoundClient, FoundVisit

_PAGES, _TYPED = "clients_pages", "clients_typed"
FIRST_NAMED = 10


def show() -> None:
    """The screen: one client where one is open, else the list."""
    if opened_client.code():
        client_page.show(opened_client.code())
        return
    st.title("Clients")
    said = st.session_state.pop(opened_client.SAID, "")
    if said:
        tell("note", said, said="done")
    if not kept_records.begun():
        tell("note", "Nothing is kept here yet.", "Keep a visit on its last screen, After.", said="no records")
        return
    typed = st.text_input("Name or code, or its beginning", st.session_state.get(_TYPED, ""), 80, key="clients_text")
    st.session_state[_TYPED] = typed  # still there after a look at a client
    with one_sentence():
        _found(client_search.asked(typed))
    main_action("Find")


def _found(asked: "Asked") -> None:
    from estimator.records.searching import Asked

    if asked.text and asked == Asked(text=asked.text):
        _named(asked.text)
    else:
        _visits(asked)


def _named(text: str) -> None:
    """Clients by name or code, ten before more."""
    found = kept_clients.clients_named(text)
    if not found:
        tell("note", "No client's name or code begins like that.", "Type fewer letters.", said="nobody found")
        return
    st.subheader(wording.count_text(len(found), "client"))
    key = f"clients_all_{text}"
    shown = found if st.session_state.get(key) else found[:FIRST_NAMED]
    with st.container(key="client_lines"):
        for client, agreed in shown:
            _line(client.id, client.id, _who(client) + ("" if agreed else ", consent taken back"))
    if len(shown) < len(found):
        st.button("More", key="clients_more", on_click=lambda: st.session_state.update({key: True}))


def _who(found: "FoundClient | FoundVisit") -> str:
    return f"**{in_markdown(found.code)}** {in_markdown(found.name)}".strip()


def _visits(asked: "Asked") -> None:
    """Visits, page after page; each page is asked for by the place where the one before it ended."""
    pages = _pages(asked)
    found = [kept_clients.visits_found(asked, after) for after in pages]
    visits = [visit for page in found for visit in page.visits]
    if not visits and found[-1].next is None:
        tell("note", "No visit answers to that.", "Ask for less, or for another day.", said="nothing found")
        return
    today = [visit for visit in visits if visit.day == date.today()]
    _lines("Today", today)
    _lines("Earlier" if today else "The last visits", [visit for visit in visits if visit.day != date.today()])
    following = found[-1].next
    if following is not None:
        st.button("More", key="clients_more", on_click=pages.append, args=(following,))


def _pages(asked: "Asked") -> "list[Place | None]":
    """Where each page that is shown begins; one page alone once something else is asked for."""
    held: tuple[Asked, list[Place | None]] | None = st.session_state.get(_PAGES)
    if held is None or held[0] != asked:
        held = (asked, [None])
        st.session_state[_PAGES] = held
    return held[1]


def _lines(heading: str, visits: "list[FoundVisit]") -> None:
    if not visits:
        return
    st.subheader(heading)
    with st.container(key=f"client_lines_{heading.lower().replace(' ', '_')}"):
        for visit in visits:
            demo = ", DEMO" if visit.demo else ""
            _line(visit.id, visit.code, f"{_who(visit)}, {_day(visit.day)}{demo}")


def _day(day: date) -> str:
    words = {date.today(): "today", date.today() - timedelta(days=1): "yesterday"}
    return words.get(day) or wording.date_text(day)


def _line(key: str, code: str, label: str) -> None:
    st.button(label, key=f"line_{key}", on_click=opened_client.open_client, args=(code,), width="stretch")
