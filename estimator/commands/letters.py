"""A letter in the form that a file's ending asks for."""

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from estimator.reports.client_letter import ClientLetter


def write_letter(letter: "ClientLetter", day: datetime.date, out: Path) -> tuple[Path, ...]:
    """The new files of a letter: plain text, page, printed form or pictures. Raises BadInputError, OutputError."""
    from estimator.reports.client_letter import letter_form, letter_html, letter_text
    from estimator.reports.writing import write_form

    others = {
        ".txt": lambda: letter_text(letter).encode("utf-8"),
        ".html": lambda: letter_html(letter).encode("utf-8"),
    }
    return write_form(out, letter_form(letter, day), others)
