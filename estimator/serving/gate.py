"""Whose page this is, where the door marked it: asked anew at each touch, so that a lock or a role holds at once."""

import streamlit as st

from estimator.access.roles import AT_THIS_MACHINE, NotAllowedError, Person
from estimator.access.sessions import Sessions
from estimator.pages.person import Gate
from estimator.serving import door


def gate_of(sessions: Sessions) -> Gate:
    """Says who the page belongs to, and takes a PIN once more.

    Its `who` raises NotAllowedError where the page belongs to nobody any more.
    """

    def person_of_page() -> Person:
        mark = _mark()
        if mark.encode("ascii", "replace") == door.AT_THIS_MACHINE:
            return AT_THIS_MACHINE
        person = sessions.person_in(mark) if mark else None
        if person is None:
            raise NotAllowedError("This phone is locked. What was entered is kept. Unlock it to go on.")
        return person

    return Gate(person_of_page, lambda pin: sessions.confirm(_mark(), pin), lambda: sessions.is_confirmed(_mark()))


def _mark() -> str:
    """What the door wrote on the request of this page: the session's id, or that it comes from this machine."""
    return str(st.context.headers.get(door.SESSION_MARK.decode("ascii"), ""))
