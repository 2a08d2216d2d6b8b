"""A figure of hair by day, with its nine-in-ten intervals, as SVG."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from estimator.reports import wording
from estimator.reports.svg import ON_PAPER, WIDTH_PX, Ink, drawing, letters, line, mark

_LEFT_PX, _RIGHT_PX, _TOP_PX, _PLOT_PX, _FOOT_PX = 40.0, WIDTH_PX - 22.0, 36.0, 130.0, 30.0
_APART_PX = 9.0  # hair before stands a little to the left of its day, hair after to the right
_MARKS = {"before": "ring", "after": "disc"}


@dataclass(frozen=True)
class TrendPoint:
    """One reading of a day. side : "before" or "after". interval : Holds nine times in ten."""

    day: date
    side: str
    value: float
    interval: tuple[float, float]
    verified: bool = True

    @property
    def high(self) -> float:
        return self.interval[1]


def trend_plot(title: str, points: Sequence[TrendPoint], ends: tuple[float, float], ink: Ink = ON_PAPER) -> str:
    """Readings by day between two ends of the figure's axis; a reading without a card is a cross.

    Raises ValueError where there is no reading.
    """
    if not points:
        raise ValueError("A trend needs a reading.")
    days = [point.day for point in points]
    body = [letters(0, 18, title, ink.text, "strong"), *_axis(ends, ink), *_days(min(days), max(days), ink)]
    places = [(_x(point, min(days), max(days)), _y(point.value, ends)) for point in points]
    body += [line(one, other, ink.rule, "rule", 2) for one, other in pairwise(places)]
    for point, (x, y) in zip(points, places, strict=True):
        low, high = (_y(end, ends) for end in point.interval)
        body.append(line((x, low), (x, high), ink.text, "text", 2))
        body.append(mark(x, y, _MARKS[point.side] if point.verified else "cross", ink))
    return drawing(WIDTH_PX, _TOP_PX + _PLOT_PX + _FOOT_PX, f"{title}: {_words(points)}", body)


def _x(point: TrendPoint, first: date, last: date) -> float:
    span = (last - first).days
    share = (point.day - first).days / span if span else 0.5
    inner = _RIGHT_PX - _LEFT_PX - 4 * _APART_PX
    return _LEFT_PX + 2 * _APART_PX + inner * share + (_APART_PX if point.side == "after" else -_APART_PX)


def _y(value: float, ends: tuple[float, float]) -> float:
    share = (min(max(value, ends[0]), ends[1]) - ends[0]) / (ends[1] - ends[0])
    return _TOP_PX + _PLOT_PX * (1 - share)


def _axis(ends: tuple[float, float], ink: Ink) -> list[str]:
    body = []
    for value in (ends[0], (ends[0] + ends[1]) / 2, ends[1]):
        y = _y(value, ends)
        body.append(line((_LEFT_PX, y), (_RIGHT_PX, y), ink.rule, "rule", 1))
        body.append(letters(_LEFT_PX - 6, y + 6, wording.plain_text(value), ink.quiet, "quiet", "end"))
    return body


def _days(first: date, last: date, ink: Ink) -> list[str]:
    foot = _TOP_PX + _PLOT_PX + 22
    if first == last:
        return [letters((_LEFT_PX + _RIGHT_PX) / 2, foot, wording.date_text(first), ink.quiet, "quiet", "middle")]
    start = letters(_LEFT_PX - 34, foot, wording.date_text(first), ink.quiet, "quiet")
    return [start, letters(WIDTH_PX, foot, wording.date_text(last), ink.quiet, "quiet", "end")]


def _words(points: Sequence[TrendPoint]) -> str:
    return "; ".join(
        f"{wording.date_text(point.day)} {point.side} {wording.interval_text(point.value, *point.interval)}"
        f"{'' if point.verified else ', unverified'}"
        for point in points
    )
