"""What one print of the printed card looks like: its patches' colours as measured, and the file that keeps them."""

import hashlib
import json
import math
import re
import tomllib
from dataclasses import dataclass
from typing import Any

import numpy as np

from calibration.cards.printed_layout import Sheet, printed_layout
from calibration.colourspaces import lab_to_xyz
from calibration.errors import CalibrationError
from calibration.findings import Finding, Severity
from calibration.photo import FloatArray

SOURCES = ("photograph", "cgats", "csv", "cxf")
LONGEST_TEXT = 80
LARGEST_SD = 30.0
_SHA256 = re.compile(r"[0-9a-f]{64}")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_ANEW = "Measure the card anew with `tressmeter card measure`, or mend the file."


class CardFileError(CalibrationError):
    """A file of measured values, or a table of an instrument, can't be used."""


def card_file_error(message: str, remedy: str = _ANEW) -> CardFileError:
    """The exception that says what is wrong with a card's file, and what to do."""
    return CardFileError(Finding("card_file", Severity.RETAKE, message, remedy, "card"))


@dataclass(frozen=True, eq=False)
class MeasuredCard:
    """One print and its colours.

    lab_d65 : CIELAB D65 2° of each patch, in the layout's order. shape (patches, 3).
    lab_sd : How far each may be off on its own, one standard deviation. shape (patches, 3).
    shared_covariance : Of the error that all patches share: of the correction they were read by. shape (3, 3).
    day : When it was measured, as 2026-11-25. printer : What it was printed with, in the owner's words.
    source : "photograph", "cgats", "csv" or "cxf". photo_sha256 : Of the photograph; "" for a table.
    """

    sheet: Sheet
    lab_d65: FloatArray
    lab_sd: FloatArray
    shared_covariance: FloatArray
    day: str
    printer: str
    source: str
    photo_sha256: str = ""

    def __post_init__(self) -> None:
        shape = (len(printed_layout().patches), 3)
        if self.lab_d65.shape != shape or self.lab_sd.shape != shape or self.shared_covariance.shape != (3, 3):
            raise ValueError(f"A measured card needs colours and spreads of shape {shape} and a 3x3 covariance.")
        if self.source not in SOURCES:
            raise ValueError(f"The source of a measured card is one of {SOURCES}.")
        for values in (self.lab_d65, self.lab_sd, self.shared_covariance):
            values.setflags(write=False)

    @property
    def xyz_d65(self) -> FloatArray:
        """CIE XYZ D65 of each patch, perfect white Y = 1. shape (patches, 3)."""
        return lab_to_xyz(self.lab_d65)

    @property
    def sha256(self) -> str:
        """Of the sheet and all values, as the file writes them: the card's name in records."""
        return hashlib.sha256("\n".join(_value_lines(self)).encode("utf-8")).hexdigest()


def card_text(card: MeasuredCard) -> str:
    """The measured card as TOML. Raises CardFileError for a day or printer that can't be kept."""
    check_words(card.day, card.printer)
    head = [
        "# Colours of one print of the printed card: CIELAB, D65, 2 degrees. sd: one standard deviation of each patch.",
        f"day = {_quoted(card.day)}",
        f"printer = {_quoted(card.printer)}",
        f"source = {_quoted(card.source)}",
        f"photo_sha256 = {_quoted(card.photo_sha256)}",
        f"sha256 = {_quoted(card.sha256)}",
    ]
    return "\n".join([*head, *_value_lines(card)]) + "\n"


def kept_card(text: str) -> MeasuredCard:
    """The measured card that `card_text` wrote. Raises CardFileError, saying what is wrong with it."""
    document = _document(text)
    layout = printed_layout()
    if document.get("layout_version") != layout.version:
        raise card_file_error(f"The file is for layout {document.get('layout_version')!r}; this program knows "
                              f"layout {layout.version}.")  # fmt: skip
    if document.get("sheet") not in [sheet.key for sheet in layout.sheets]:
        raise card_file_error(f"The file names the sheet {document.get('sheet')!r}; there are A6 and A5.")
    rows = document.get("patch")
    names = [row.get("name") if isinstance(row, dict) else None for row in rows] if isinstance(rows, list) else []
    if tuple(names) != layout.patch_names or not isinstance(rows, list):
        raise card_file_error(f"The file needs the {len(layout.patches)} patches of the printed card, in their order.")
    day, printer, source = (document.get(key) for key in ("day", "printer", "source"))
    check_words(day, printer)
    photo = document.get("photo_sha256", "")
    if source not in SOURCES or not isinstance(photo, str) or (photo and not _SHA256.fullmatch(photo)):
        raise card_file_error("The file does not say where its values come from.")
    card = MeasuredCard(
        layout.sheet(str(document["sheet"])),
        np.array([_numbers(row, "lab_d65", -150.0, 150.0) for row in rows]),
        np.array([_numbers(row, "sd", 0.0, LARGEST_SD) for row in rows]),
        _covariance(document.get("shared_covariance")),
        str(day),
        str(printer),
        str(source),
        photo,
    )
    if document.get("sha256") != card.sha256:
        raise card_file_error("The values in the file are not those that were measured: its hash does not fit them.")
    return card


def _value_lines(card: MeasuredCard) -> list[str]:
    layout = printed_layout()
    lines = [
        f"layout_version = {layout.version}",
        f"sheet = {_quoted(card.sheet.key)}",
        f"shared_covariance = [{', '.join(_list(row, 6) for row in card.shared_covariance)}]",
    ]
    for patch, lab, spread in zip(layout.patches, card.lab_d65, card.lab_sd, strict=True):
        lines += ["", "[[patch]]", f"name = {_quoted(patch.name)}", f"lab_d65 = {_list(lab, 4)}"]
        lines.append(f"sd = {_list(spread, 4)}")
    return lines


def _list(values: FloatArray, digits: int) -> str:
    # Adding zero turns -0.0 into 0.0: both must have one hash.
    return f"[{', '.join(f'{round(float(value), digits) + 0.0:.{digits}f}' for value in values)}]"


def _document(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as problem:
        raise card_file_error(f"The card's file is not TOML ({problem}).") from problem


def _numbers(row: dict[str, Any], key: str, low: float, high: float) -> list[float]:
    values = row.get(key)
    if isinstance(values, list) and len(values) == 3 and all(_is_number(value, low, high) for value in values):
        return [float(value) for value in values]
    raise card_file_error(f"Patch {row['name']}: {key} must be three numbers from {low:g} to {high:g}.")


def _is_number(value: Any, low: float, high: float) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high


def _covariance(rows: Any) -> FloatArray:
    limit = LARGEST_SD**2
    whole = isinstance(rows, list) and len(rows) == 3 and all(isinstance(row, list) and len(row) == 3 for row in rows)
    if not whole or not all(_is_number(value, -limit, limit) for row in rows for value in row):
        raise card_file_error("shared_covariance must be three rows of three numbers.")
    covariance = np.array(rows, dtype=np.float64)
    if not np.allclose(covariance, covariance.T) or np.linalg.eigvalsh(covariance).min() < -1e-4:
        raise card_file_error("shared_covariance is no covariance: it must be symmetric, with no negative direction.")
    return covariance


def check_words(day: Any, printer: Any) -> None:
    if not isinstance(day, str) or not _DAY.fullmatch(day):
        raise card_file_error(f"The day is {day!r}.", "Write it as year-month-day, such as 2026-11-25.")
    if not isinstance(printer, str) or not 0 < len(printer.strip()) <= LONGEST_TEXT or not printer.isprintable():
        raise card_file_error(
            "The printer needs a name of 1 to 80 printable characters.", "Say what the card was printed with."
        )


def _quoted(text: str) -> str:
    """A TOML basic string; JSON escapes the same characters, but for delete."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def table_spread(sd: float) -> tuple[FloatArray, FloatArray]:
    """Spread of every patch and shared covariance where an instrument measured, from one standard deviation."""
    if not math.isfinite(sd) or sd <= 0:
        raise ValueError("An instrument's standard deviation must be above 0.")
    return np.full((len(printed_layout().patches), 3), sd), np.eye(3) * sd**2
