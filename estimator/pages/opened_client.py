"""Which client and which visit the Clients area has open. The address names the client by a name that says nothing."""

import streamlit as st

SAID = "clients_said"  # what was done, told once on the screen that comes next
PART = "client_part"  # the part of the client's screen that is chosen
_CLIENT, _VISIT, _IN_ADDRESS = "client_open", "client_visit_open", "client"
_OF_ONE_CLIENT = ("client_seen", "client_conflict", "client_zip", "client_erase", "client_visits_all", "client_papers")


def code() -> str:
    """The client that is open, by code or id; "" for none."""
    return str(st.session_state.get(_CLIENT) or st.query_params.get(_IN_ADDRESS, ""))


def open_client(code_or_id: str) -> None:
    """Open a client; nothing that was begun for another one stays."""
    close()
    st.session_state[_CLIENT] = code_or_id


def close() -> None:
    """Back to the list."""
    for name in (_CLIENT, _VISIT, PART, *_OF_ONE_CLIENT):
        st.session_state.pop(name, None)
    st.query_params.pop(_IN_ADDRESS, None)


def name_in_address(client_id: str) -> None:
    """A reload opens the same client again."""
    st.session_state[_CLIENT] = client_id
    if st.query_params.get(_IN_ADDRESS) != client_id:
        st.query_params[_IN_ADDRESS] = client_id


def visit_id() -> str:
    """The visit that is open; "" for none."""
    return str(st.session_state.get(_VISIT, ""))


def open_visit(visit: str) -> None:
    """Open one visit of the client, or none."""
    st.session_state[_VISIT] = visit
