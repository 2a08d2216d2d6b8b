"""The pieces that all drawings are made of: inks, letters, lines, marks, hatching, and text that stays text."""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

FONT = "Source Sans Pro, Tressmeter Sans, sans-serif"
WIDTH_PX = 320  # of a drawing
TEXT_PX = 17  # drawn 320 wide and shown at 300 or wider, so letters never fall below 16 px
LETTER_PX = 8.2  # mean breadth of a letter of TEXT_PX, on the wide side
HATCH = "unverified-hatch"
HATCHED = f"url(#{HATCH})"


@dataclass(frozen=True)
class Ink:
    """Colours of lines and letters: one cool accent, otherwise neutral greys.

    rule : For lines that only guide the eye.
    """

    text: str
    quiet: str
    line: str
    rule: str
    accent: str
    paper: str


ON_PAPER = Ink(text="#1a1a1a", quiet="#555555", line="#8c8c8c", rule="#d4d4d4", accent="#17548f", paper="#ffffff")
ON_DARK = Ink(text="#f0f0f0", quiet="#b4b4b4", line="#7d7d7d", rule="#474747", accent="#6fb0ff", paper="#1a1a1a")


def xml_text(text: str) -> str:
    """Text that stays text inside SVG: marks escaped, characters that XML forbids left out."""
    allowed = (letter for letter in text if letter in "\t\n" or (letter >= " " and not _forbidden(ord(letter))))
    return escape("".join(allowed), quote=True)


def _forbidden(code: int) -> bool:
    return 0x7F <= code <= 0x9F or 0xD800 <= code <= 0xDFFF or code in (0xFFFE, 0xFFFF)


def drawing(width_px: float, height_px: float, words: str, body: Sequence[str]) -> str:
    """One SVG with its words for a screen reader."""
    size = f'viewBox="0 0 {width_px:g} {height_px:g}" width="{width_px:g}" height="{height_px:g}"'
    content = "".join(body)
    if HATCH in content:  # several drawings share a page, and a name may stand there only once
        content = content.replace(HATCH, f"{HATCH}-{zlib.crc32((words + content).encode()):08x}")
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-label="{xml_text(words)}">{content}</svg>'


def letters(x: float, y: float, text: str, ink: str, kind: str = "text", anchor: str = "start") -> str:
    """Words at the foot of their line. kind : "text", "quiet" or "strong"."""
    weight = ' font-weight="600"' if kind == "strong" else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" class="ink-{"text" if kind == "strong" else kind}" fill="{ink}"'
        f' font-family="{FONT}" font-size="{TEXT_PX}" text-anchor="{anchor}"{weight}>{xml_text(text)}</text>'
    )


def line(start: tuple[float, float], end: tuple[float, float], ink: str, kind: str = "line", width: float = 1) -> str:
    """A straight line."""
    return (
        f'<line x1="{start[0]:.1f}" y1="{start[1]:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}" class="stroke-{kind}"'
        f' stroke="{ink}" stroke-width="{width:g}"/>'
    )


def hatch(first: str, second: str, pitch_px: float = 12) -> str:
    """Slanted lines that mark what nothing known stands behind: the pattern that HATCHED fills with."""
    breadth = pitch_px / 4
    return (
        f'<defs><pattern id="{HATCH}" width="{pitch_px:g}" height="{pitch_px:g}" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)">'
        f'<path d="M{breadth / 2:g} 0V{pitch_px:g}" stroke="{first}" stroke-width="{breadth:g}"/>'
        f'<path d="M{breadth * 1.5:g} 0V{pitch_px:g}" stroke="{second}" stroke-width="{breadth:g}"/></pattern></defs>'
    )


def mark(x: float, y: float, mark: str, ink: Ink) -> str:
    """A mark that differs by shape: filled square, filled disc, hollow ring, cross."""
    if mark == "square":
        return f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" class="fill-text" fill="{ink.text}"/>'
    if mark == "disc":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" class="fill-accent" fill="{ink.accent}"/>'
    if mark == "cross":
        path = f"M{x - 6:.1f} {y - 6:.1f}l12 12m0 -12l-12 12"
        return f'<path d="{path}" class="stroke-text" stroke="{ink.text}" stroke-width="2.5" fill="none"/>'
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" class="stroke-text" fill="none" stroke="{ink.text}"'
        ' stroke-width="2.5"/>'
    )


def haloed(place: tuple[float, float], words: str, ink: Ink, anchor: str = "start") -> str:
    """Words that stay readable across lines: a halo of the paper's colour behind them."""
    x, y = place
    behind = (
        f'<text x="{x:.1f}" y="{y:.1f}" class="halo" fill="none" stroke="{ink.paper}" stroke-width="4"'
        f' stroke-linejoin="round" font-family="{FONT}" font-size="{TEXT_PX}" text-anchor="{anchor}"'
        f' aria-hidden="true">{xml_text(words)}</text>'
    )
    return behind + letters(x, y, words, ink.text, "text", anchor)
