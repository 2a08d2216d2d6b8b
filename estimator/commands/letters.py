"""A letter in the form that a file's ending asks for."""

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from estimator.reports.client_letter import ClientLetter


def letter_bytes(letter: "ClientLetter", day: datetime.date, out: Path) -> bytes:
    """The letter as plain text, page or printed form. Raises BadInputError for any other ending."""
    from estimator.errors import BadInputError
    from estimator.reports.client_letter import letter_html, letter_pdf, letter_text

    match out.suffix.lower():
        case ".txt":
            return letter_text(letter).encode("utf-8")
        case ".html":
            return letter_html(letter).encode("utf-8")
        case ".pdf":
            return letter_pdf(letter, day)
        case ending:
            what = ending or "a file without ending"
            raise BadInputError(f"A letter is written as .txt, .html or .pdf, not as {what}.")
