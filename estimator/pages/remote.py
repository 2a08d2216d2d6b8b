"""The area "From a client": photographs that a client sent, what they say, and the reply."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.pages import (
    draft,
    person,
    remote_begin,
    remote_case,
    remote_kept,
    remote_photos,
    remote_reply,
    unfinished,
)
from estimator.pages.care import show_verdict
from estimator.pages.draft import Draft
from estimator.pages.escaping import in_html
from estimator.pages.frame import go_to, main_action
from estimator.pages.remote_case import Case
from estimator.pages.showing import figure, listed, one_sentence, put, tell
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.remote.consultation import RemoteConsultation

PARTS = ("Photos", "What they say", "Reply")
_REMEMBERED = "Sent photos are never learned from. Their intervals are half as wide again as at the chair."


def show() -> None:
    """The screen."""
    st.title("From a client")
    case = remote_case.current()
    if case is None:
        remote_begin.show()
        return
    st.button("Back to the inbox", key="remote_back", on_click=remote_case.put_away)
    _whose(case)
    photos = remote_kept.photos_of(case)
    found = remote_kept.consultation_of(case, tuple(photo for photo, _ in photos))
    key = f"remote_part_{case.key}"
    if st.session_state.get("remote_go_on", ("",))[0] == key:
        st.session_state[key] = st.session_state.pop("remote_go_on")[1]
    part = st.pills("Part", PARTS, default=PARTS[0], required=True, key=key, label_visibility="collapsed")
    if part == PARTS[0]:
        remote_photos.show(case, photos)
        _next("what they say", key, PARTS[1])
    elif part == PARTS[1]:
        _says(case, found)
        _next("the reply", key, PARTS[2])
    else:
        _reply(case, found)


def _next(words: str, key: str, part: str) -> None:
    if main_action(f"Next: {words}"):
        st.session_state["remote_go_on"] = (key, part)
        st.rerun()


def _says(case: Case, found: "RemoteConsultation") -> None:
    show_verdict(found.care, "Nothing that the client told speaks against toning.")
    _estimate(found)
    _way(case, found)
    _told(case, found)


def _reply(case: Case, found: "RemoteConsultation") -> None:
    with one_sentence():
        from estimator.reports.client_letter import letter_text

        remote_reply.show(case, letter_text(remote_kept.reply_of(case, found, draft.current().salon)))
    waits_for = "" if case.client else "Name the client above, and a visit can start from this."
    if main_action("Start a visit from this", waits_for=waits_for):
        with one_sentence():
            start_visit(case)
            go_to("photograph")


def _whose(case: Case) -> None:
    key = f"remote_client_{case.key}"

    def named() -> None:
        with one_sentence():
            name = st.session_state[key].strip()
            if case.sent_id and name:
                remote_kept.inbox().link(case.sent_id, name)
            remote_case.change(client=name)

    st.text_input("Client, by initials or a code", case.client, 80, key=key, on_change=named)
    if case.sent_utc is not None and case.sent_id:
        here = case.sent_utc.astimezone()
        agreed = wording.list_text([consent.scope.value for consent in case.entry.consents])
        put(
            f'<p class="quiet">Sent on {in_html(wording.date_text(here.date()))}, {here:%H:%M}. '
            f"Agreed to: {in_html(agreed)}.</p>"
        )


def _estimate(found: "RemoteConsultation") -> None:
    st.header("What the photos show")
    estimate = found.estimate
    if estimate is None:
        tell("care", "No photo can be measured.", "The reply says why, and how to take new ones.")
        return
    level = wording.interval_text(estimate.level, estimate.level_low, estimate.level_high)
    mark = "" if estimate.verified else '<p><span class="unverified">unverified</span> No card in every photo.</p>'
    stages = in_html(wording.list_text(estimate.stages))
    put(f'<div class="reading">{mark}{figure(level, "Starting level")}<p>Warmth in it: {stages}.</p></div>')
    st.caption(_REMEMBERED)


def _way(case: Case, found: "RemoteConsultation") -> None:
    """The wish, and the likely way to it."""
    from estimator.remote.reply import way_words
    from estimator.toning.targets import TONES

    st.header("The likely way")
    level_key, tone_key = f"remote_level_{case.key}", f"remote_tone_{case.key}"
    level = st.number_input("Level that is hoped for", 1.0, 10.0, case.level, 0.5, format="%g", key=level_key)
    tone = st.pills("Tone", list(TONES), default=case.tone or None, key=tone_key)
    if (level, tone or "") != (case.level, case.tone):
        remote_case.change(level=level, tone=tone or "")
        st.rerun()
    way = way_words(found)
    put(f"<p>{in_html(way or 'A way is told once a level is hoped for and a photo can be measured.')}</p>")
    if found.tests_first:
        put(f"<div><p><b>First</b></p>{listed(found.tests_first)}</div>")


def _told(case: Case, found: "RemoteConsultation") -> None:
    """What the client answered, in the words of the questions, and what is still open."""
    from estimator.care.questions import FACT_TABLE
    from estimator.reports.answer_wording import about_text, value_text

    st.header("Answers and open questions")
    if case.entry.words:
        put("<p><b>In the client's own words</b></p>")
        st.text(case.entry.words)
    rows = [f"{about_text(fact)}: {value_text(fact, value)}" for fact, value in case.entry.answers.items()]
    put(listed(tuple(rows)) or "<p>No answers came with the photos.</p>")
    about = [FACT_TABLE.question_of[name].about for name in found.open_questions if name in FACT_TABLE.question_of]
    if about:
        put(f"<p>Still open: {in_html(', '.join(about))}.</p>")
    if found.missing_views:
        put(f"<p>Not seen: {in_html(wording.list_text([title.lower() for title in found.missing_views]))}.</p>")
    if found.left_out:
        put(f"<p>Left out, no photos: {in_html(', '.join(found.left_out))}.</p>")


def start_visit(case: Case) -> None:
    """A new visit in hand, in which what the client told and hoped for waits to be confirmed.

    No sent photograph is in it: what is learned from is photographed at the chair.
    """
    person.must(Right.WORK)
    told_on = (case.sent_utc or datetime.now(UTC)).astimezone().date()
    salon, answers = draft.current().salon, dict(case.entry.answers)
    begun = Draft(salon=salon, client=case.client, told_before=answers, told_on=told_on)
    unfinished.begin(replace(begun, wished_level=case.level, wished_tone=case.tone))
