"""Measured colours as CGATS.17 text, out and in. docs/formats.md tells the keywords of our own."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from calibration.cards.cgats import IDENTIFIERS, CgatsTable, cgats_text, parse_cgats
from calibration.cards.spectro_table import to_lab_d65
from estimator.errors import BadInputError
from estimator.exchange.conditions import conditions_told, usable_light
from estimator.exchange.measured import Bounds, Conditions, Lab, MeasuredColour, MeasuredTable
from estimator.exchange.spectra import as_shares, lab_of_spectrum

LAB, XYZ = ("LAB_L", "LAB_A", "LAB_B"), ("XYZ_X", "XYZ_Y", "XYZ_Z")
SPREAD = ("STDEV_L", "STDEV_A", "STDEV_B")
LOW = ("TM_LAB_L_LOW", "TM_LAB_A_LOW", "TM_LAB_B_LOW")
HIGH = ("TM_LAB_L_HIGH", "TM_LAB_A_HIGH", "TM_LAB_B_HIGH")
LEVEL = ("TM_LEVEL", "TM_LEVEL_LOW", "TM_LEVEL_HIGH")
OF_OUR_OWN = (*LOW, *HIGH, *LEVEL)
# How programs call the bands of a spectrum: SPECTRAL_NM400, SPECTRAL_NM_400, SPECTRAL_400, SPEC_400, NM400, R_400.
_BAND = re.compile(r"(?:SPECTRAL_NM_?|SPECTRAL_|SPEC_|NM_?|R_)(\d{3}(?:\.\d+)?)", re.IGNORECASE)


@dataclass(frozen=True)
class _Column:
    """Columns that hold one property of a colour, and the property."""

    names: tuple[str, ...]
    of: str


_COLUMNS = (_Column(SPREAD, "lab_sd"), _Column(LOW, "lab_low"), _Column(HIGH, "lab_high"), _Column(LEVEL, "level"))


def cgats_of(table: MeasuredTable) -> str:
    """The colours as CGATS.17 text: CIELAB D65 2°, every digit; columns of our own only where something is in them."""
    held = [column for column in _COLUMNS if any(getattr(colour, column.of) for colour in table.colours)]
    fields = ("SAMPLE_ID", "SAMPLE_NAME", *LAB, *(name for column in held for name in column.names))
    declared = [("KEYWORD", name) for name in fields if name in OF_OUR_OWN]
    keywords = (
        ("ORIGINATOR", "Tressmeter"),
        ("FILE_DESCRIPTOR", plain_word(table.about)),
        ("WEIGHTING_FUNCTION", "ILLUMINANT, D65"),
        ("WEIGHTING_FUNCTION", "OBSERVER, 2 degree"),
        *declared,
    )
    sets = tuple(
        (str(number), plain_word(colour.name), *map(repr, colour.lab_d65), *_told(colour, held))
        for number, colour in enumerate(table.colours, start=1)
    )
    return cgats_text(CgatsTable(keywords, fields, sets))


def plain_word(text: str) -> str:
    """The text as CGATS.17 can hold it: it knows no escape for a quotation mark and no line break."""
    return " ".join(text.replace('"', "'").split())


def _told(colour: MeasuredColour, held: list[_Column]) -> Iterator[str]:
    for column in held:
        values = getattr(colour, column.of)
        # A missing value is written so that no program takes it for a number.
        yield from map(repr, values) if values else ("",) * len(column.names)


def colours_of_cgats(text: str, given: Conditions) -> MeasuredTable:
    """The colours of a table of any instrument: LAB_*, else XYZ_*, else spectra. CIELAB D65 2°.

    given : What a person says of light and observer, where the file does not.

    Raises
    ------
    CardFileError, BadInputError : The table is faulty, or something about it is not known; the sentence says what.
    """
    table = parse_cgats(with_known_head(text))
    names = _names(table)
    labs = _labs(table, names, conditions_told(table.keywords).filled_by(given))
    about = next((value for name, value in table.keywords if name in ("FILE_DESCRIPTOR", "DESCRIPTOR")), "measured")
    colours = [
        MeasuredColour(name, lab, **{column.of: _triple(table, column.names, row, name) for column in _COLUMNS})
        for row, (name, lab) in enumerate(zip(names, labs, strict=True))
    ]
    return MeasuredTable(about, tuple(colours))


def with_known_head(text: str) -> str:
    """The text with CGATS.17 as its first word: other names of the same form, such as ISO28178, stand there too."""
    start = text.lstrip("\ufeff \r\n\t")
    word = start.split(maxsplit=1)[0] if start.strip() else ""
    if word in IDENTIFIERS or not re.search(r"^\s*BEGIN_DATA_FORMAT\s*$", start, re.MULTILINE):
        return text
    named_by_keyword = word in ("ORIGINATOR", "FILE_DESCRIPTOR", "CREATED", "DESCRIPTOR")
    return f"{IDENTIFIERS[0]}\n{start if named_by_keyword else start.removeprefix(word)}"


def is_cgats_like(text: str) -> bool:
    """Whether the text has the parts of such a table."""
    return bool(re.search(r"^\s*BEGIN_DATA_FORMAT\s*$", text, re.MULTILINE))


def _names(table: CgatsTable) -> list[str]:
    for field in ("SAMPLE_NAME", "SAMPLE_ID"):
        if field in table.fields:
            place = table.fields.index(field)
            found = [row[place].strip() for row in table.sets]
            if len(set(found)) == len(found) and all(found):
                return found
    raise BadInputError("The table has no SAMPLE_NAME and no SAMPLE_ID that differ. Name each sample in one of them.")


def _labs(table: CgatsTable, names: list[str], conditions: Conditions) -> list[Lab]:
    for kind, columns in (("lab", LAB), ("xyz", XYZ)):
        if set(columns) <= set(table.fields):
            values = np.array([[_number(table, c, row, n) for c in columns] for row, n in enumerate(names)])
            light = usable_light(conditions).value.lower()
            if (kind, light) == ("lab", "d65"):  # as they stand: a way through XYZ and back would cost digits
                return [(float(row[0]), float(row[1]), float(row[2])) for row in values]
            return [(float(row[0]), float(row[1]), float(row[2])) for row in to_lab_d65(values, kind, light)]
    bands = sorted((float(match[1]), field) for field in table.fields if (match := _BAND.fullmatch(field)))
    if not bands:
        raise BadInputError(
            "The table holds neither LAB_L, LAB_A, LAB_B nor XYZ_X, XYZ_Y, XYZ_Z nor spectra. Export one of them."
        )
    spectra = as_shares([[_number(table, field, row, n) for _, field in bands] for row, n in enumerate(names)])
    at_nm = [band for band, _ in bands]
    return [lab_of_spectrum(name, at_nm, spectrum) for name, spectrum in zip(names, spectra, strict=True)]


def _triple(table: CgatsTable, columns: tuple[str, ...], row: int, name: str) -> Bounds | None:
    if not set(columns) <= set(table.fields) or not all(_text(table, column, row) for column in columns):
        return None
    first, second, third = (_number(table, column, row, name) for column in columns)
    return first, second, third


def _text(table: CgatsTable, field: str, row: int) -> str:
    return table.sets[row][table.fields.index(field)].strip()


def _number(table: CgatsTable, field: str, row: int, name: str) -> float:
    text = _text(table, field, row)
    try:
        value = float(text)
        if not np.isfinite(value):
            raise ValueError
    except ValueError:
        raise BadInputError(
            f"{name[:60]}: {field} is {text[:40]!r}. Write numbers with a point, such as 51.25."
        ) from None
    return value
