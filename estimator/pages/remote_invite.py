"""Inviting a client: a link by a one-time code, shown once with its QR code; and what was made before."""

import streamlit as st

from estimator.access.roles import Right
from estimator.intake import links
from estimator.intake.inbox import Listed
from estimator.intake.invitation import State
from estimator.intake.limits import Limits
from estimator.pages import person, remote_kept
from estimator.pages.escaping import in_html
from estimator.pages.showing import one_sentence, put, tell
from estimator.reports import wording

_MADE = "remote_link"
MOST_SHOWN = 8
_OPEN_THE_DOOR = "Start the page with: tressmeter serve --network --intake. Then make the link again."


def show() -> None:
    """The section, folded away until it is wanted."""
    with st.expander("Invite a client by a link", expanded=_MADE in st.session_state), one_sentence():
        link = st.session_state.get(_MADE)
        if link:
            _show_link(link)
        else:
            _form()
        _earlier(remote_kept.inbox().invitations())


def _form() -> None:
    st.markdown("The client opens the link on a phone, agrees, and sends photos and answers. It works once.")
    client = st.text_input("Client's code, if known", max_chars=80, key="invite_client")
    hours = st.number_input("Open for (hours)", 1.0, 336.0, 72.0, step=24.0, format="%g", key="invite_hours")
    photos = st.number_input("Photos at most", 1, 40, 12, key="invite_photos")
    address = st.text_input("Where the client's phone reaches this page", _here(), 200, key="invite_address")
    if st.button("Make the link", key="invite"):
        with one_sentence():
            person.must(Right.WORK)
            links.intake_link(address, "")  # what is wrong with it is told before a code is made
            made = remote_kept.inbox().invite(Limits(hours=float(hours), photos=int(photos)), client)
            st.session_state[_MADE] = links.intake_link(address, made.code)
            st.rerun()


def _here() -> str:
    """The address of the door to the network where it is open, else of this very page, as the browser knows it."""
    door = person.open_door()
    url = door.link if door is not None else st.context.url or ""
    parts = url.split("/")
    return "/".join(parts[:3]) if len(parts) >= 3 else links.USUAL_ADDRESS


def _show_link(link: str) -> None:
    st.markdown("Shown this once. Send it to the client, or let the phone read the picture.")
    put(f'<div class="qr">{links.qr_svg(link)}</div>')
    st.text_input("The link", link, key="invite_link")
    if not links.opens_elsewhere(link):
        tell("care", "This link opens on this machine only.", _OPEN_THE_DOOR, said="only here")
    elif not links.is_guarded(link):
        tell("care", "Others on the way can read along.", "Use an address with https.", said="not guarded")
    st.button("Done", key="invite_done", on_click=lambda: st.session_state.pop(_MADE, None))


def _earlier(listed: list[Listed]) -> None:
    for number, each in enumerate(listed[:MOST_SHOWN]):
        until = each.invitation.expires_utc.astimezone()
        whose = f" for {each.invitation.client}" if each.invitation.client else ""
        words = f"{each.state.value}, until {wording.date_text(until.date())}, {until:%H:%M}{whose}"
        put(f'<p class="quiet">Invitation {each.invitation.id}: {in_html(words)}</p>')
        if each.state is State.OPEN:
            st.button("Revoke", key=f"revoke_{number}", on_click=_revoke, args=(each.invitation.id,))


def _revoke(invitation_id: str) -> None:
    with one_sentence():
        person.must(Right.WORK)
        remote_kept.inbox().revoke(invitation_id)
