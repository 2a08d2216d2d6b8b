"""A shelf read from CSV text: every fault of every row is told at once, and nothing is guessed."""

import csv
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from estimator.errors import BadInputError, EmptyShelfError
from estimator.toning.shades import Family, Lab, Shade, ShadeKind, Shelf

NEEDED = ("name", "family", "depth_level", "kind", "lab_l", "lab_a", "lab_b")
OPTIONAL = ("tube_price", "tube_grams")
BARE_HAIR = "white"  # the row of this name is the bare white hair, no shade
FAMILIES = tuple(str(family) for family in Family)
KINDS = tuple(str(kind) for kind in ShadeKind)
MOST_SHADES = 500
MOST_CHARACTERS = 1_000_000
MOST_FAULTS_TOLD = 20
# Lightest and darkest that dyed or bare hair reads, with room: outside them a column was most likely mistaken.
RANGES = {
    "depth_level": (1, 10),
    "lab_l": (0, 100),
    "lab_a": (-80, 90),
    "lab_b": (-80, 100),
    "strength": (0, 2),
    "tube_price": (0, 10_000),
    "tube_grams": (1, 5_000),
}
# Pale white hair, used where the shelf does not say on which hair its shades were judged. Our assumption.
USUAL_WHITE_LAB_D65: Lab = (86.0, -0.5, 14.0)


@dataclass
class Faults:
    """Everything wrong with a file so far, each with its line; `opening` is the sentence above them."""

    opening: str
    sentences: list[str] = field(default_factory=list)

    def add(self, line: int, sentence: str) -> None:
        self.sentences.append(f"Line {line}: {sentence}")

    def raise_if_any(self) -> None:
        if self.sentences:
            told = self.sentences[:MOST_FAULTS_TOLD]
            rest = len(self.sentences) - len(told)
            more = [f"And {rest} more."] if rest else []
            raise BadInputError("\n".join([self.opening, *told, *more]))


def load_shelf(text: str, name: str = "shelf", demo: bool = False) -> Shelf:
    """The shelf that a CSV holds; its columns are NEEDED, and OPTIONAL where prices are known.

    A row named `white` gives the bare hair on which the shades were judged; its family, level and kind stay empty.
    Raises
    ------
    BadInputError : names every faulty line and what it may hold. EmptyShelfError : no shade in it.
    """
    rows = table_rows(text, NEEDED, what="shelf")
    faults = Faults("The shelf can't be used; please mend the file:")
    shades: list[Shade] = []
    white = USUAL_WHITE_LAB_D65
    seen: dict[str, int] = {}
    for line, row in rows:
        row_name = row["name"]
        if not _named_once(row_name, line, seen, faults):
            continue
        if row_name.casefold() == BARE_HAIR:
            white = _lab(row, line, faults) or white
        elif shade := _shade(row, line, faults, demo):
            shades.append(shade)
    faults.raise_if_any()
    if not shades:
        raise EmptyShelfError("The shelf holds no shade. Enter at least one, with its colour on white hair.")
    if len(shades) > MOST_SHADES:
        raise BadInputError(f"The shelf holds {len(shades)} shades; {MOST_SHADES} are allowed. Split it.")
    return Shelf(tuple(shades), white, name, demo)


def table_rows(text: str, needed: tuple[str, ...], what: str) -> list[tuple[int, dict[str, str]]]:
    """Rows of a CSV with their line numbers: cells stripped, blank lines left out. BadInputError where columns lack."""
    if len(text) > MOST_CHARACTERS:
        raise BadInputError(f"The {what} file has {len(text)} characters; {MOST_CHARACTERS} are allowed. Split it.")
    if "\x00" in text:
        raise BadInputError(f"The {what} file is not plain text. Save it as CSV (UTF-8) and try again.")
    reader = csv.DictReader(io.StringIO(text.removeprefix("\ufeff")), restkey="", restval="", strict=True)
    try:
        head = [(column or "").strip() for column in reader.fieldnames or ()]
        _check_head(head, needed, what)
        reader.fieldnames = head
        rows = [(reader.line_num, {key: _cell(value) for key, value in row.items()}) for row in reader]
    except csv.Error as broken:
        where = f"near line {reader.line_num} ({broken})"
        raise BadInputError(f"The {what} file is no whole CSV {where}. Save it again as CSV.") from None
    return [(line, row) for line, row in rows if any(row.values())]


def _check_head(head: list[str], needed: tuple[str, ...], what: str) -> None:
    missing = [column for column in needed if column not in head]
    if missing:
        raise BadInputError(
            f"The {what} file lacks the column {', '.join(missing)}. Its first line must name {','.join(needed)}, "
            f"with commas between."
        )
    doubled = sorted({column for column in head if column and head.count(column) > 1})
    if doubled:
        raise BadInputError(f"The {what} file has the column {', '.join(doubled)} twice. Keep one of each.")


def _cell(value: str | list[str]) -> str:
    return "".join(value).strip() if isinstance(value, list) else value.strip()


def number(row: Mapping[str, str], column: str) -> float:
    """The number in a cell; ValueError with half a sentence where it is none, or out of its range."""
    text = row.get(column, "")
    low, high = RANGES[column]
    try:
        value = float(text)
    except ValueError:
        given = repr(text) if text else "empty"
        raise ValueError(f"{column} is {given}, a number from {low} to {high} is needed") from None
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError(f"{column} is {text}, it must lie from {low} to {high}")
    return value


def _named_once(name: str, line: int, seen: dict[str, int], faults: Faults) -> bool:
    if not name:
        faults.add(line, "the shade has no name.")
        return False
    if len(name) > 80 or any(ord(letter) < 32 for letter in name):
        faults.add(line, "the name is longer than 80 letters or holds control characters.")
        return False
    if (first := seen.setdefault(name.casefold(), line)) != line:
        faults.add(line, f"{name!r} stands already on line {first}; give each shade its own name.")
        return False
    return True


def _lab(row: Mapping[str, str], line: int, faults: Faults) -> Lab | None:
    values = [number_or_fault(row, column, line, faults) for column in ("lab_l", "lab_a", "lab_b")]
    if None in values:
        return None
    lightness, red_green, yellow_blue = (value for value in values if value is not None)
    return lightness, red_green, yellow_blue


def number_or_fault(row: Mapping[str, str], column: str, line: int, faults: Faults) -> float | None:
    """The number in a cell; None, and a fault more, where it is none."""
    try:
        return number(row, column)
    except ValueError as fault:
        faults.add(line, f"{fault}.")
        return None


def _shade(row: Mapping[str, str], line: int, faults: Faults, demo: bool) -> Shade | None:
    family, kind = row["family"].casefold(), row["kind"].casefold()
    if family not in FAMILIES:
        faults.add(line, f"family is {row['family']!r}; it must be one of {', '.join(FAMILIES)}.")
    if kind not in KINDS:
        faults.add(line, f"kind is {row['kind']!r}; it must be one of {', '.join(KINDS)}.")
    level = number_or_fault(row, "depth_level", line, faults)
    lab = _lab(row, line, faults)
    extras = [number_or_fault(row, column, line, faults) if row.get(column) else None for column in OPTIONAL]
    if family not in FAMILIES or kind not in KINDS or level is None or lab is None:
        return None
    return Shade(row["name"], Family(family), level, ShadeKind(kind), lab, extras[0], extras[1], demo)
