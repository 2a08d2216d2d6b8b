"""Whose page this is, where the door marked it: asked anew at each touch, so that a lock or a role holds at once."""

from collections.abc import Callable

import streamlit as st

from estimator.access.roles import AT_THIS_MACHINE, NotAllowedError, Person
from estimator.access.sessions import Sessions
from estimator.serving import door


def gate_of(sessions: Sessions) -> Callable[[], Person]:
    """Says who the page belongs to; raises NotAllowedError where it belongs to nobody any more."""

    def person_of_page() -> Person:
        mark = st.context.headers.get(door.SESSION_MARK.decode("ascii"), "")
        if mark.encode("ascii", "replace") == door.AT_THIS_MACHINE:
            return AT_THIS_MACHINE
        person = sessions.person_in(mark) if mark else None
        if person is None:
            raise NotAllowedError("This phone is locked. What was entered is kept. Unlock it to go on.")
        return person

    return person_of_page
