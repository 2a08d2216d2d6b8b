"""On the care screen: dates that run out, reminders for a calendar, the form on paper, and the law's limits."""

from datetime import UTC, date, datetime, time

import streamlit as st

from estimator.errors import BadInputError, EstimatorError
from estimator.pages import draft, kept_lift, kept_plans
from estimator.pages.escaping import in_html
from estimator.pages.showing import one_sentence, put

OF_THE_SALON = "patch_valid_days"  # a fact that is set here for every client, and asked of none
_EXAMPLE = "2026-10-05 14:30"
_ASKED = {
    "visit_at": "The visit",
    "patch_tested_at": "Patch test put on",
    "strand_tested_at": "Strand test made",
    "lightened_at": "Lightened last",
}


def dates_and_papers() -> None:
    """Three drawers: dates and reminders, the form to print, limits of the law."""
    with st.expander("Dates and reminders"), one_sentence():
        for name, label in _ASKED.items():
            _date(name, label)
        _patch_days()
        _reminders()
    with st.expander("The form on paper"), one_sentence():
        _form()
    with st.expander("Limits of the law"), one_sentence():
        _limits()


def _date(name: str, label: str) -> None:
    text = draft.current().dates.get(name)
    shown = f"{datetime.fromisoformat(text):%Y-%m-%d %H:%M}" if text else ""
    key = f"date_{name}"
    st.text_input(f"{label}: day and hour, such as {_EXAMPLE}", shown, key=key, on_change=_changed, args=(name, key))


def _changed(name: str, key: str) -> None:
    written = str(st.session_state.get(key, "")).strip()
    before = draft.current().dates
    dates = {other: text for other, text in before.items() if other != name}
    try:
        if written:
            dates[name] = _moment(written).isoformat()
        kept_plans.facts(draft.change(dates=dates))
    except EstimatorError as fault:
        st.session_state["refused_answer"] = str(fault)
        draft.change(dates=before)


def _moment(written: str) -> datetime:
    """The moment that was written, by this machine's time zone; ten in the morning where no hour was."""
    try:
        moment = datetime.fromisoformat(written)
    except ValueError as problem:
        raise BadInputError(f"{written!r} is no day and hour. Write it like {_EXAMPLE}.") from problem
    if len(written) <= len("2026-10-05"):
        moment = datetime.combine(moment.date(), time(10))
    return moment if moment.tzinfo is not None else moment.astimezone()


def _patch_days() -> None:
    from estimator.records.place import usual_folder
    from estimator.salon_settings import keep_patch_valid_days, load_settings

    folder = usual_folder()

    def changed() -> None:
        days = st.session_state["patch_days"]
        try:
            if days is not None:
                keep_patch_valid_days(folder, days)
        except EstimatorError as fault:
            st.session_state["refused_answer"] = str(fault)

    st.number_input(
        "This salon accepts a clear patch test for so many days (the maker's text comes first)",
        2.0,
        183.0,
        load_settings(folder).patch_valid_days,
        1.0,
        format="%g",
        key="patch_days",
        on_change=changed,
    )


def _reminders() -> None:
    from estimator.care.calendar_file import calendar_text
    from estimator.reports import lift_wording

    found = kept_lift.reminders(draft.current())
    rows = "".join(
        f"<li><b>{in_html(lift_wording.reminder_when(due))}</b>: {in_html(due.title)}. {in_html(due.text)}</li>"
        for due in found
    )
    put(f"<div><ul>{rows}</ul></div>")
    st.download_button(
        "Reminders for a calendar",
        calendar_text(found, datetime.now(UTC)),
        "reminders.ics",
        "text/calendar",
        key="calendar",
        on_click="ignore",
    )


def _form() -> None:
    from estimator.care.print_form import consultation_form
    from estimator.reports.consultation_paper import NOBODY, WhoseAnswers, form_html, form_pdf

    filled = st.pills("Form", ["empty", "with these answers"], default="empty", key="form_filled")
    if not st.button("Make the form", key="make_form"):
        return
    visit, with_answers = draft.current(), filled == "with these answers"
    zoned = kept_plans.consultation(visit).zoned if with_answers else None
    whose = WhoseAnswers(visit.client, visit.demo) if with_answers else NOBODY
    form, today = consultation_form(zoned), date.today()
    st.download_button(
        "Download the form (PDF)",
        form_pdf(form, today, whose),
        "consultation.pdf",
        "application/pdf",
        key="form_pdf",
        on_click="ignore",
    )
    st.download_button(
        "Download the form (web page)",
        form_html(form, today, whose),
        "consultation.html",
        "text/html",
        key="form_html",
        on_click="ignore",
    )


def _limits() -> None:
    from estimator.care.jurisdictions import limits_of, places
    from estimator.reports import wording

    names = dict(places())
    code = st.pills("Place", list(names), format_func=names.__getitem__, default=next(iter(names)), key="place")
    place = limits_of(code or next(iter(names)))
    rows = "".join(
        f"<li><b>{in_html(limit.substance)}</b>: {in_html(wording.plain_text(limit.figure))} {in_html(limit.unit)}, "
        f"{in_html(limit.counted)}; {in_html(limit.who)}. {in_html(limit.warning)}"
        f"{' Look it up: nobody here has read it in a published text.' if limit.to_look_up else ''}</li>"
        for limit in place.limits
    )
    dated = f"<p>{in_html(place.act)}, as of {in_html(wording.date_text(place.as_of))}.</p>" if place.as_of else ""
    put(f"<div>{dated}<ul>{rows}</ul><p><b>{in_html(place.note)}</b></p></div>")
