"""Where a consultation comes from: dropped files, or the inbox."""

import streamlit as st

from estimator.access.roles import Right
from estimator.intake.entry import SentConsultation
from estimator.pages import person, remote_case, remote_invite, remote_kept
from estimator.pages.escaping import in_html
from estimator.pages.frame import main_action
from estimator.pages.showing import one_sentence, put
from estimator.reports import wording

MOST_SHOWN = 20
_SURE = "remote_discard"


def show() -> None:
    """The screen before anything is in hand."""
    st.markdown("Photos that a client sent: sorted, judged and read, with a draft of the reply. Nothing is sent.")
    turn = st.session_state.setdefault("remote_drops", 0)
    files = st.file_uploader("Photos, a zip, or an exported chat", accept_multiple_files=True, key=f"drop_{turn}")
    st.caption("Up to 40 photos, each file up to 60 MB. Drop the photos of a larger zip by themselves.")
    with one_sentence():
        _inbox(remote_kept.inbox().sent())
    remote_invite.show()
    if main_action("Read these photos", waits_for="" if files else "Drop photos, or choose from the inbox."):
        with one_sentence():
            person.must(Right.WORK)
            from estimator.remote.bundle import bundle_of

            remote_case.open_dropped(bundle_of([(file.name, file.getvalue()) for file in files]))
            st.session_state["remote_drops"] = turn + 1
            st.rerun()


def _inbox(found: list[SentConsultation]) -> None:
    st.header("Inbox")
    if not found:
        st.markdown("Nothing was sent by a link yet.")
    for number, each in enumerate(found[:MOST_SHOWN]):
        here = each.sent_utc.astimezone()
        count = wording.count_text(len(each.entry.photos), "photo")
        whose = f"{each.client}: " if each.client else ""
        agreed = wording.list_text([consent.scope.value for consent in each.entry.consents]) or "it can't be read"
        put(
            f"<p>{in_html(f'{whose}{wording.date_text(here.date())}, {here:%H:%M}, {count}')}<br>"
            f'<span class="quiet">Agreed to: {in_html(agreed)}</span></p>'
        )
        with st.container(horizontal=True, gap="small"):
            if st.button("Read", key=f"read_sent_{number}"):
                with one_sentence():
                    remote_case.open_sent(*remote_kept.inbox().read(each.id))
                    st.rerun()
            _discard(number, each.id)


def _discard(number: int, sent_id: str) -> None:
    """Asked twice: it can't be had back."""
    if st.session_state.get(_SURE) == sent_id:
        st.button("Discard for good", key=f"discard_sure_{number}", on_click=discard, args=(sent_id,))
        st.button("Keep it", key=f"discard_not_{number}", on_click=lambda: st.session_state.pop(_SURE, None))
    else:
        st.button("Discard", key=f"discard_{number}", on_click=lambda: st.session_state.update({_SURE: sent_id}))


def discard(sent_id: str) -> None:
    """Take a consultation out of the inbox, and out of memory."""
    st.session_state.pop(_SURE, None)
    with one_sentence():
        remote_kept.inbox().discard(sent_id)
        remote_kept.forget()
