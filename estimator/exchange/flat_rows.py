"""Values as rows of a table and back: a colour in three columns, anything that is no single cell as JSON in one."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from estimator.errors import BadInputError
from estimator.exchange.row_tables import Column, rows_from_csv, rows_to_csv

AXES = ("l", "a", "b")


@dataclass(frozen=True)
class Field:
    """One property of a row. unit : As its header says it.

    kind : "text", "number", "whole", "word" (yes or no), "lab" (three columns), or "json" (everything else).
    """

    name: str
    kind: str = "text"
    unit: str = ""

    @property
    def columns(self) -> tuple[Column, ...]:
        """Its columns in the table."""
        if self.kind == "lab":
            return tuple(Column(f"{self.name}_{axis}", self.unit) for axis in AXES)
        return (Column(self.name, self.unit),)


def flat_csv(rows: Iterable[Mapping[str, Any]], layout: tuple[Field, ...]) -> str:
    """The rows, as JSON holds them, as CSV. None is an empty cell."""
    return rows_to_csv([_cells(row, layout) for row in rows], [c for field in layout for c in field.columns])


def _cells(row: Mapping[str, Any], layout: tuple[Field, ...]) -> dict[str, Any]:
    cells: dict[str, Any] = {}
    for field in layout:
        value = row[field.name]
        if field.kind == "lab":
            values = value if value is not None else (None, None, None)
            cells.update(zip((column.name for column in field.columns), values, strict=True))
        elif field.kind == "json":
            cells[field.name] = json.dumps(value, ensure_ascii=False)
        else:
            cells[field.name] = value
    return cells


def rows_of_flat_csv(text: str, layout: tuple[Field, ...], what: str) -> list[dict[str, Any]]:
    """The rows as JSON holds them. Raises BadInputError, naming row and column."""
    columns = [column for field in layout for column in field.columns]
    cells = rows_from_csv(text, columns, [column.name for column in columns], what)
    return [
        {field.name: _read(field, row, f"Row {number} of the {what}") for field in layout}
        for number, row in enumerate(cells, start=2)
    ]


def _read(field: Field, row: Mapping[str, str], where: str) -> Any:
    texts = [row[column.name] for column in field.columns]
    if field.kind == "text":
        return texts[0]
    if not any(texts):
        return None
    try:
        return _read_cell(field.kind, texts)
    except (ValueError, RecursionError):
        raise BadInputError(
            f"{where}: {field.name} is {', '.join(texts)[:40]!r}, which it can't be. Write the row anew."
        ) from None


def _read_cell(kind: str, texts: list[str]) -> Any:
    match kind:
        case "lab":
            return [float(text) for text in texts]
        case "number":
            return float(texts[0])
        case "whole":
            return int(texts[0])
        case "word":
            return {"yes": True, "no": False}[texts[0]] if texts[0] in ("yes", "no") else _wrong()
        case _:
            return json.loads(texts[0])


def _wrong() -> Any:
    raise ValueError
