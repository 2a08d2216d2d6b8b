"""The before/after report: one HTML file that needs nothing else, and a tagged PDF/A."""

import datetime
import json
from dataclasses import asdict, replace
from typing import Any
from weakref import WeakKeyDictionary

from estimator.reports.composing import compose
from estimator.reports.document import BeforeAfter, Heading
from estimator.reports.lettering import MISSING, MISSING_NOTE, each_text, printable
from estimator.reports.page_form import page
from estimator.reports.sheet import Sheet
from estimator.reports.typesetting import PrintedForm

__all__ = ["BeforeAfter", "Heading", "render_html", "render_pdf"]

PRINTED_FORM = "before_after.typ"

# The two forms of one report say the same; its words and pictures go when the document goes.
_SHEETS: WeakKeyDictionary[BeforeAfter, Sheet] = WeakKeyDictionary()


def _sheet_of(document: BeforeAfter) -> Sheet:
    if document not in _SHEETS:
        _SHEETS[document] = compose(document)
    return _SHEETS[document]


def render_html(document: BeforeAfter) -> str:
    """The report as one HTML file: styles, letters and pictures inside, no script, no address outside it."""
    sheet = _sheet_of(document)
    return page("before_after", asdict(replace(sheet, pictures={})), sheet.pictures)


def report_form(document: BeforeAfter) -> PrintedForm:
    """The report on A4, for PDF or PNG."""
    sheet, day = _sheet_of(document), document.heading.day
    return PrintedForm(PRINTED_FORM, printed_words(sheet, day), sheet.pictures, day)


def render_pdf(document: BeforeAfter) -> bytes:
    """The report as PDF/A-2a, tagged. Raises OutputError where the temporary folder can't be written."""
    return report_form(document).pdf()


def printed_words(sheet: Sheet, day: datetime.date) -> dict[str, Any]:
    """Everything that the printed form says, made of letters that it can show."""
    words: dict[str, Any] = each_text(asdict(replace(sheet, pictures={})), printable)
    if MISSING in json.dumps(words, ensure_ascii=False):
        words["known"].append(["Letters", MISSING_NOTE])
    return {**words, "day": [day.year, day.month, day.day]}
