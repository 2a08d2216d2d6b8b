"""Where measured colours come from: readings, a measured card, a shelf, CGATS or CxF of an instrument."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from calibration.cards.measured_card import MeasuredCard, kept_card
from calibration.cards.printed_layout import printed_layout
from estimator.errors import BadInputError
from estimator.exchange.cgats_colours import colours_of_cgats, is_cgats_like
from estimator.exchange.cxf import NAMESPACE, colours_of_cxf
from estimator.exchange.measured import Conditions, Lab, MeasuredColour, MeasuredTable
from estimator.exchange.reading_lines import ReadingLine, lines_from
from estimator.toning.shades import Covariance, Shelf
from estimator.toning.shelf_file import BARE_HAIR, load_shelf

TOGETHER = "all"  # the rows of `tressmeter read FOLDER` that stand for all photographs of a scene


@dataclass(frozen=True)
class Given:
    """A file as it was handed over. name : Of the file, for what it may be; never kept."""

    name: str
    content: bytes

    @property
    def text(self) -> str:
        """Raises BadInputError where it is no text."""
        try:
            return self.content.decode("utf-8-sig")
        except UnicodeDecodeError as problem:
            raise BadInputError("The file is not text (UTF-8). Save it as text, then try again.") from problem


def colours_of(given: Given, conditions: Conditions) -> MeasuredTable:
    """The colours in a file, whichever of the known kinds it is. Raises BadInputError, CardFileError."""
    measured = instrument_colours(given, conditions)
    if measured is not None:
        return measured
    ending, text = Path(given.name).suffix.lower(), given.text
    if ending == ".toml":
        return _of_card(kept_card(text))
    if ending == ".csv" and "family" in text.partition("\n")[0]:
        return _of_shelf(load_shelf(text))
    if ending in (".csv", ".json"):
        return _of_readings(lines_from(text))
    raise BadInputError(
        "The file is no table of colours. Known are CGATS.17 text, CxF3, readings (CSV or JSON), a measured card "
        "(TOML) and a shelf (CSV)."
    )


def is_cxf(given: Given) -> bool:
    """Whether the file is XML, of which CxF is the only kind with colours in it."""
    start = given.content[:4000]
    return NAMESPACE.encode() in start or start.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"<")


def instrument_colours(given: Given, conditions: Conditions) -> MeasuredTable | None:
    """The colours of an instrument's file, CGATS or CxF; None for anything else."""
    if is_cxf(given):
        return colours_of_cxf(given.content, conditions)
    text = _instrument_text(given.content)
    return colours_of_cgats(text, conditions) if is_cgats_like(text) else None


def _instrument_text(content: bytes) -> str:
    """The text of an instrument's program: UTF-8, UTF-16 with its mark, else Latin-1."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("latin-1")


def measured_by_instrument(given: Given, conditions: Conditions) -> MeasuredTable:
    """The colours of an instrument's file. Raises BadInputError for anything but CGATS and CxF."""
    measured = instrument_colours(given, conditions)
    if measured is None:
        raise BadInputError("The table is neither CGATS.17 text nor CxF3. Export it as one of them.")
    return measured


def _of_card(card: MeasuredCard) -> MeasuredTable:
    rows = zip(printed_layout().patch_names, card.lab_d65, card.lab_sd, strict=True)
    return MeasuredTable(
        f"printed card, {card.printer}", tuple(MeasuredColour(name, _lab(lab), _lab(sd)) for name, lab, sd in rows)
    )


def _of_shelf(shelf: Shelf) -> MeasuredTable:
    bare = MeasuredColour(BARE_HAIR, shelf.white_lab_d65)
    shades = tuple(
        MeasuredColour(shade.name, shade.lab_d65_on_white, _sd(shade.lab_covariance)) for shade in shelf.shades
    )
    return MeasuredTable("shades on white hair", (bare, *shades))


def _sd(covariance: Covariance) -> Lab | None:
    sd = np.sqrt(np.diag(np.array(covariance)))
    return _lab(sd) if sd.any() else None


def _of_readings(lines: tuple[ReadingLine, ...]) -> MeasuredTable:
    read = [line for line in lines if line.zone and line.lab_d65 is not None]
    together = [line for line in read if line.photo == TOGETHER] or read
    return MeasuredTable(
        "zones of hair",
        tuple(
            MeasuredColour(line.zone, line.lab_d65, None, line.lab_low, line.lab_high, line.level)
            for line in together
            if line.lab_d65 is not None
        ),
    )


def _lab(values: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> Lab:
    return float(values[0]), float(values[1]), float(values[2])
