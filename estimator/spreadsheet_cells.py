"""Text in a cell of CSV: a spreadsheet takes it for text whatever it begins with, and reading the file restores it.

Source of the signs: OWASP, "CSV Injection"; the full-width ones count as well. A number stays a number.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

BEGIN_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
MARK = "'"  # what a person types in a spreadsheet to say "this is text"
_NUMBER = r"[-+]?\d+(\.\d+)?([eE][-+]?\d+)?"
_NUMBERS = re.compile(rf"{_NUMBER}( {_NUMBER})*")


def in_cell(text: str) -> str:
    """`text` with a mark in front where a spreadsheet would take it for a formula; `from_cell` takes the mark away."""
    if _NUMBERS.fullmatch(text):
        return text
    return MARK + text if _may_be_mistaken(text) else text


def from_cell(cell: str) -> str:
    """The text that `in_cell` was given; any other cell stays as it is."""
    unmarked = cell.removeprefix(MARK)
    return unmarked if unmarked != cell and _may_be_mistaken(unmarked) else cell


def _may_be_mistaken(text: str) -> bool:
    """It begins a formula, or looks like a text that was marked already."""
    return text.startswith((*BEGIN_A_FORMULA, *(MARK + sign for sign in (*BEGIN_A_FORMULA, MARK))))


def csv_text(columns: Sequence[str], rows: Iterable[Mapping[str, Any]]) -> str:
    """A table as CSV with a head line (RFC 4180, lines ending in a line feed); a cell that a row lacks is empty.

    The standard library leaves a lone carriage return unquoted where lines end in a line feed, and a spreadsheet then
    begins a new row in the middle of a text: with whatever formula stands there.
    """
    lines = [columns, *([row.get(column) for column in columns] for row in rows)]
    return "".join(",".join(map(_written, line)) + "\n" for line in lines)


def _written(value: Any) -> str:
    cell = in_cell(value) if isinstance(value, str) else "" if value is None else str(value)
    return '"' + cell.replace('"', '""') + '"' if any(sign in cell for sign in ',"\r\n') else cell
