"""Drawings of a lift: level against minutes with its interval, and lines of demarcation laid over the photograph."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.lifting.curve import HIGH, LOW, MIDDLE, LiftCurve
from estimator.lifting.demarcation import Line
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.reports.lift_wording import line_text
from estimator.reports.svg import FONT, ON_PAPER, WIDTH_PX, Ink, drawing, haloed, letters, line, mark, xml_text
from estimator.reports.wording import number_text
from estimator.zones.axis import axis_of
from estimator.zones.outline import Zone

LEFT_PX, RIGHT_PX, TOP_PX, PLOT_PX = 34.0, WIDTH_PX - 12.0, 30.0, 200.0
LATEST_MINUTES = 60.0
LABEL_UNITS = 228.0  # breadth of a label of millimetres, in thousandths of the picture's longer side
LABEL_LETTER_UNITS = 54  # 16 px where the photograph is 300 px wide, as on a phone


@dataclass(frozen=True)
class Marked:
    """What is marked on a curve. All None for nothing. now_minutes : Where the clock stands."""

    target_level: float | None = None
    most_minutes: float | None = None
    rinse_minutes: float | None = None
    now_minutes: float | None = None


def lift_curve(curve: LiftCurve, marked: Marked | None = None, ink: Ink = ON_PAPER) -> str:
    """Level against minutes: the likely curve, its nine-in-ten band, what was seen, the target and the maximum."""
    marked = marked or Marked()
    minutes = np.linspace(0.0, LATEST_MINUTES, 61)
    levels = np.quantile(curve.levels(minutes), (LOW, MIDDLE, HIGH), axis=0)
    frame = _Frame(*_level_range(levels, marked))
    body = [*_axes(frame, ink)]
    body += _marks_behind(frame, marked, ink)
    band = [*zip(minutes, levels[2], strict=True), *reversed(list(zip(minutes, levels[0], strict=True)))]
    corners = _path([frame.place(at, level) for at, level in band])
    body.append(f'<polygon points="{corners}" class="fill-line" fill="{ink.line}" fill-opacity="0.28"/>')
    path = _path([frame.place(at, level) for at, level in zip(minutes, levels[1], strict=True)])
    body.append(f'<polyline points="{path}" fill="none" class="stroke-accent" stroke="{ink.accent}" stroke-width="3"/>')
    for point in curve.points:
        body += _seen(frame, curve, point.minutes, (point.lightness, point.own_sd), point.by_eye, ink)
    body += _words_in_front(frame, marked, ink)
    return drawing(WIDTH_PX, frame.foot + 46, _spoken(curve, levels, marked), body)


def _path(places: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in places)


@dataclass(frozen=True)
class _Frame:
    low: float
    high: float

    @property
    def foot(self) -> float:
        return TOP_PX + PLOT_PX

    def place(self, minutes: float, level: float) -> tuple[float, float]:
        x = LEFT_PX + min(max(minutes, 0.0), LATEST_MINUTES) / LATEST_MINUTES * (RIGHT_PX - LEFT_PX)
        return x, TOP_PX + PLOT_PX * (self.high - min(max(level, self.low), self.high)) / (self.high - self.low)


def _level_range(levels: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]", marked: Marked) -> tuple[float, float]:
    shown = [float(levels.min()), float(levels.max())]
    shown += [marked.target_level] if marked.target_level is not None else []
    low, high = max(float(np.floor(min(shown) - 0.3)), 1.0), min(float(np.ceil(max(shown) + 0.3)), 10.0)
    return low, max(high, low + 2.0)


def _axes(frame: _Frame, ink: Ink) -> list[str]:
    body = []
    for level in range(int(frame.low), int(frame.high) + 1):
        left, right = frame.place(0, level), frame.place(LATEST_MINUTES, level)
        body.append(line(left, right, ink.rule, "rule", 1))
        body.append(letters(LEFT_PX - 8, left[1] + 6, str(level), ink.quiet, "quiet", "end"))
    for minutes in range(0, int(LATEST_MINUTES) + 1, 10):
        x = frame.place(minutes, frame.low)[0]
        body.append(line((x, frame.foot), (x, frame.foot + 5), ink.line, "line", 1))
        body.append(letters(x, frame.foot + 22, str(minutes), ink.quiet, "quiet", "middle"))
    body.append(letters(LEFT_PX, TOP_PX - 12, "level", ink.quiet, "quiet"))
    body.append(letters(RIGHT_PX, frame.foot + 42, "minutes", ink.quiet, "quiet", "end"))
    return body


def _marks_behind(frame: _Frame, marked: Marked, ink: Ink) -> list[str]:
    body = []
    if marked.target_level is not None:
        y = frame.place(0, marked.target_level)[1]
        body.append(_dashed((LEFT_PX, y), (RIGHT_PX, y), ink))
    for minutes in (marked.most_minutes, marked.rinse_minutes):
        if minutes is not None:
            x = frame.place(minutes, frame.low)[0]
            body.append(
                line((x, TOP_PX), (x, frame.foot), ink.text, "text", 2.5 if minutes == marked.most_minutes else 1)
            )
    return body


def _dashed(start: tuple[float, float], end: tuple[float, float], ink: Ink) -> str:
    return line(start, end, ink.text, "text", 1.5).replace("/>", ' stroke-dasharray="8 5"/>')


def _seen(
    frame: _Frame, curve: LiftCurve, minutes: float, lightness: tuple[float, float], by_eye: bool, ink: Ink
) -> list[str]:
    """What was seen at one minute, with its own interval; a ring for an eye, a disc for a photograph."""
    ends = [lightness[0] - NINE_IN_TEN * lightness[1], lightness[0], lightness[0] + NINE_IN_TEN * lightness[1]]
    levels = [float(np.interp(end, curve.scale.lightness, curve.scale.levels)) for end in ends]
    (x, low), (_, middle), (_, high) = (frame.place(minutes, level) for level in levels)
    return [line((x, low), (x, high), ink.text, "text", 1.5), mark(x, middle, "ring" if by_eye else "disc", ink)]


def _words_in_front(frame: _Frame, marked: Marked, ink: Ink) -> list[str]:
    body = []
    if marked.target_level is not None:
        x, y = RIGHT_PX, frame.place(0, marked.target_level)[1]
        body.append(haloed((x, y - 6), f"aim {number_text(marked.target_level, 1)}", ink, "end"))
    if marked.now_minutes is not None:
        x = frame.place(marked.now_minutes, frame.low)[0]
        body.append(f'<path d="M{x - 8:.1f} {TOP_PX - 8}h16l-8 14z" class="fill-accent" fill="{ink.accent}"/>')
    if marked.rinse_minutes is not None:
        x = frame.place(marked.rinse_minutes, frame.low)[0]
        words = f"rinse {number_text(marked.rinse_minutes, 0)}"
        on_left = x > (LEFT_PX + RIGHT_PX) / 2
        place = (x - 6 if on_left else x + 6, frame.foot - 32)
        body.append(haloed(place, words, ink, "end" if on_left else "start"))
    if marked.most_minutes is not None:
        x = frame.place(marked.most_minutes, frame.low)[0]
        body.append(haloed((x - 6, frame.foot - 8), f"max {number_text(marked.most_minutes, 0)}", ink, "end"))
    return body


def _spoken(curve: LiftCurve, levels: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]", marked: Marked) -> str:
    told = []
    for minutes in (10, 20, 30, 40, 50):
        low, middle, high = (number_text(float(row[minutes]), 1) for row in levels)
        told.append(f"at {minutes} minutes level {middle}, between {low} and {high}")
    aim = f" The aim is level {number_text(marked.target_level, 1)}." if marked.target_level is not None else ""
    return f"Lift curve: {'; '.join(told)}.{aim} {curve.basis}"


# --- lines on the photograph


def lines_over(zones: Sequence[tuple[Zone, tuple[Line, ...]]], width_px: int, height_px: int) -> str:
    """Lines of demarcation across each zone, with millimetres where they are known; to lie over the whole picture.

    A band has a line at each border. What was expected and not seen is dashed.
    """
    unit = max(width_px, height_px) / 1000
    body = [part for zone, lines in zones for found in lines for part in _line_over(zone, found, unit, width_px)]
    words = "; ".join(f"{zone.name}: {line_text(found)}" for zone, lines in zones for found in lines)
    label = f'role="img" aria-label="{xml_text(words)}"' if words else 'aria-hidden="true"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width_px} {height_px}" {label}>{"".join(body)}</svg>'


def _line_over(zone: Zone, found: Line, unit: float, width_px: int) -> list[str]:
    axis, corner = axis_of(zone), np.array([zone.box.left, zone.box.top])
    sideways = np.array([-axis.direction[1], axis.direction[0]]) * axis.half_width_px * 1.15
    body = []
    for place in (found.place, *((found.until,) if found.until is not None else ())):
        middle = corner + axis.origin_px + axis.direction * axis.half_length_px * (2 * place.share[1] - 1)
        (x1, y1), (x2, y2) = middle - sideways, middle + sideways
        dashes = "" if found.seen else f' stroke-dasharray="{8 * unit:.1f} {6 * unit:.1f}"'
        body += [
            f'<path d="M{x1:.0f} {y1:.0f}L{x2:.0f} {y2:.0f}" stroke="{ink}" stroke-width="{broad * unit:.1f}"{dashes}/>'
            for ink, broad in (("#000000", 6.0), ("#ffffff", 3.0))
        ]
        if place.mm is not None:
            left, right = sorted(((x1, y1), (x2, y2)))
            roomy = right[0] + LABEL_UNITS * unit < width_px
            words = f"{number_text(place.mm[1], 0)} mm"
            body.append(_millimetres(right if roomy else left, words, unit, "start" if roomy else "end"))
    return body


def _millimetres(place: tuple[float, float], words: str, unit: float, anchor: str) -> str:
    x, y = place[0] + (6 if anchor == "start" else -6) * unit, place[1] + 0.3 * LABEL_LETTER_UNITS * unit
    halo = f'stroke="#ffffff" stroke-width="{6 * unit:.1f}" paint-order="stroke" stroke-linejoin="round"'
    font = f'font-family="{FONT}" font-size="{LABEL_LETTER_UNITS * unit:.0f}" font-weight="600" text-anchor="{anchor}"'
    return f'<text x="{x:.0f}" y="{y:.0f}" {font} fill="#000000" {halo}>{xml_text(words)}</text>'
