"""The papers of a visit, kept by what they rest on: the report, and single sheets. All obey the same stops."""

import datetime
import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import streamlit as st

from estimator.errors import BadInputError
from estimator.pages import kept_plans, kept_readings, kept_scales
from estimator.pages.draft import Draft
from estimator.pages.outlines import drawn_zones

if TYPE_CHECKING:
    from estimator.reports.document import BeforeAfter, Heading


@dataclass(frozen=True)
class Report:
    """The report of a visit, ready to be kept as a file. stem : the files' name without its ending."""

    stem: str
    pdf: bytes
    html: str


@dataclass(frozen=True)
class Paper:
    """One file to take away. kind : its type as the web names it."""

    name: str
    content: bytes
    kind: str


def report_key(visit_draft: Draft) -> str:
    """Changes whenever a report on this visit would."""
    after = kept_readings.reading_key(visit_draft.after) if visit_draft.after else ""
    told = (kept_plans.plan_key(visit_draft), after, visit_draft.client, visit_draft.salon)
    return hashlib.sha256(repr(told).encode()).hexdigest()


def heading(visit_draft: Draft) -> "Heading":
    """Whose visit it is, and when."""
    from estimator.reports.document import Heading

    client, salon = visit_draft.client or "no code", visit_draft.salon or "no salon named"
    return Heading(client, salon, _day(visit_draft), visit_draft.demo)


def document(visit_draft: Draft) -> "BeforeAfter":
    """All that the papers of this visit show; raises BadInputError."""
    from estimator import visit

    if visit_draft.before is None:
        raise BadInputError("There is no photograph from before, so there is nothing to report. Take one in step 1.")
    after = kept_readings.reading(visit_draft.after) if visit_draft.after and drawn_zones(visit_draft.after) else None
    before, checked = kept_readings.reading_before(visit_draft), kept_plans.checked(visit_draft)
    made = visit.document_of(heading(visit_draft), before, checked, after, kept_scales.own_scale())
    due = visit.reminders(kept_plans.facts(visit_draft), kept_plans.dates(visit_draft), lightener=visit_draft.lightens)
    return replace(made, reminders=due)


def report(visit_draft: Draft) -> Report:
    """The report on this visit, before and after or as a plan sheet; raises BadInputError, OutputError."""
    from estimator.reports.before_after import render_html, render_pdf

    made = document(visit_draft)
    return Report(f"before-after-{_day(visit_draft).isoformat()}", render_pdf(made), render_html(made))


def bowl_sheet(visit_draft: Draft) -> tuple[Paper, ...]:
    """What is mixed, as PDF on A5 and each page as a picture; behind a stop it says so and holds no bowl.

    Raises BadInputError, OutputError.
    """
    from estimator.reports.bowl_sheet import bowl_form

    form, stem = bowl_form(document(visit_draft)), f"bowls-{_day(visit_draft)}"
    pages = enumerate(form.png_pages(), 1)
    pictures = tuple(Paper(f"{stem}-{number}.png", page, "image/png") for number, page in pages)
    return Paper(f"{stem}.pdf", form.pdf(), "application/pdf"), *pictures


def letter(visit_draft: Draft) -> tuple[Paper, ...]:
    """The letter to the client, as plain text to be changed and as PDF. Raises BadInputError, OutputError."""
    from estimator.pages.kept_records import quote_of
    from estimator.reports.client_letter import client_letter, letter_pdf, letter_text

    day, made = _day(visit_draft), client_letter(document(visit_draft), quote_of(visit_draft))
    text = letter_text(made).encode("utf-8")
    return (
        Paper(f"letter-{day}.txt", text, "text/plain"),
        Paper(f"letter-{day}.pdf", letter_pdf(made, day), "application/pdf"),
    )


def portfolio_picture(visit_draft: Draft, hiding: str = "blur") -> Paper:
    """The hair before and after, all else hidden, as PNG. hiding : "blur" or "cut", as in `Hiding`.

    Raises
    ------
    BadInputError : No hair is outlined.
    ConsentMissingError : The client has not agreed to this use; a demo visit needs nobody's consent.
    """
    from estimator.pages.kept_records import need_consent
    from estimator.records.consent_scopes import Scope
    from estimator.reports.portfolio import Hiding, portfolio_picture

    if not visit_draft.demo:
        need_consent(visit_draft, Scope.PORTFOLIO)
    made = document(visit_draft)
    picture = portfolio_picture(made.before, made.after, Hiding(hiding), visit_draft.demo)
    return Paper(f"portfolio-{_day(visit_draft)}.png", picture, "image/png")


def papers_made(what: str, key: str) -> tuple[Paper, ...]:
    """The papers of one kind that this session has made of the visit as it stands; none where they are not made yet."""
    held: dict[tuple[str, str], tuple[Paper, ...]] = st.session_state.get("papers", {})
    return held.get((what, key), ())


def make_papers(what: str, key: str, make: Callable[[], tuple[Paper, ...]]) -> None:
    """Make the papers of one kind now; those of the visit as it stood before a change are let go."""
    held: dict[tuple[str, str], tuple[Paper, ...]] = st.session_state.get("papers", {})
    made = make()
    st.session_state["papers"] = {name: one for name, one in held.items() if name[1] == key} | {(what, key): made}


def _day(visit_draft: Draft) -> datetime.date:
    return visit_draft.day or datetime.date.today()
