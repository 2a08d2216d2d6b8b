"""A shelf read from CSV text: every fault of every row is told at once, and nothing is guessed."""

import csv
import io
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from estimator.errors import BadInputError, EmptyShelfError
from estimator.spreadsheet_cells import csv_text, from_cell
from estimator.toning.described import as_covariance, described_colour
from estimator.toning.shades import Covariance, Family, KnownBy, Lab, Shade, ShadeKind, Shelf

NEEDED = ("name", "family", "depth_level", "kind")
COLOUR = ("lab_l", "lab_a", "lab_b")
SPREAD = ("lab_sd_l", "lab_sd_a", "lab_sd_b")  # one standard deviation each
ALIKE = ("lab_cor_la", "lab_cor_lb", "lab_cor_ab")  # correlations between them
OPTIONAL = ("tube_price", "tube_grams")
COLUMNS = (*NEEDED, *COLOUR, *OPTIONAL, "known_by", *SPREAD, *ALIKE)
BARE_HAIR = "white"  # the row of this name is the bare white hair, no shade
FAMILIES = tuple(str(family) for family in Family)
KINDS = tuple(str(kind) for kind in ShadeKind)
KNOWN_BY = tuple(str(how) for how in KnownBy)
MOST_SHADES = 500
MOST_CHARACTERS = 1_000_000
MOST_FAULTS_TOLD = 20
# Lightest and darkest that dyed or bare hair reads, with room: outside them a column was most likely mistaken.
RANGES = {
    "depth_level": (1, 10),
    "lab_l": (0, 100),
    "lab_a": (-80, 90),
    "lab_b": (-80, 100),
    **dict.fromkeys(SPREAD, (0, 30)),
    **dict.fromkeys(ALIKE, (-1, 1)),
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
    """The shelf that a CSV holds; its columns are NEEDED, the rest of COLUMNS where they are known.

    A row without a colour is taken from its description: family and level give a guess with a wide doubt. A row named
    `white` gives the bare hair on which the shades were judged; its family, level and kind stay empty.
    Raises
    ------
    BadInputError : names every faulty line and what it may hold. EmptyShelfError : no shade in it.
    """
    rows = table_rows(text, NEEDED, what="shelf")
    faults = Faults("The shelf can't be used; please mend the file:")
    seen: dict[str, int] = {}
    named = [(line, row) for line, row in rows if _named_once(row["name"], line, seen, faults)]
    bare = [_lab(row, line, faults) for line, row in named if row["name"].casefold() == BARE_HAIR]
    white = next((lab for lab in bare if lab), USUAL_WHITE_LAB_D65)
    read = [_shade(row, line, faults, (white, demo)) for line, row in named if row["name"].casefold() != BARE_HAIR]
    shades = [shade for shade in read if shade is not None]
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
    return from_cell("".join(value).strip() if isinstance(value, list) else value.strip())


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
    values = [number_or_fault(row, column, line, faults) for column in COLOUR]
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


def _shade(row: Mapping[str, str], line: int, faults: Faults, on: tuple[Lab, bool]) -> Shade | None:
    """The shade of a row, judged on white hair of that colour, demo or not; None where something is wrong with it."""
    white, demo = on
    before = len(faults.sentences)
    family = _word(row, ("family", FAMILIES), line, faults)
    kind = _word(row, ("kind", KINDS), line, faults)
    level = number_or_fault(row, "depth_level", line, faults)
    extras = [number_or_fault(row, column, line, faults) if row.get(column) else None for column in OPTIONAL]
    known = _known_colour(row, line, faults)
    if len(faults.sentences) > before or level is None:
        return None
    lab, covariance, known_by = known or (*described_colour(Family(family), level, white), KnownBy.DESCRIPTION)
    return Shade(
        row["name"], Family(family), level, ShadeKind(kind), lab, extras[0], extras[1], demo,
        lab_covariance=covariance, known_by=known_by,
    )  # fmt: skip


def _word(row: Mapping[str, str], column: tuple[str, tuple[str, ...]], line: int, faults: Faults) -> str:
    name, words = column
    word = row.get(name, "").casefold()
    if word not in words:
        faults.add(line, f"{name} is {row.get(name, '')!r}; it must be one of {', '.join(words)}.")
    return word


def _known_colour(row: Mapping[str, str], line: int, faults: Faults) -> tuple[Lab, Covariance, KnownBy] | None:
    """Colour on white hair, its covariance and what it is known by; None where the row gives no colour."""
    if not any(row.get(column) for column in COLOUR) or row.get("known_by", "").casefold() == KnownBy.DESCRIPTION:
        return None
    lab = _lab(row, line, faults)
    known_by = _word(row, ("known_by", KNOWN_BY), line, faults) if row.get("known_by") else KnownBy.INSTRUMENT
    spread, alike = (
        [number_or_fault(row, column, line, faults) if row.get(column) else 0.0 for column in columns]
        for columns in (SPREAD, ALIKE)
    )
    if lab is None or known_by not in KNOWN_BY or None in spread or None in alike:
        return None
    covariance = _covariance([sd or 0.0 for sd in spread], [share or 0.0 for share in alike])
    if np.linalg.eigvalsh(np.array(covariance)).min() < -1e-6:
        faults.add(line, f"{', '.join(ALIKE)} can't all be true at once. Leave them empty, or read the swatch again.")
    return lab, covariance, KnownBy(known_by)


def _covariance(sd: list[float], alike: list[float]) -> Covariance:
    form = np.eye(3)
    for share, (row, column) in zip(alike, ((0, 1), (0, 2), (1, 2)), strict=True):
        form[row, column] = form[column, row] = share
    return as_covariance(form * np.outer(sd, sd))


def shelf_text(shelf: Shelf) -> str:
    """The shelf as CSV, in the form that `load_shelf` reads."""
    rows = [{"name": BARE_HAIR, **_cells(COLOUR, shelf.white_lab_d65)}]
    for shade in shelf.shades:
        row = {"name": shade.name, "family": str(shade.family), "depth_level": f"{shade.depth_level:g}"}
        row |= {"kind": str(shade.kind), **_cells(OPTIONAL, (shade.price_per_tube, shade.tube_grams))}
        row["known_by"] = str(shade.known_by)
        if shade.known_by is not KnownBy.DESCRIPTION:  # a guess is made anew, never kept as if it had been read
            row |= _cells(COLOUR, shade.lab_d65_on_white) | _spread_cells(shade.lab_covariance)
        rows.append(row)
    return csv_text(COLUMNS, rows)


def _spread_cells(covariance: Covariance) -> dict[str, str]:
    spread = np.array(covariance)
    sd = np.sqrt(np.diag(spread))
    if not sd.any():
        return {}
    form = spread / np.maximum(np.outer(sd, sd), 1e-12)
    return _cells(SPREAD, sd) | _cells(ALIKE, (form[0, 1], form[0, 2], form[1, 2]))


def _cells(columns: tuple[str, ...], values: Iterable[float | None]) -> dict[str, str]:
    pairs = zip(columns, values, strict=True)
    return {column: "" if value is None else f"{round(float(value), 4):.10g}" for column, value in pairs}
