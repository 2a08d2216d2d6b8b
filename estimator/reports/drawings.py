"""Drawings as SVG text, the same for page, HTML and PDF: swatches, level strip, a*b* plane, roots to ends.

Every colour of hair comes from lab_d65. Each drawing carries its content as words for those who cannot see it, and
class names beside its colours, so that a dark page may re-ink lines and letters without touching a patch.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from calibration.colourspaces import in_srgb, lab_to_xyz, xyz_to_srgb8
from calibration.photo import FloatArray
from estimator.reading.zone_reading import NINE_IN_TEN, ProfilePoint
from estimator.reports.svg import FONT, HATCHED, ON_PAPER, TEXT_PX, Ink, drawing, hatch, letters, line, mark, xml_text
from estimator.reports.wording import number_text
from estimator.scale.appearance import Level

WIDTH_PX = 320
SURROUND = "#777777"  # neutral, L* 50; black on it has 4.7:1
PATCH_PX = 96  # 2 degrees at 40 cm
FRAME_PX = 24  # least breadth of the neutral surround
LETTER_PX = 8.2  # mean breadth of a letter of TEXT_PX, on the wide side
CHI_SQUARED_2_NINE_IN_TEN = 4.605  # 90 % point of chi-squared with 2 degrees of freedom, standard tables


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


@dataclass(frozen=True, eq=False)
class PlanePoint:
    """One colour on the a*b* plane.

    covariance : Of a*, b* in the middle of the CIELAB covariance, shape (3, 3); None where there is none (a target).
    mark : "square" before, "disc" after, "ring" target, "cross" predicted.
    """

    word: str
    lab_d65: FloatArray
    covariance: FloatArray | None
    mark: str
    verified: bool = True


@dataclass(frozen=True)
class ProfileRow:
    """Roots to ends of one reading. word : "before" or "after"."""

    word: str
    points: tuple[ProfilePoint, ...]


def hex_colour(lab_d65: Sequence[float] | FloatArray) -> str:
    """Colour for a screen, "#rrggbb"; clipped where no sRGB screen can show it (`shown_text` says so)."""
    red, green, blue = xyz_to_srgb8(lab_to_xyz(np.asarray(lab_d65, dtype=np.float64)))
    return f"#{red:02x}{green:02x}{blue:02x}"


def shown_text(lab_d65: Sequence[float] | FloatArray) -> str:
    """"" for a colour that a screen can show; else the words that must stand beside its patch."""
    return "" if in_srgb(lab_to_xyz(np.asarray(lab_d65, dtype=np.float64))) else "shown as near as a screen can"


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


def lab_words(lab_d65: Sequence[float] | FloatArray) -> str:
    """CIELAB for a screen reader."""
    named = zip(("L*", "a*", "b*"), lab_d65, strict=True)
    return ", ".join(f"{name} {number_text(float(value), 0)}" for name, value in named)


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


def _beside(
    ends: tuple[float, float], middle: float, words: str, ink: Ink, other_side: bool = False
) -> str:
    """Words on that side of a mark where there is more room; where there is none, over its end."""
    left, right = min(ends), max(ends)
    to_the_left = (left > WIDTH_PX - right) != other_side
    needed = LETTER_PX * len(words)
    if to_the_left:
        return _haloed((max(left - 12, needed + 4), middle + 6), words, ink, "end")
    return _haloed((min(right + 12, WIDTH_PX - needed - 4), middle + 6), words, ink)


def _strip_words(rows: Sequence[StripRow], target_level: float | None) -> str:
    told = [
        f"{row.word} level {number_text(row.level.level, 1)}, between {number_text(row.level.level_low, 1)} and "
        f"{number_text(row.level.level_high, 1)}{'' if row.verified else ', unverified'}"
        for row in rows
    ]
    if target_level is not None:
        told.append(f"target level {number_text(target_level, 1)}")
    return f"Level strip: {'; '.join(told)}"


# --- a*b* plane ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PlaneRange:
    """The square of a*, b* that is drawn: one for all zones of a visit, so that planes can be laid side by side."""

    a_low: float
    b_low: float
    span: float


def plane_range(points: Iterable[PlanePoint]) -> PlaneRange:
    """The smallest square in steps of 10 that holds neutral, every point and its ellipse."""
    reach = [np.array([[-10.0, -10.0], [10.0, 10.0]])]
    for point in points:
        half = np.zeros(2) if point.covariance is None else _half_axes(point.covariance)
        reach.append(np.stack([point.lab_d65[1:] - half, point.lab_d65[1:] + half]))
    low = 10 * np.floor(np.min([ends[0] for ends in reach], axis=0) / 10)
    high = 10 * np.ceil(np.max([ends[1] for ends in reach], axis=0) / 10)
    span = float(np.max(high - low))
    return PlaneRange(float(low[0] - 10 * ((span - (high - low)[0]) // 20)), float(low[1]), span)


def _half_axes(covariance: FloatArray) -> FloatArray:
    half: FloatArray = np.sqrt(CHI_SQUARED_2_NINE_IN_TEN * np.diag(covariance)[1:])
    return half


def ab_plane(points: Sequence[PlanePoint], shown: PlaneRange, ink: Ink = ON_PAPER) -> str:
    """Colours on the a*b* plane: equal axes, a cross at neutral, nine-in-ten ellipses, words beside each mark."""
    left, top, side = 10.0, 24.0, 300.0
    scale = side / shown.span

    def place(a: float, b: float) -> tuple[float, float]:
        return left + (a - shown.a_low) * scale, top + side - (b - shown.b_low) * scale

    body = [
        f'<rect x="{left}" y="{top}" width="{side}" height="{side}" fill="none" class="stroke-line"'
        f' stroke="{ink.line}"/>'
    ]
    body.extend(_plane_axes(shown, place, (left, top, side), ink))
    if not all(point.verified for point in points):
        body.append(hatch(ink.line, ink.paper, 8))
    marks = [place(float(point.lab_d65[1]), float(point.lab_d65[2])) for point in points]
    body.extend(_ellipse(point, marks[number], scale, ink) for number, point in enumerate(points))
    body.extend(mark(*marks[number], point.mark, ink) for number, point in enumerate(points))
    taken: list[_Words] = [_Words(x - 9, y - 9, 18, 18) for x, y in marks]
    for number, point in enumerate(points):
        words = point.word if point.verified else f"{point.word}, unverified"
        spot = _free_spot(marks[number], words, taken, (left, top, side))
        taken.append(spot)
        body.append(_haloed((spot.x, spot.y + TEXT_PX - 3), words, ink))
    told = "; ".join(f"{point.word} {lab_words(point.lab_d65)}" for point in points)
    return drawing(WIDTH_PX, top + side + 28, f"Plane of a* and b*: {told}", body)


def _plane_axes(
    shown: PlaneRange, place: Callable[[float, float], tuple[float, float]], frame: tuple[float, float, float], ink: Ink
) -> list[str]:
    """The cross at neutral, its ticks every 10, and which way is which."""
    left, top, side = frame
    x, y = place(0, 0)
    cross = [line((left, y), (left + side, y), ink.line), line((x, top), (x, top + side), ink.line)]
    for step in range(int(shown.span // 10) + 1):
        tick_x, tick_y = place(shown.a_low + 10 * step, shown.b_low + 10 * step)
        cross.append(line((tick_x, y - 3), (tick_x, y + 3), ink.line))
        cross.append(line((x - 3, tick_y), (x + 3, tick_y), ink.line))
    foot = top + side + 20
    ends = (number_text(shown.a_low, 0), number_text(shown.a_low + shown.span, 0))
    return [
        *cross,
        letters(x, top - 7, f"b* {number_text(shown.b_low + shown.span, 0)}, yellow", ink.quiet, "quiet", "middle"),
        letters(left, foot, f"a* {ends[0]}, green", ink.quiet, "quiet"),
        letters(left + side, foot, f"a* {ends[1]}, red", ink.quiet, "quiet", "end"),
    ]


def _ellipse(point: PlanePoint, centre: tuple[float, float], scale: float, ink: Ink) -> str:
    """The region that holds a*, b* nine times in ten."""
    if point.covariance is None:
        return ""
    values, vectors = np.linalg.eigh(np.asarray(point.covariance)[1:, 1:])
    radii = scale * np.sqrt(CHI_SQUARED_2_NINE_IN_TEN * np.maximum(values, 0))
    # The axis of b* points up, that of the drawing down: the angle turns the other way.
    turn_deg = -math.degrees(math.atan2(vectors[1, 1], vectors[0, 1]))
    fill = "none" if point.verified else HATCHED
    dashes = ' stroke-dasharray="5 4"' if point.mark == "cross" else ""
    return (
        f'<ellipse cx="{centre[0]:.1f}" cy="{centre[1]:.1f}" rx="{radii[1]:.1f}" ry="{radii[0]:.1f}" fill="{fill}"'
        f' class="stroke-quiet" stroke="{ink.quiet}" stroke-width="1.5"{dashes}'
        f' transform="rotate({turn_deg:.1f} {centre[0]:.1f} {centre[1]:.1f})"/>'
    )


@dataclass(frozen=True)
class _Words:
    """The room that words or a mark take up. x, y is its upper left corner. [px]"""

    x: float
    y: float
    width: float
    height: float

    def overlap(self, other: "_Words") -> float:
        across = min(self.x + self.width, other.x + other.width) - max(self.x, other.x)
        down = min(self.y + self.height, other.y + other.height) - max(self.y, other.y)
        return max(across, 0) * max(down, 0)


def _free_spot(
    centre: tuple[float, float], words: str, taken: Sequence[_Words], frame: tuple[float, float, float]
) -> _Words:
    """Where words lie beside their mark with the least overlap of other words and marks, inside the frame."""
    left, top, side = frame
    width, height = LETTER_PX * len(words), TEXT_PX + 3
    best, least = _Words(0, 0, 0, 0), math.inf
    for nearness, (right, down) in enumerate(_SIDES):
        x = centre[0] + (11 if right > 0 else -11 - width if right < 0 else -width / 2)
        y = centre[1] - height / 2 + down
        x, y = min(max(x, left + 4), left + side - width - 4), min(max(y, top + 2), top + side - height - 2)
        spot = _Words(x, y, width, height)
        cost = sum(spot.overlap(other) for other in taken) + 2 * nearness
        if cost < least:
            best, least = spot, cost
    return best


_SIDES = (
    (1, 0), (-1, 0), (0, -20), (0, 20), (1, -16), (1, 16), (-1, -16), (-1, 16), (0, -38), (0, 38), (1, 32), (1, -32)
)


def _haloed(place: tuple[float, float], words: str, ink: Ink, anchor: str = "start") -> str:
    """Words that stay readable across lines: a halo of the paper's colour behind them."""
    x, y = place
    behind = (
        f'<text x="{x:.1f}" y="{y:.1f}" class="halo" fill="none" stroke="{ink.paper}" stroke-width="4"'
        f' stroke-linejoin="round" font-family="{FONT}" font-size="{TEXT_PX}" text-anchor="{anchor}"'
        f' aria-hidden="true">{xml_text(words)}</text>'
    )
    return behind + letters(x, y, words, ink.text, "text", anchor)


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
        _haloed((at_end(row, end)[0] + right, at_end(row, end)[1] + down), row.word, ink, anchor)
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
