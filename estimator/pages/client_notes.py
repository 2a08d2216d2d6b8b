"""Notes on a client, and what the client was told that it takes."""

from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.pages import kept_clients, opened_client, person
from estimator.pages.escaping import in_html
from estimator.pages.showing import one_sentence, put
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.records.remembering import ClientMemory
    from estimator.records.visit_record import QuoteRecord

_TURN = "client_note_turn"


def show(memory: "ClientMemory") -> None:
    """The last notes and quotes first, and new ones."""
    if person.may(Right.WORK):
        _new_note(memory)
    rows = "".join(
        f"<li><b>{in_html(wording.date_text(note.day))}</b>: {in_html(note.text)}</li>" for note in memory.notes
    )
    put(f"<div><ul>{rows}</ul></div>" if rows else "<div><p>No notes yet.</p></div>")
    st.header("Quote")
    _quotes(memory)
    if person.may(Right.WORK):
        _new_quote(memory)


def _new_note(memory: "ClientMemory") -> None:
    turn = st.session_state.setdefault(_TURN, 0)  # an empty field once the note is kept, and only then
    with st.form(f"note_form_{turn}", border=False):
        text = st.text_area("Note", max_chars=4000, key=f"note_{turn}", height=100)
        sent = st.form_submit_button("Keep the note", key="keep_note")
    if sent:
        with one_sentence():
            kept_clients.add_note(memory.details.id, text)
            _kept("The note is kept.")


def _kept(words: str) -> None:
    st.session_state[_TURN] += 1
    st.session_state[opened_client.SAID] = words
    st.rerun()


def _quotes(memory: "ClientMemory") -> None:
    from estimator.reports.quote_wording import quote_text

    rows = "".join(
        f"<li>{in_html(quote_text(quote))}{': ' + in_html(quote.text) if quote.text else ''}</li>"
        for quote in memory.quotes
    )
    put(f"<div><ul>{rows}</ul></div>" if rows else "<div><p>Nothing was told yet.</p></div>")


def _new_quote(memory: "ClientMemory") -> None:
    turn = st.session_state.setdefault(_TURN, 0)
    with st.expander("Write down a quote"), st.form(f"quote_form_{turn}", border=False):
        visits = st.number_input("Visits", 1, 50, 1, 1, key=f"quote_visits_{turn}")
        hours = st.number_input("Hours in all", 0.5, 500.0, 2.0, 0.5, format="%.1f", key=f"quote_hours_{turn}")
        low = st.number_input("Costs at least", 0.0, 1e7, None, 5.0, format="%.2f", key=f"quote_low_{turn}")
        high = st.number_input("Costs at most", 0.0, 1e7, None, 5.0, format="%.2f", key=f"quote_high_{turn}")
        currency = st.text_input("Currency", _last_currency(memory), 8, key=f"quote_currency_{turn}")
        text = st.text_input("What else was told", "", 400, key=f"quote_text_{turn}")
        sent = st.form_submit_button("Keep what was told", key="keep_quote")
    if sent:
        with one_sentence():
            price = (low or 0.0, high or low or 0.0)
            kept_clients.add_quote(memory.details.id, _quote((visits, visits), (hours, hours), price, currency, text))
            _kept("What the client was told is kept, and stands in the next letter.")


def _quote(
    visits: tuple[int, int], hours: tuple[float, float], price: tuple[float, float], currency: str, text: str
) -> "QuoteRecord":
    from estimator.records.visit_record import QuoteRecord

    return QuoteRecord(date.today(), visits, hours, price, currency.strip(), text.strip())


def _last_currency(memory: "ClientMemory") -> str:
    return memory.quotes[0].currency if memory.quotes else "EUR"
