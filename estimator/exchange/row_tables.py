"""CSV with units in its header, out and in: UTF-8, floats with every digit, text that is never taken for a formula."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from estimator.errors import BadInputError
from estimator.spreadsheet_cells import csv_text, from_cell

MOST_CHARACTERS = 50_000_000


@dataclass(frozen=True)
class Column:
    """One column. unit : "" where it has none. The header says `name [unit]`; `name` alone is read too."""

    name: str
    unit: str = ""

    @property
    def header(self) -> str:
        return f"{self.name} [{self.unit}]" if self.unit else self.name


def rows_to_csv(rows: Sequence[dict[str, Any]], columns: Sequence[Column]) -> str:
    """The rows as CSV. Text is made safe for spreadsheets; None is an empty cell."""
    headers = {column.name: column.header for column in columns}
    told = ({headers[name]: _plain(row.get(name)) for name in headers} for row in rows)
    return csv_text(tuple(headers.values()), told)


def _plain(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value


def rows_from_csv(text: str, columns: Sequence[Column], needed: Sequence[str], what: str) -> list[dict[str, str]]:
    """Cells by the columns' names, "" where a column lacks; text as it was before it was made safe.

    Raises
    ------
    BadInputError : A column that is needed lacks, one stands twice, or the text is no CSV.
    """
    if len(text) > MOST_CHARACTERS:
        raise BadInputError(f"The {what} file has {len(text)} characters; {MOST_CHARACTERS} are allowed. Split it.")
    names = {column.header: column.name for column in columns} | {column.name: column.name for column in columns}
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True)
    try:
        rows = [row for row in reader if any(row)]
    except csv.Error as broken:
        raise BadInputError(
            f"The {what} file is no whole CSV near line {reader.line_num} ({broken}). Save it again as CSV."
        ) from None
    head = [names.get(cell.strip(), cell.strip()) for cell in rows[0]] if rows else []
    _check_head(head, needed, what)
    return [_row(head, row, number, what) for number, row in enumerate(rows[1:], start=2)]


def _check_head(head: list[str], needed: Sequence[str], what: str) -> None:
    missing = [name for name in needed if name not in head]
    if missing:
        more = " and more" if len(missing) > 6 or len(needed) > 6 else ""
        raise BadInputError(
            f"The {what} file lacks the column {', '.join(missing[:6])}. Its first line must name "
            f"{', '.join(needed[:6])}{more}."
        )
    twice = next((name for name in head if name and head.count(name) > 1), None)
    if twice:
        raise BadInputError(f"The {what} file has the column {twice[:60]!r} twice. Keep one of each.")


def _row(head: list[str], cells: list[str], number: int, what: str) -> dict[str, str]:
    if len(cells) > len(head):
        raise BadInputError(f"Row {number} of the {what} file has {len(cells)} cells; the header has {len(head)}.")
    padded = [*cells, *([""] * (len(head) - len(cells)))]
    return {name: from_cell(cell) for name, cell in zip(head, padded, strict=True)}
