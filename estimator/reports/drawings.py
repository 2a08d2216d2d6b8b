"""Drawings as SVG text, the same for page, HTML and PDF: swatches, level strip, a*b* plane, roots to ends.

Every colour of hair comes from lab_d65. Each drawing carries its content as words for those who cannot see it, and
class names beside its colours, so that a dark page may re-ink lines and letters without touching a patch.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from estimator.reading.zone_reading import NINE_IN_TEN, ProfilePoint
from estimator.reports.plane import PlanePoint, PlaneRange, ab_plane, plane_range
from estimator.reports.shown_colour import hex_colour, lab_words, shown_text
from estimator.reports.svg import (
    FONT,
    HATCHED,
    LETTER_PX,
    ON_PAPER,
    TEXT_PX,
    WIDTH_PX,
    Ink,
    drawing,
    haloed,
    hatch,
    letters,
    line,
    mark,
    xml_text,
)
from estimator.reports.wording import number_text
from estimator.scale.appearance import Level

__all__ = [
    "Patch",
    "PlanePoint",
    "PlaneRange",
    "ProfileRow",
    "StripRow",
    "ab_plane",
    "hex_colour",
    "level_strip",
    "plane_range",
    "roots_to_ends",
    "shown_text",
    "swatches",
]

SURROUND = "#777777"  # neutral, L* 50; black on it has 4.7:1
PATCH_PX = 96  # 2 degrees at 40 cm
FRAME_PX = 24  # least breadth of the neutral surround


@dataclass(frozen=True)
class Patch:
    """One colour of a row of touching patches, with the words that stand under it."""

    lab_d65: tuple[float, float, float]
    lines: tuple[str, ...]
    verified: bool = True


@dataclass(frozen=True)
class StripRow:
    """One level on the strip, with its interval. word : "before", "after" ..."""

    word: str
    level: Level
    verified: bool = True


@dataclass(frozen=True)
class ProfileRow:
    """Roots to ends of one reading. word : "before" or "after"."""

    word: str
    points: tuple[ProfilePoint, ...]


# --- swatches --------------------------------------------------------------------------------------------------


def swatches(patches: Sequence[Patch]) -> str:
    """Touching flat patches on a neutral surround of L* 50, words under each; unverified ones hatched."""
    if not patches:
        raise ValueError("Swatches need at least one patch.")
    line_px, most_lines = 21, max(len(patch.lines) for patch in patches)
    width = max(2 * FRAME_PX + PATCH_PX * len(patches), WIDTH_PX if len(patches) > 1 else 0)
    patch_width = (width - 2 * FRAME_PX) / len(patches)
    height = FRAME_PX + PATCH_PX + line_px * most_lines + 14
    body = [f'<rect width="{width}" height="{height}" fill="{SURROUND}"/>']
    if not all(patch.verified for patch in patches):
        body.append(hatch("#000000", "#ffffff"))
    for number, patch in enumerate(patches):
        left = FRAME_PX + patch_width * number
        place = f'x="{left:.2f}" y="{FRAME_PX}" width="{patch_width:.2f}" height="{PATCH_PX}"'
        # Edges are left crisp: a blended seam between touching patches would be a third colour.
        body.append(f'<rect {place} fill="{hex_colour(patch.lab_d65)}" shape-rendering="crispEdges"/>')
        if not patch.verified:
            body.append(f'<rect {place} fill="{HATCHED}" fill-opacity="0.55"/>')
        body.extend(
            f'<text x="{left + patch_width / 2:.1f}" y="{FRAME_PX + PATCH_PX + line_px * (row + 1)}" fill="#000000"'
            f' font-family="{FONT}" font-size="{TEXT_PX}" text-anchor="middle">{xml_text(line)}</text>'
            for row, line in enumerate(patch.lines)
        )
    words = "; ".join(f"{', '.join(patch.lines)}, {lab_words(patch.lab_d65)}" for patch in patches)
    return drawing(width, height, f"Patches: {words}", body)


# --- level strip -----------------------------------------------------------------------------------------------


def level_strip(
    rows: Sequence[StripRow], scale_lightness: Sequence[float], target_level: float | None = None, ink: Ink = ON_PAPER
) -> str:
    """Levels 1 to 10 with the scale's lightness as grey patches; each row's interval as a bar, target as a hollow mark.

    scale_lightness : L* of levels 1 to 10 on the scale in use; drawn as neutral greys, since a level is a lightness.
    """
    count = len(rows) + (target_level is not None)
    foot = STRIP_TOP_PX + 34 + STRIP_ROW_PX * count
    body = _strip_scale(scale_lightness, foot, ink)
    if not all(row.verified for row in rows):
        body.append(hatch(ink.text, ink.paper, 6))
    middle = STRIP_TOP_PX + 34 + STRIP_ROW_PX / 2
    for row in rows:
        body.extend(_level_bar(row, middle, ink))
        middle += STRIP_ROW_PX
    if target_level is not None:
        x = _strip_x(target_level)
        body.append(mark(x, middle, "ring", ink))
        body.append(_beside((x, x), middle, f"target {number_text(target_level, 1)}", ink))
    return drawing(WIDTH_PX, foot + 4, _strip_words(rows, target_level), body)


STRIP_LEFT_PX, STRIP_STEP_PX, STRIP_TOP_PX, STRIP_ROW_PX = 14.0, 29.2, 22.0, 34.0


def _strip_x(level: float) -> float:
    return STRIP_LEFT_PX + STRIP_STEP_PX * (min(max(level, 1.0), 10.0) - 0.5)


def _strip_scale(scale_lightness: Sequence[float], foot: float, ink: Ink) -> list[str]:
    """Ten grey patches, the numbers under them, and thin lines down to the rows."""
    body = []
    for number, lightness in enumerate(scale_lightness):
        place = f'x="{STRIP_LEFT_PX + STRIP_STEP_PX * number:.1f}" y="0" width="{STRIP_STEP_PX + 0.2:.1f}"'
        grey = hex_colour((lightness, 0.0, 0.0))
        body.append(f'<rect {place} height="{STRIP_TOP_PX:g}" fill="{grey}" shape-rendering="crispEdges"/>')
        x = _strip_x(number + 1)
        body.append(letters(x, STRIP_TOP_PX + 19, str(number + 1), ink.quiet, "quiet", "middle"))
        body.append(line((x, STRIP_TOP_PX + 26), (x, foot), ink.rule, "rule", 1))
    return body


def _level_bar(row: StripRow, middle: float, ink: Ink) -> list[str]:
    start, end, centre = (_strip_x(at) for at in (row.level.level_low, row.level.level_high, row.level.level))
    fill = f'fill="{ink.line}" class="fill-line"' if row.verified else f'fill="{HATCHED}"'
    place = f'x="{start:.1f}" y="{middle - 6:.1f}" width="{max(end - start, 2):.1f}" height="12"'
    bar = f'<rect {place} {fill} stroke="{ink.quiet}" stroke-width="1"/>'
    tick = line((centre, middle - 11), (centre, middle + 11), ink.text, "text", 3)
    words = _beside((start, end), middle, f"{row.word} {number_text(row.level.level, 1)}", ink)
    if row.verified:
        return [bar, tick, words]
    # What is unverified says so on the bar's other side: both words on one side may not fit.
    return [bar, tick, words, _beside((start, end), middle, "unverified", ink, other_side=True)]


def _beside(ends: tuple[float, float], middle: float, words: str, ink: Ink, other_side: bool = False) -> str:
    """Words on that side of a mark where there is more room; where there is none, over its end."""
    left, right = min(ends), max(ends)
    to_the_left = (left > WIDTH_PX - right) != other_side
    needed = LETTER_PX * len(words)
    if to_the_left:
        return haloed((max(left - 12, needed + 4), middle + 6), words, ink, "end")
    return haloed((min(right + 12, WIDTH_PX - needed - 4), middle + 6), words, ink)


def _strip_words(rows: Sequence[StripRow], target_level: float | None) -> str:
    told = [
        f"{row.word} level {number_text(row.level.level, 1)}, between {number_text(row.level.level_low, 1)} and "
        f"{number_text(row.level.level_high, 1)}{'' if row.verified else ', unverified'}"
        for row in rows
    ]
    if target_level is not None:
        told.append(f"target level {number_text(target_level, 1)}")
    return f"Level strip: {'; '.join(told)}"


# --- roots to ends ---------------------------------------------------------------------------------------------


def roots_to_ends(rows: Sequence[ProfileRow], ink: Ink = ON_PAPER) -> str:
    """Lightness from root to end as lines with their intervals, and the colours as touching strips below."""
    rows = [row for row in rows if row.points]
    if not rows:
        raise ValueError("A profile needs points between root and end.")
    left, right, top, plot, strip = 44.0, WIDTH_PX - 10.0, 14.0, 150.0, 34.0
    low, high = _lightness_range(rows)

    def place(share: float, lightness: float) -> tuple[float, float]:
        return left + share * (right - left), top + plot * (high - lightness) / (high - low)

    body = []
    for lightness in (low, (low + high) / 2, high):
        y = place(0, lightness)[1]
        body.append(line((left, y), (right, y), ink.rule, "rule", 1))
        body.append(letters(left - 6, y + 6, number_text(lightness, 0), ink.quiet, "quiet", "end"))
    for row in rows:
        body.extend(_profile_line(row, place, ink))
    body.extend(_profile_names(rows, place, ink))
    y = top + plot + 20
    frame = f'x="{left - 8}" y="{y - 8}" width="{right - left + 16}" height="{strip * len(rows) + 16}"'
    body.append(f'<rect {frame} fill="{SURROUND}"/>')
    for row in rows:
        body.extend(_profile_colours(row, (left, right), y, strip))
        y += strip
    y += 8
    body.append(letters(left, y + 19, "root", ink.quiet, "quiet"))
    body.append(letters(right, y + 19, "end", ink.quiet, "quiet", "end"))
    body.append(letters((left + right) / 2, y + 19, "L* along the strand", ink.quiet, "quiet", "middle"))
    return drawing(WIDTH_PX, y + 26, f"Roots to ends: {'; '.join(map(_profile_words, rows))}", body)


def _lightness_range(rows: Sequence[ProfileRow]) -> tuple[float, float]:
    ends = [
        point.lab_d65[0] + sign * NINE_IN_TEN * point.lightness_sd
        for row in rows
        for point in row.points
        for sign in (-1, 1)
    ]
    low, high = 10 * math.floor(min(ends) / 10), 10 * math.ceil(max(ends) / 10)
    return float(low), float(max(high, low + 20))


def _profile_line(row: ProfileRow, place: Callable[[float, float], tuple[float, float]], ink: Ink) -> list[str]:
    reach = [NINE_IN_TEN * point.lightness_sd for point in row.points]
    upper = [place(point.share, point.lab_d65[0] + half) for point, half in zip(row.points, reach, strict=True)]
    lower = [place(point.share, point.lab_d65[0] - half) for point, half in zip(row.points, reach, strict=True)]
    middle = [place(point.share, point.lab_d65[0]) for point in row.points]
    after = row.word == "after"
    kind, colour = ("accent", ink.accent) if after else ("text", ink.text)
    band = " ".join(f"{x:.1f},{y:.1f}" for x, y in [*upper, *reversed(lower)])
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in middle)
    dashes = "" if after else ' stroke-dasharray="7 4"'
    return [
        f'<polygon points="{band}" class="fill-line" fill="{ink.line}" fill-opacity="0.22"/>',
        f'<polyline points="{path}" fill="none" class="stroke-{kind}" stroke="{colour}" stroke-width="2.5"{dashes}/>',
    ]


def _profile_names(
    rows: Sequence[ProfileRow], place: Callable[[float, float], tuple[float, float]], ink: Ink
) -> list[str]:
    """Each line's word at the end where the lines lie furthest apart: over the upper, under the lower."""

    def at_end(row: ProfileRow, end: int) -> tuple[float, float]:
        return place(row.points[end].share, row.points[end].lab_d65[0])

    end = max((0, -1), key=lambda side: abs(at_end(rows[0], side)[1] - at_end(rows[-1], side)[1]))
    anchor, right = ("start", 6.0) if end == 0 else ("end", -6.0)
    upper_first = sorted(rows, key=lambda row: at_end(row, end)[1])
    return [
        haloed((at_end(row, end)[0] + right, at_end(row, end)[1] + down), row.word, ink, anchor)
        for row, down in zip(upper_first, (-14, 26), strict=False)
    ]


def _profile_colours(row: ProfileRow, ends: tuple[float, float], top: float, height: float) -> list[str]:
    left, right = ends
    # Whole pixels: a seam between two patches would be a colour that is in neither.
    edges = np.round(np.linspace(left, right, len(row.points) + 1)).astype(int)
    return [
        f'<rect x="{edges[number]}" y="{top:g}" width="{edges[number + 1] - edges[number]}" height="{height:g}"'
        f' fill="{hex_colour(point.lab_d65)}" shape-rendering="crispEdges"/>'
        for number, point in enumerate(row.points)
    ]


def _profile_words(row: ProfileRow) -> str:
    first, last = row.points[0], row.points[-1]
    ends = f"L* {number_text(first.lab_d65[0], 0)} at the root to {number_text(last.lab_d65[0], 0)} at the end"
    return f"{row.word} {ends}"
