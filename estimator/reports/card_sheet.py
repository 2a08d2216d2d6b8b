"""The printed card as a PDF: one sheet with discs, markers and a ruler, one page that says how to print and use it."""

import datetime
import json
import tempfile
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from calibration.cards.printed_layout import PrintedLayout, Sheet, printed_layout
from estimator.errors import OutputError
from estimator.reports.lettering import FONT_FOLDER

MARKER_CELLS = 6  # black rim included
DRAWN = datetime.datetime(2026, 11, 25, 12, tzinfo=datetime.UTC)  # of the layout: the same card is the same bytes


def card_pdf(sheet_key: str) -> bytes:
    """The printed card of this size ("A5" or "A6") as a vector PDF/A-2a of two pages.

    Raises
    ------
    OutputError : The temporary folder can't be written.
    """
    layout = printed_layout()
    try:
        return _typeset(sheet_words(layout, layout.sheet(sheet_key)))
    except OSError as fault:
        place = tempfile.gettempdir()
        raise OutputError(f"The card could not be made: {place} can't be written. Free some space there.") from fault


def sheet_words(layout: PrintedLayout, sheet: Sheet) -> dict[str, Any]:
    """Places, colours and markers of one sheet, in millimetres of the paper."""
    scale, offset = sheet.scale, np.array(sheet.offset_mm)
    return {
        "key": sheet.key,
        "name": layout.name,
        "version": layout.version,
        "size": list(sheet.size_mm),
        "scale": scale,
        "ruler": sheet.ruler_mm,
        "disc": scale * layout.disc_mm,
        "discs": [
            {"at": (offset + scale * place).tolist(), "srgb": list(patch.srgb), "paper": patch.name == "paper"}
            for patch, place in zip(layout.patches, layout.places_mm, strict=True)
        ],
        "cell": scale * layout.marker_mm / MARKER_CELLS,
        "markers": [
            {"at": (offset + scale * layout.marker_corners_mm(place)[0]).tolist(), "white": _white_bars(marker)}
            for place, marker in enumerate(sheet.marker_ids)
        ],
        "foot": (offset + scale * np.array([24.5, 83.0])).tolist(),
    }


def _white_bars(marker: int) -> list[list[int]]:
    """Runs of white cells across and down, as column, row, width, height: crossing runs leave no hairline."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    white = np.asarray(cv2.aruco.generateImageMarker(dictionary, marker, MARKER_CELLS)) > 127
    across = [[start, row, length, 1] for row in range(MARKER_CELLS) for start, length in _runs(white[row])]
    down = [[column, start, 1, length] for column in range(MARKER_CELLS) for start, length in _runs(white[:, column])]
    return across + [bar for bar in down if bar[3] > 1]


def _runs(cells: Any) -> list[tuple[int, int]]:
    """Start and length of each run of true cells."""
    edges = np.flatnonzero(np.diff(np.r_[False, cells, False].astype(int)))
    return [(int(start), int(end - start)) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def _typeset(words: dict[str, Any]) -> bytes:
    import typst

    template = files("estimator.reports").joinpath("templates", "printed_card.typ")
    with tempfile.TemporaryDirectory(prefix="tressmeter-") as folder, as_file(FONT_FOLDER) as font_folder:
        source = Path(folder) / "printed_card.typ"
        source.write_bytes(template.read_bytes())
        fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(font_folder)])
        compiler = typst.Compiler(str(source), root=folder, font_paths=fonts, sys_inputs={"sheet": json.dumps(words)})
        pdf, warnings = compiler.compile_with_warnings(format="pdf", pdf_standards=["a-2a", "ua-1"], timestamp=DRAWN)
    if warnings or not isinstance(pdf, bytes):
        raise RuntimeError(f"The printed card is faulty: {[warning.message for warning in warnings]}")
    return pdf
