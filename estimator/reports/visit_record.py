"""The visit record: one paper that proves what was done, as one HTML file, as tagged PDF/A and as PNG pages."""

import datetime
from dataclasses import asdict, replace
from typing import Any

from estimator.reports.lettering import MISSING, MISSING_NOTE, each_text, printable
from estimator.reports.page_form import page
from estimator.reports.record_sheet import RecordSheet
from estimator.reports.typesetting import PrintedForm

NAME = "visit_record"


def record_html(sheet: RecordSheet) -> str:
    """The record as one HTML file that needs nothing else."""
    return page(NAME, asdict(replace(sheet, pictures={})), sheet.pictures)


def record_form(sheet: RecordSheet) -> PrintedForm:
    """The record on A4, for PDF or PNG."""
    words: dict[str, Any] = each_text(asdict(replace(sheet, pictures={})), printable)
    words["missing"] = MISSING_NOTE if _lacks_letters(words) else ""
    return PrintedForm(f"{NAME}.typ", words, sheet.pictures, datetime.date(*sheet.day))


def _lacks_letters(words: Any) -> bool:
    if isinstance(words, dict):
        return any(map(_lacks_letters, words.values()))
    if isinstance(words, list | tuple):
        return any(map(_lacks_letters, words))
    return isinstance(words, str) and MISSING in words
