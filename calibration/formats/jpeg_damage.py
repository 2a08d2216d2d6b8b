"""Damage that a JPEG decoder takes for a picture: each check looks at the file's structure and refuses it.

A JPEG has no check sums. What is looked for here can't stand in a sound file, or only in one that no encoder writes.
"""

import csv
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calibration.formats.header import damaged, unsupported
from calibration.formats.jpeg_segments import DHT, DQT, NAME, PROGRESSIVE, SOS, Segment

MOST_SCANS = 100
_COEFFICIENTS = 64
_STANDARD_TABLES = Path(__file__).parents[1] / "tables" / "jpeg_quantisation.csv"

# An unreadable sector reads as zeros, and zeros decode to something. Real picture data hold two or three in a row.
_BLANK = bytes(12)
_END_OF_BLOCK = 0

# Scaled copies of the standard's two example tables stand in most files. One that agrees with such a copy in at least
# this many of 64 steps, and is off by more than rounding in the rest, has been changed after it was written.
_AGREEING_STEPS = 58
# Largest sizes of 8-bit pictures (T.81, tables F.1 and F.2). A few symbols beyond are damage, many are another habit.
_LARGEST_SIZE = {0: 11, 1: 10}
_FEW = 4


def check_for_damage(parts: tuple[Segment, ...], frame: Segment, photo_bytes: bytes) -> None:
    """Raises PhotoRefusedError where tables or scans can't be those of a whole picture."""
    for part in parts:
        if part.marker == DQT:
            _check_quantisation(part.payload(photo_bytes))
        if part.marker == DHT:
            _check_codes(part.payload(photo_bytes))
    _check_scans(parts, frame, photo_bytes)
    if frame.marker != PROGRESSIVE:
        _check_blanks(parts, photo_bytes)


def _impossible_table() -> Exception:
    return damaged(NAME, "a table in its header is impossible")


def _check_quantisation(payload: bytes) -> None:
    # T.81, B.2.4.1: precision and number, then 64 steps of one byte (precision 0) or two.
    at = 0
    while at < len(payload):
        size = 1 if payload[at] < 16 else 2
        steps = np.frombuffer(payload[at + 1 : at + 1 + _COEFFICIENTS * size], dtype=">u1" if size == 1 else ">u2")
        if len(steps) < _COEFFICIENTS or np.min(steps) == 0 or _changed_standard_table(steps.astype(np.int64)):
            raise _impossible_table()
        at += 1 + _COEFFICIENTS * size


def _changed_standard_table(steps: NDArray[np.int64]) -> bool:
    off = np.abs(_scaled_standard_tables() - steps)
    nearest = off[np.argmax((off == 0).sum(axis=1))]
    return bool(np.sum(nearest == 0) >= _AGREEING_STEPS and np.max(nearest) > 1)


@lru_cache(maxsize=1)
def _scaled_standard_tables() -> NDArray[np.int64]:
    """Both example tables at the qualities 1 to 100 of the common encoder, in the file's order. shape (200, 64)."""
    lines = (line for line in _STANDARD_TABLES.read_text("utf-8").splitlines() if not line.startswith("#"))
    rows = list(csv.DictReader(lines))
    places = sorted(range(_COEFFICIENTS), key=lambda at: _zigzag_key(*divmod(at, 8)))
    tables = np.array([[int(rows[at][name]) for at in places] for name in ("luma", "chroma")])
    percents = np.array([5000 // quality if quality < 50 else 200 - 2 * quality for quality in range(1, 101)])
    scaled: NDArray[np.int64] = (tables[:, None] * percents[None, :, None] + 50) // 100
    return np.clip(scaled, 1, 255).reshape(-1, _COEFFICIENTS)


def _zigzag_key(row: int, column: int) -> tuple[int, int]:
    # T.81, figure A.6: along the diagonals, turning at each end.
    diagonal = row + column
    return diagonal, column if diagonal % 2 == 0 else row


def _code_tables(payload: bytes) -> Iterator[tuple[int, bytes]]:
    """Class (0 for means, 1 for detail) and symbols, shortest code first, of each table. Source: T.81, B.2.4.2."""
    at = 0
    while at < len(payload):
        count = sum(payload[at + 1 : at + 17])
        symbols = payload[at + 17 : at + 17 + count]
        if len(symbols) < count or payload[at] >> 4 not in _LARGEST_SIZE:
            raise _impossible_table()
        yield payload[at] >> 4, symbols
        at += 17 + count


def _check_codes(payload: bytes) -> None:
    for table_class, symbols in _code_tables(payload):
        sizes = symbols if table_class == 0 else bytes(symbol & 15 for symbol in symbols)
        beyond = sum(size > _LARGEST_SIZE[table_class] for size in sizes)
        if len(set(symbols)) < len(symbols) or 0 < beyond <= _FEW:
            raise _impossible_table()


def _check_scans(parts: tuple[Segment, ...], frame: Segment, photo_bytes: bytes) -> None:
    """Refuse a picture whose scans don't bring every coefficient to its last bit: the decoder takes it for whole."""
    scans = [part.payload(photo_bytes) for part in parts if part.marker == SOS]
    if len(scans) > MOST_SCANS:
        raise unsupported(NAME, f"is built of {len(scans)} layers")
    description = frame.payload(photo_bytes)
    components = {description[6 + 3 * number] for number in range(description[5])}
    if frame.marker == PROGRESSIVE:
        waiting = {(component, order) for component in components for order in range(_COEFFICIENTS)}
        waiting -= {done for scan in scans for done in _completed(scan)}
    else:
        waiting = {(component, 0) for component in components}
        waiting -= {(component, 0) for scan in scans for component in _components(scan)}
    if waiting:
        raise damaged(NAME, "part of the picture's detail is missing")


def _components(scan: bytes) -> bytes:
    """Numbers of the components that a scan holds. Source: T.81, B.2.3."""
    if not scan or len(scan) < 4 + 2 * scan[0]:
        raise damaged(NAME, "the head of a scan is cut short")
    return scan[1 : 1 + 2 * scan[0] : 2]


def _completed(scan: bytes) -> Iterator[tuple[int, int]]:
    """Component and coefficient of all that a scan brings to its last bit."""
    components = _components(scan)
    first, last, low_bit = scan[1 + 2 * scan[0] : 4 + 2 * scan[0]]
    if low_bit & 15 == 0:
        for order in range(first, min(last, _COEFFICIENTS - 1) + 1):
            yield from ((component, order) for component in components)


def _check_blanks(parts: tuple[Segment, ...], photo_bytes: bytes) -> None:
    """Refuse long runs of zero bytes in the picture's data, unless its code tables let a flat area be all zeros."""
    if not any(photo_bytes.find(_BLANK, part.start, part.end) >= 0 for part in parts if part.marker == SOS):
        return
    tables = [table for part in parts if part.marker == DHT for table in _code_tables(part.payload(photo_bytes))]
    if any(table_class == 1 and symbols[:1] != bytes((_END_OF_BLOCK,)) for table_class, symbols in tables):
        raise damaged(NAME, "a stretch of the picture is blank")
