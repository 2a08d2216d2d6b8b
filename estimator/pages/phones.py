"""The owner's screen for the door to the network: pair a phone, the staff, what is unlocked, and what happened."""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from estimator.access import people, phones, sessions, trail
from estimator.access.roles import Person, Right, Role
from estimator.intake.links import qr_svg
from estimator.pages import confirming, person
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.frame import Area, main_action
from estimator.pages.showing import capital, one_sentence, put, tell
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.access.database import AccessDatabase

_CODE = "pairing_code"
_ROLES = {capital(role.value): role for role in (Role.COLOURIST, Role.OWNER, Role.VIEWER)}
_MAY = {
    Role.OWNER: "may do all",
    Role.COLOURIST: "works with clients; exports and erases nothing",
    Role.VIEWER: "looks, and changes nothing",
}


def area() -> tuple[Area, ...]:
    """The screen, where the door is open; nothing where the page answers on this machine alone."""
    return (Area("Phones", "phones", show, Right.HAND_OUT),) if person.open_door() else ()


def show() -> None:
    """Pairing first; the rest below it."""
    door = person.open_door()
    if door is None:
        tell("note", "The page answers on this machine alone.", "Start it with: tressmeter serve --network")
        return
    st.title("Phones")
    if confirming.asked("changing_phones"):
        return
    database = door.database
    _pairing(database, door.link)
    _phones(database)
    _staff(database)
    _trail(database)
    if main_action("Pair a phone", waits_for="" if people.people(database) else "Add a member of staff first."):
        _act(lambda: st.session_state.update({_CODE: phones.offer_pairing(database)}))


def _pairing(database: "AccessDatabase", link: str) -> None:
    code = st.session_state.get(_CODE, "")
    if not code:
        return
    if not phones.pairs(database, code):
        st.session_state.pop(_CODE)
        tell("note", "The code was used, or its five minutes are over.", said="no code open")
        return
    whole = f"{link}/pair/{code}"
    st.header("Pair this phone")
    put(
        f'<div class="pairing"><p>Point the phone\'s camera at the code, within {phones.PAIRING_MINUTES} minutes.</p>'
        f"{qr_svg(whole)}<p class='quiet'>{in_html(whole)}</p></div>"
    )


def _phones(database: "AccessDatabase") -> None:
    st.header("Paired phones")
    unlocked = {each.phone.id: each for each in sessions.open_sessions(database)}
    for phone in phones.phones(database):
        session = unlocked.get(phone.id)
        state = f"unlocked by {session.person.name}" if session else "locked"
        put(f'<div class="reading"><h3>{in_html(phone.label)}</h3><p>{in_html(capital(state))}.</p></div>')
        with st.container(horizontal=True, gap="small"):
            if session and st.button("Lock it", key=f"end_{session.id}"):
                _act(partial(sessions.end_session, database, session.id))
            if st.button("Revoke it", key=f"revoke_{phone.id}"):
                _act(partial(phones.revoke, database, phone))
    if not phones.phones(database):
        st.markdown("None yet.")


def _staff(database: "AccessDatabase") -> None:
    st.header("Staff")
    for each in people.people(database):
        put(f'<div class="reading"><h3>{in_html(each.name)}</h3><p>{_role_text(each)}</p></div>')
        with st.expander(f"Change {in_markdown(each.name)}"), one_sentence():
            _change(database, each)
    with st.expander("Add a member of staff"), one_sentence(), st.form("add_person", clear_on_submit=True):
        name = st.text_input("Name", max_chars=people.MOST_LETTERS, key="person_name")
        role = st.pills("Role", list(_ROLES), default="Colourist", key="person_role")
        pin = st.text_input("PIN, 6 to 12 digits", type="password", max_chars=12, key="person_pin")
        if st.form_submit_button("Add"):
            _act(lambda: people.add_person(database, name, _ROLES[role or "Colourist"], pin))


def _role_text(each: Person) -> str:
    return in_html(f"{capital(each.role.value)}: {_MAY[each.role]}.")


def _change(database: "AccessDatabase", each: Person) -> None:
    with st.form(f"change_{each.id}", clear_on_submit=True):
        role = st.pills("Role", list(_ROLES), default=capital(each.role.value), key=f"role_{each.id}")
        pin = st.text_input("New PIN; left empty it stays", type="password", max_chars=12, key=f"pin_{each.id}")
        if st.form_submit_button("Change"):
            _act(lambda: _changed(database, each, _ROLES[role or capital(each.role.value)], pin))
    if st.button("Take off the list", key=f"remove_{each.id}"):
        _act(lambda: people.end_person(database, each))


def _changed(database: "AccessDatabase", each: Person, role: Role, pin: str) -> None:
    if pin:
        people.set_pin(database, each, pin)
    if role is not each.role:
        people.change_role(database, each, role)


def _trail(database: "AccessDatabase") -> None:
    names = {each.id: each.name for each in people.people(database)}
    labels = {each.id: each.label for each in phones.phones(database)}
    with st.expander("What happened at the door"):
        rows = (
            f"<li>{in_html(_moment(row.at_utc))}: {in_html(row.what)}"
            f"{in_html(_told('by', row.person, names))}{in_html(_told('on', row.phone, labels))}</li>"
            for row in trail.trail_of(database, 40)
        )
        put(f"<ul>{''.join(rows)}</ul>")


def _moment(at_utc: str) -> str:
    """By the machine's own time zone: "27 November 2026, 10:00"."""
    local = datetime.fromisoformat(at_utc).astimezone()
    return f"{wording.date_text(local.date())}, {local:%H:%M}"


def _told(word: str, number: str, known: dict[str, str]) -> str:
    return f", {word} {known.get(number, number[:8])}" if number else ""


def _act(change: Callable[[], object]) -> None:
    """A change that only an owner may make, then the screen anew."""
    person.must(Right.HAND_OUT)
    person.must_be_confirmed()
    change()
    st.rerun()
