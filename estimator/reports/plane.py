"""The a*b* plane: colours of one zone with their nine-in-ten ellipses, on one range for a whole visit."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from calibration.photo import FloatArray
from estimator.reports.shown_colour import lab_words
from estimator.reports.svg import (
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
)
from estimator.reports.wording import number_text

CHI_SQUARED_2_NINE_IN_TEN = 4.605  # 90 % point of chi-squared with 2 degrees of freedom, standard tables


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
        body.append(haloed((spot.x, spot.y + TEXT_PX - 3), words, ink))
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
    (1, 0),
    (-1, 0),
    (0, -20),
    (0, 20),
    (1, -16),
    (1, 16),
    (-1, -16),
    (-1, 16),
    (0, -38),
    (0, 38),
    (1, 32),
    (1, -32),
)
