"""Readings as rows, from and to CSV and JSON: what `tressmeter read` wrote, and the form with units in the header."""

import json
import math
from dataclasses import dataclass
from typing import Any

from estimator.errors import BadInputError
from estimator.exchange.row_tables import Column, rows_from_csv, rows_to_csv
from estimator.scene_rows import READING_COLUMNS

Lab = tuple[float, float, float]
Bounds = tuple[float, float, float]
MOST_JSON = 20_000_000


@dataclass(frozen=True)
class SecondColour:
    """The second of two colours in a zone. place : Where it lies. level, stage : None and "" where nobody told."""

    place: str
    lab_d65: Lab
    level: float | None
    stage: str


@dataclass(frozen=True)
class ReadingLine:
    """One zone in one photograph, or from several together.

    findings : Codes. lab_low, lab_high : Nine-in-ten. level : Value, low, high.
    part, part_share : Where the part lies whose colour this is, and its share with interval; empty for one colour.
    A photograph that was refused has no zone, no colour and no level.
    """

    scene: str
    photo: str
    zone: str
    verdict: str
    findings: tuple[str, ...]
    lab_d65: Lab | None
    lab_low: Lab | None
    lab_high: Lab | None
    level: Bounds | None
    stage: str
    part: str = ""
    part_share: Bounds | None = None
    second: SecondColour | None = None


_UNITS = {
    "lab_l": "CIELAB D65 2 deg", "lab_a": "CIELAB D65 2 deg", "lab_b": "CIELAB D65 2 deg",
    "level": "1-10", "part_share": "share 0-1",
}  # fmt: skip


def _unit(name: str) -> str:
    stem = name.removeprefix("second_").removesuffix("_low").removesuffix("_high")
    return _UNITS.get(stem, "")


COLUMNS = tuple(Column(name, _unit(name)) for name in READING_COLUMNS)


def lines_to_csv(lines: tuple[ReadingLine, ...]) -> str:
    """The rows as CSV, the columns of `tressmeter read` with their units; floats with every digit."""
    return rows_to_csv([cells_of(line) for line in lines], COLUMNS)


def lines_to_json(lines: tuple[ReadingLine, ...]) -> str:
    """The rows as JSON: the columns of `tressmeter read`, numbers as numbers, nothing as null."""
    return json.dumps({"zones": [cells_of(line) for line in lines]}, ensure_ascii=False, indent=1) + "\n"


def lines_from(text: str) -> tuple[ReadingLine, ...]:
    """Rows in CSV or JSON: as `tressmeter read` writes them, or as written here. Raises BadInputError."""
    if text.lstrip("\ufeff \r\n\t").startswith(("{", "[")):
        rows = _json_rows(text)
    else:
        rows = rows_from_csv(text, COLUMNS, ("zone", "lab_l", "lab_a", "lab_b"), "readings")
    return tuple(_line(row, number) for number, row in enumerate(rows, start=1))


def cells_of(line: ReadingLine) -> dict[str, Any]:
    """The line by the columns of `tressmeter read`; None where there is nothing."""
    row: dict[str, Any] = dict.fromkeys(READING_COLUMNS)
    row |= {"scene": line.scene, "photo": line.photo, "zone": line.zone, "verdict": line.verdict,
            "findings": " ".join(line.findings), "stage": line.stage, "part": line.part}  # fmt: skip
    _spread(row, ("lab_l", "lab_a", "lab_b"), line.lab_d65)
    _spread(row, ("lab_l_low", "lab_a_low", "lab_b_low"), line.lab_low)
    _spread(row, ("lab_l_high", "lab_a_high", "lab_b_high"), line.lab_high)
    _spread(row, ("level", "level_low", "level_high"), line.level)
    _spread(row, ("part_share", "part_share_low", "part_share_high"), line.part_share)
    second = line.second
    row |= {"second_part": second.place if second else "", "second_stage": second.stage if second else ""}
    if second:
        _spread(row, ("second_lab_l", "second_lab_a", "second_lab_b"), second.lab_d65)
        row["second_level"] = second.level
    return row


def _spread(row: dict[str, Any], columns: tuple[str, str, str], values: Bounds | None) -> None:
    if values is not None:
        row.update(zip(columns, values, strict=True))


def _json_rows(text: str) -> list[dict[str, str]]:
    if len(text) > MOST_JSON:
        raise BadInputError(f"The readings have {len(text)} characters; {MOST_JSON} are allowed. Split the file.")
    try:
        document = json.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError) as problem:
        raise BadInputError("The readings are no JSON. Make them with `tressmeter read --json`.") from problem
    rows = document.get("zones") if isinstance(document, dict) else document
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise BadInputError("The readings hold no list of zones. Make them with `tressmeter read --json`.")
    return [{str(key): _word(value) for key, value in row.items()} for row in rows]


def _word(value: Any) -> str:
    if value is None:
        return ""
    return repr(value) if isinstance(value, float) else str(value)


def _line(row: dict[str, str], number: int) -> ReadingLine:
    three = _Three(row, number)
    second_lab = three.of("second_lab_l", "second_lab_a", "second_lab_b")
    second = None
    if second_lab is not None:
        level = three.one("second_level")
        second = SecondColour(row.get("second_part", ""), second_lab, level, row.get("second_stage", ""))
    words = {name: row.get(name, "") for name in ("scene", "photo", "zone", "verdict", "stage", "part")}
    return ReadingLine(
        **words,
        findings=tuple(row.get("findings", "").split()),
        lab_d65=three.of("lab_l", "lab_a", "lab_b"),
        lab_low=three.of("lab_l_low", "lab_a_low", "lab_b_low"),
        lab_high=three.of("lab_l_high", "lab_a_high", "lab_b_high"),
        level=three.of("level", "level_low", "level_high"),
        part_share=three.of("part_share", "part_share_low", "part_share_high"),
        second=second,
    )


@dataclass(frozen=True)
class _Three:
    """Numbers of one row, by the names of their columns."""

    row: dict[str, str]
    number: int

    def one(self, column: str) -> float | None:
        text = self.row.get(column, "")
        if not text:
            return None
        try:
            value = float(text)
            if not math.isfinite(value):
                raise ValueError
        except ValueError:
            raise BadInputError(
                f"Row {self.number}: {column} is {text[:40]!r}. Write a number with a point, such as 51.25."
            ) from None
        return value

    def of(self, *columns: str) -> Bounds | None:
        found = [self.one(column) for column in columns]
        first, second, third = found
        if first is None or second is None or third is None:
            if any(value is not None for value in found):
                raise BadInputError(f"Row {self.number}: {', '.join(columns)} are given together, or none of them.")
            return None
        return first, second, third
