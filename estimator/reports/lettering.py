"""Which letters the printed form can show: PDF/A refuses a letter that no embedded font holds."""

import functools
import struct
import unicodedata
from collections.abc import Callable, Iterable
from importlib.resources import files
from typing import Any

FONT_FOLDER = files("estimator.reports").joinpath("fonts")
MISSING = "\u25a0"  # a black square stands for a letter that the shipped family does not hold
TURNING_MARKS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
DRAWING = "<svg"  # how a drawing begins
MISSING_NOTE = "A black square stands for a letter that the printed form does not hold; the page form shows it."


def printable(text: str) -> str:
    """The text with a black square for each letter that can't be printed; marks that only steer are left out."""
    if _plain_letters().issuperset(text):
        return text
    drawing = text.startswith(DRAWING)
    return "".join(_printed(letter, drawing) for letter in unicodedata.normalize("NFC", text))


def _printed(letter: str, drawing: bool) -> str:
    """One letter as the printed form can show it. drawing : It stands in one."""
    kind = unicodedata.category(letter)
    if letter in "\t\r\n" or kind in ("Zl", "Zp"):
        return " "
    if kind in ("Cc", "Cf", "Cs"):
        return ""  # control codes, marks that turn text about (right-to-left among them), stray halves of pairs
    if drawing and kind.startswith("M"):
        return MISSING  # the typesetter loses track of a mark above a letter there, and then refuses the whole page
    return letter if ord(letter) in shipped_letters() else MISSING


def legible(text: str) -> str:
    """The text without what no page may hold: control characters, stray halves of pairs, and marks that turn direction.

    Letters that run from right to left still do so by themselves; a turning mark would take what follows with it.
    """
    if text.isprintable():
        return text
    return "".join(letter for letter in text if letter in "\t\n" or _may_stand(letter))


def _may_stand(letter: str) -> bool:
    return unicodedata.category(letter) not in ("Cc", "Cs") and letter not in TURNING_MARKS


def each_text(tree: Any, change: Callable[[str], str]) -> Any:
    """The same lists and dictionaries with every text changed."""
    if isinstance(tree, str):
        return change(tree)
    if isinstance(tree, dict):
        return {key: each_text(value, change) for key, value in tree.items()}
    if isinstance(tree, list | tuple):
        return [each_text(value, change) for value in tree]
    return tree


@functools.cache
def shipped_letters() -> frozenset[int]:
    """Code points that both weights of the shipped family hold."""
    fonts = (FONT_FOLDER.joinpath(f"SourceSansPro-{weight}.ttf") for weight in ("Regular", "Semibold"))
    return frozenset.intersection(*(_code_points(font.read_bytes()) for font in fonts))


@functools.cache
def _plain_letters() -> frozenset[str]:
    """Letters that are printed as they stand: most texts hold nothing else."""
    letters = filter(str.isprintable, map(chr, shipped_letters()))
    return frozenset(letter for letter in letters if not unicodedata.category(letter).startswith("M"))


def _code_points(font: bytes) -> frozenset[int]:
    """Code points in a font's character map. Source: OpenType 1.9, 'cmap', formats 4 and 12."""
    tables = struct.unpack_from(">H", font, 4)[0]
    records = (struct.unpack_from(">4sIII", font, 12 + 16 * number) for number in range(tables))
    start = next(offset for tag, _, offset, _ in records if tag == b"cmap")
    points: set[int] = set()
    for number in range(struct.unpack_from(">H", font, start + 2)[0]):
        platform, encoding, offset = struct.unpack_from(">HHI", font, start + 4 + 8 * number)
        if (platform, encoding) in ((0, 3), (0, 4), (3, 1), (3, 10)):
            points |= _points_of_subtable(font, start + offset)
    return frozenset(points)


def _points_of_subtable(font: bytes, start: int) -> set[int]:
    kind = struct.unpack_from(">H", font, start)[0]
    spans: Iterable[tuple[int, int]] = ()
    if kind == 12:
        groups = struct.unpack_from(">I", font, start + 12)[0]
        spans = [struct.unpack_from(">II", font, start + 16 + 12 * number) for number in range(groups)]
    elif kind == 4:
        count = struct.unpack_from(">H", font, start + 6)[0] // 2
        ends = struct.unpack_from(f">{count}H", font, start + 14)
        starts = struct.unpack_from(f">{count}H", font, start + 16 + 2 * count)
        spans = zip(starts, ends, strict=True)
    # 0xFFFF closes the last span of format 4 and is no letter.
    return {point for first, last in spans for point in range(first, last + 1) if point != 0xFFFF}
