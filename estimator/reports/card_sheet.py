"""The printed card as a PDF: one sheet with discs, markers and a ruler, one page that says how to print and use it."""

import datetime
from typing import Any

import cv2
import numpy as np

from calibration.cards.printed_layout import PrintedLayout, Sheet, printed_layout
from estimator.reports.typesetting import PrintedForm

MARKER_CELLS = 6  # black rim included
DRAWN = datetime.date(2026, 11, 25)  # of the layout: the same card is the same bytes


def card_form(sheet_key: str) -> PrintedForm:
    """The printed card of this size ("A5" or "A6"), two pages; printed from the PDF, whose discs are vectors."""
    layout = printed_layout()
    return PrintedForm("printed_card.typ", sheet_words(layout, layout.sheet(sheet_key)), {}, DRAWN)


def card_pdf(sheet_key: str) -> bytes:
    """The card as PDF/A-2a. Raises OutputError where the temporary folder can't be written."""
    return card_form(sheet_key).pdf()


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
