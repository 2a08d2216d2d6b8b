"""Tables of measured colour in the text form of ANSI CGATS.17: read strictly, and written.

Structure from memory of CGATS.17 (keyword lines, a data format, sets of data); no copy of the standard was at hand.
"""

import re
from dataclasses import dataclass

from calibration.cards.measured_card import card_file_error

MOST_LINES = 20_000
IDENTIFIERS = ("CGATS.17", "CGATS.5")
_TOKEN = re.compile(r'"[^"]*"|\S+')
_REMEDY = "Export the table again as CGATS.17 text, or write it as CSV."


@dataclass(frozen=True)
class CgatsTable:
    """keywords : Name and value of each keyword line, in order. fields : Names of columns. sets : Rows, as text."""

    keywords: tuple[tuple[str, str], ...]
    fields: tuple[str, ...]
    sets: tuple[tuple[str, ...], ...]


def is_cgats(text: str) -> bool:
    """Whether the text says in its first line that it is such a table."""
    return text.lstrip("\ufeff \r\n\t").startswith("CGATS.")


def parse_cgats(text: str) -> CgatsTable:
    """The first table of the text. Raises CardFileError, naming the line that is wrong."""
    lines = _tokens(text)
    if not lines or lines[0][1][0] not in IDENTIFIERS:
        raise card_file_error(f"The table does not begin with {' or '.join(IDENTIFIERS)}.", _REMEDY)
    keywords: list[tuple[str, str]] = []
    fields: tuple[str, ...] = ()
    place = 1
    while place < len(lines):
        number, tokens = lines[place]
        if tokens[0] == "BEGIN_DATA_FORMAT":
            body, place = _block(lines, place, "END_DATA_FORMAT")
            fields = tuple(token for _, row in body for token in row)
        elif tokens[0] == "BEGIN_DATA":
            body, place = _block(lines, place, "END_DATA")
            return _checked(tuple(keywords), fields, body)
        elif tokens[0].startswith(("BEGIN_", "END_")):
            raise card_file_error(f"Line {number}: {tokens[0][:60]} stands where it does not belong.", _REMEDY)
        else:
            keywords.append((tokens[0], " ".join(token.strip('"') for token in tokens[1:])))
            place += 1
    raise card_file_error("The table has no BEGIN_DATA.", _REMEDY)


def cgats_text(table: CgatsTable) -> str:
    """The table as text that `parse_cgats` reads back."""
    lines = ["CGATS.17"]
    lines += [f'{name} "{value}"' for name, value in table.keywords if not name.startswith("NUMBER_OF_")]
    lines += [f"NUMBER_OF_FIELDS {len(table.fields)}", "BEGIN_DATA_FORMAT", "\t".join(table.fields), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS {len(table.sets)}", "BEGIN_DATA"]
    lines += ["\t".join(_written(value) for value in row) for row in table.sets]
    return "\n".join([*lines, "END_DATA"]) + "\n"


def _tokens(text: str) -> list[tuple[int, list[str]]]:
    """Number and tokens of each line that holds any; comments fall away."""
    lines = text.lstrip("\ufeff").splitlines()
    if len(lines) > MOST_LINES:
        raise card_file_error(f"The table has {len(lines)} lines; {MOST_LINES} are allowed.", _REMEDY)
    found = []
    for number, line in enumerate(lines, start=1):
        tokens = _TOKEN.findall(line)
        starts = [place for place, token in enumerate(tokens) if token.startswith("#")]
        tokens = tokens[: starts[0]] if starts else tokens
        if any(token.count('"') == 1 for token in tokens):
            raise card_file_error(f"Line {number}: a quotation mark is not closed.", _REMEDY)
        if tokens:
            found.append((number, tokens))
    return found


def _block(lines: list[tuple[int, list[str]]], begin: int, end: str) -> tuple[list[tuple[int, list[str]]], int]:
    """Lines between a BEGIN and its END, and the place after it."""
    for place in range(begin + 1, len(lines)):
        if lines[place][1] == [end]:
            return lines[begin + 1 : place], place + 1
        if lines[place][1][0].startswith(("BEGIN_", "END_")):
            break
    raise card_file_error(f"Line {lines[begin][0]}: {lines[begin][1][0][:60]} has no {end}.", _REMEDY)


def _checked(
    keywords: tuple[tuple[str, str], ...], fields: tuple[str, ...], body: list[tuple[int, list[str]]]
) -> CgatsTable:
    if not fields or len(set(fields)) != len(fields):
        raise card_file_error("The table needs a data format with field names that differ.", _REMEDY)
    for number, row in body:
        if len(row) != len(fields):
            raise card_file_error(f"Line {number} has {len(row)} values; the data format has {len(fields)}.", _REMEDY)
    for name, expected in (("NUMBER_OF_FIELDS", len(fields)), ("NUMBER_OF_SETS", len(body))):
        stated = [value for key, value in keywords if key == name]
        if stated and stated[0] != str(expected):
            raise card_file_error(f"{name} says {stated[0][:40]}; the table has {expected}.", _REMEDY)
    sets = tuple(tuple(value.strip('"') for value in row) for _, row in body)
    return CgatsTable(keywords, fields, sets)


def _written(value: str) -> str:
    return f'"{value}"' if not value or re.search(r"\s|#", value) else value
