"""Lines of demarcation: places along a zone where hair of one history ends and another begins."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from calibration.photo import FloatArray
from estimator.care.facts import PlanFigures
from estimator.errors import BadInputError
from estimator.lifting.card_size import PhotoScale
from estimator.lifting.figures import lifting_table
from estimator.reading.zone_reading import ProfilePoint
from estimator.scale.level import LevelScale, default_scale
from estimator.zones.outline import Setting

FEWEST_STRIPS = 5
MOST_PARTS = 5
NEVER_WEEKS = 999
WEEKS_PER_MONTH = 30.44 / 7


@dataclass(frozen=True)
class Place:
    """Where a line lies: low, middle, high.

    share : 0 at the root, 1 at the end. mm : From the root, as the hair lies; None where the photo has no scale.
    """

    share: tuple[float, float, float]
    mm: tuple[float, float, float] | None


@dataclass(frozen=True)
class Line:
    """One line, or the near and far border of one band.

    kind : "regrowth", "relaxed boundary", "old colour band", "overlap band" or "line".
    until : The band's far border; None for a single line.
    step_levels : Level beyond the line less level before it; of a band, against its neighbours. None: not seen.
    seen : In the profile; else only expected from what is known of the hair.
    """

    kind: str
    place: Place
    until: Place | None
    step_levels: float | None
    seen: bool
    looks: str
    handling: str
    source: str


@dataclass(frozen=True)
class HairPast:
    """What is known of the hair's history. weeks : None where nobody knows, 999 for never."""

    coloured_weeks_ago: float | None = None
    relaxed_weeks_ago: float | None = None


@dataclass(frozen=True)
class _Part:
    first: int
    last: int
    lab_d65: FloatArray


@dataclass(frozen=True, eq=False)
class _Ruler:
    """From places among strips to shares and millimetres."""

    profile: tuple[ProfilePoint, ...]
    length_px: float | None
    scale: PhotoScale | None

    def between(self, before: int, after: int) -> Place:
        """The border that lies between two neighbouring strips."""
        low, high = self.profile[before].share, self.profile[after].share
        shares = (low, (low + high) / 2, high)
        return Place(shares, self._mm(shares))

    def _mm(self, shares: tuple[float, float, float]) -> tuple[float, float, float] | None:
        if self.length_px is None or self.scale is None:
            return None
        low, _, _ = self.scale.mm(shares[0] * self.length_px)
        _, middle, _ = self.scale.mm(shares[1] * self.length_px)
        _, _, high = self.scale.mm(shares[2] * self.length_px)
        return low, middle, high

    def of_mm(self, mm: tuple[float, float, float]) -> Place | None:
        """Where millimetres from the root lie; None beyond the end, or without a scale."""
        if self.length_px is None or self.scale is None:
            return None
        whole = self.scale.mm(self.length_px)[1]
        shares = (mm[0] / whole, mm[1] / whole, mm[2] / whole)
        return Place(shares, mm) if shares[1] < 1 else None


def find_lines(
    profile: tuple[ProfilePoint, ...],
    past: HairPast | None = None,
    length_px: float | None = None,
    photo_scale: PhotoScale | None = None,
    scale: LevelScale | None = None,
    setting: Setting = Setting.BOARD,
) -> tuple[Line, ...]:
    """The lines of one zone, root first: those seen in its profile, and a relaxed boundary expected from its age.

    length_px : Of the zone from root to end, for millimetres. setting : A head shades itself, so that only larger steps
    count there. Empty for a profile of fewer than five strips, but for
    what is expected.
    """
    past, scale = past or HairPast(), scale or default_scale()
    ruler = _Ruler(profile, length_px, photo_scale)
    least = _least_steps(setting)
    parts = _parts(profile, least) if len(profile) >= FEWEST_STRIPS else ()
    lines = _named(parts, ruler, past, scale, least)
    expected = _relaxed_boundary(ruler, past)
    return tuple(sorted((*lines, *((expected,) if expected else ())), key=lambda line: line.place.share[1]))


def growth_mm(weeks: float) -> tuple[float, float, float]:
    """Hair grown in so many weeks: low, middle, high. [mm]"""
    low, middle, high = (
        _limit(name) * weeks / WEEKS_PER_MONTH for name in ("growth_low", "growth_middle", "growth_high")
    )
    return low, middle, high


def figures_with_lines(lines: tuple[Line, ...], from_share: float, to_share: float) -> PlanFigures:
    """Plan figures that the lines force on a mix laid from one share of the length to another. 0-1

    Only ever stricter: what a line shows is added, and nothing is ever taken to be untouched because none was seen.
    """
    if not 0 <= from_share < to_share <= 1:
        raise BadInputError(f"A mix from {from_share:g} to {to_share:g} of the length was given; 0 to 1, root first.")
    figures: PlanFigures = {}
    for line in lines:
        beyond = line.until.share[2] if line.until is not None else 1.0
        touched = to_share > line.place.share[0] and from_share < beyond
        if touched and line.kind in ("regrowth", "overlap band"):
            paler = line.kind == "overlap band" or (line.step_levels is not None and line.step_levels > 0)
            if paler:
                figures["touches_lightened_hair"] = True
        if touched and line.kind == "relaxed boundary":
            figures["touches_relaxed_hair"] = True
    return figures


# --- parts of a profile


@dataclass(frozen=True)
class _LeastSteps:
    """The smallest jump that counts as a line: in L*, and in a* and b* together."""

    lightness: float
    colour: float


def _least_steps(setting: Setting) -> _LeastSteps:
    where = "_head" if setting is Setting.HEAD else ""
    return _LeastSteps(_limit(f"least_step_lightness{where}"), _limit(f"least_step_colour{where}"))


def _parts(profile: tuple[ProfilePoint, ...], least: _LeastSteps) -> tuple[_Part, ...]:
    """The profile cut where cutting explains more than it costs: straight pieces, fitted by least squares."""
    lab = np.array([point.lab_d65 for point in profile])
    floor = np.array([_limit("lightness_floor_sd"), _limit("colour_floor_sd"), _limit("colour_floor_sd")])
    own = np.array([[point.lightness_sd, 0.0, 0.0] for point in profile])
    weighed = lab / np.hypot(floor, own)
    count = len(profile)
    cost = {(first, last): _misfit(weighed[first : last + 1]) for first in range(count) for last in range(first, count)}
    price = 3 * 2 * np.log(count)  # six numbers a piece, by the Bayesian information criterion
    best: list[tuple[float, int]] = []
    for last in range(count):
        options = [
            ((best[first - 1][0] if first else 0.0) + cost[first, last] + price, first) for first in range(last + 1)
        ]
        best.append(min(options))
    cuts, last = [], count - 1
    while last >= 0:
        cuts.append((best[last][1], last))
        last = best[last][1] - 1
    return _merged(profile, tuple(reversed(cuts)), least)


def _misfit(weighed: FloatArray) -> float:
    """What a straight line leaves over. One strip alone is taken as level with nothing to spare."""
    place = np.arange(len(weighed)) - (len(weighed) - 1) / 2
    level = weighed - weighed.mean(axis=0)
    if len(weighed) < 3:
        return float(np.sum(level**2))
    slope = place @ level / (place @ place)
    return float(np.sum((level - np.outer(place, slope)) ** 2))


def _merged(
    profile: tuple[ProfilePoint, ...], cuts: tuple[tuple[int, int], ...], least: _LeastSteps
) -> tuple[_Part, ...]:
    """The pieces as parts; neighbours without a step between them become one: a slow rise is no line."""
    lab = np.array([point.lab_d65 for point in profile])
    kept = [cuts[0]]
    for first, last in cuts[1:]:
        before = kept[-1]
        if _is_step(profile, lab, (before, (first, last)), least):
            kept.append((first, last))
        else:
            kept[-1] = (before[0], last)
    return tuple(_Part(first, last, lab[first : last + 1].mean(axis=0)) for first, last in kept)


def _is_step(
    profile: tuple[ProfilePoint, ...],
    lab: FloatArray,
    pieces: tuple[tuple[int, int], tuple[int, int]],
    least: _LeastSteps,
) -> bool:
    """Whether colour jumps from one piece to the next, at their border, by more than hair, shade and reading may."""
    before, after = pieces
    jump = _edge(lab, after, at_end=False) - _edge(lab, before, at_end=True)
    sd = np.hypot(_limit("lightness_floor_sd"), (profile[before[1]].lightness_sd + profile[after[0]].lightness_sd) / 2)
    sds = _limit("least_step_sd")
    light = abs(jump[0]) >= max(least.lightness, sds * sd)
    colour = np.hypot(jump[1], jump[2]) >= max(least.colour, sds * _limit("colour_floor_sd"))
    return bool(light or colour)


def _edge(lab: FloatArray, piece: tuple[int, int], at_end: bool) -> FloatArray:
    """Colour at the end of a piece that faces the border: of its nearest two strips."""
    first, last = piece
    rows = lab[max(first, last - 1) : last + 1] if at_end else lab[first : min(first + 1, last) + 1]
    mean: FloatArray = rows.mean(axis=0)
    return mean


# --- what each border is


def _named(
    parts: tuple[_Part, ...], ruler: _Ruler, past: HairPast, scale: LevelScale, least: _LeastSteps
) -> list[Line]:
    lines: list[Line] = []
    number = 0
    while number + 1 < len(parts):
        here, following = parts[number], parts[number + 1]
        band = _band_kind(parts, number + 1, ruler, least)
        if band:
            beyond = parts[number + 2]
            around = (here.lab_d65[0] + beyond.lab_d65[0]) / 2
            step = _levels(following.lab_d65[0], scale) - _levels(around, scale)
            place, until = ruler.between(here.last, following.first), ruler.between(following.last, beyond.first)
            lines.append(_line(band, place, until, step))
            number += 2
            continue
        place = ruler.between(here.last, following.first)
        step = _levels(following.lab_d65[0], scale) - _levels(here.lab_d65[0], scale)
        kind = "regrowth" if number == 0 and _is_regrowth(place, past) else "line"
        lines.append(_line(kind, place, None, step))
        number += 1
    return lines


def _band_kind(parts: tuple[_Part, ...], number: int, ruler: _Ruler, least: _LeastSteps) -> str:
    """What the part of this number is between its neighbours: a band of one kind, or none ("")."""
    if number + 1 >= len(parts):
        return ""
    before, band, after = (parts[place].lab_d65 for place in (number - 1, number, number + 1))
    step = least.lightness
    wide = ruler.profile[parts[number].last].share - ruler.profile[parts[number].first].share
    if band[0] > max(before[0], after[0]) + step and wide <= _limit("overlap_widest_share"):
        return "overlap band"
    # A root darker than the band is regrowth and a band beyond it: the band is told by what follows it.
    redder = band[1] > max(before[1], after[1]) + least.colour / 2
    darker = band[0] < min(before[0], after[0]) - step
    return "old colour band" if darker or (redder and band[0] < after[0] - step) else ""


def _is_regrowth(place: Place, past: HairPast) -> bool:
    weeks = past.coloured_weeks_ago
    if weeks is not None and weeks < NEVER_WEEKS and place.mm is not None:
        low, _, high = growth_mm(weeks)
        return place.mm[0] <= high and place.mm[2] >= low
    return weeks != NEVER_WEEKS and place.share[1] <= _limit("regrowth_furthest_share")


def _relaxed_boundary(ruler: _Ruler, past: HairPast) -> Line | None:
    weeks = past.relaxed_weeks_ago
    if weeks is None or weeks >= NEVER_WEEKS or not ruler.profile:
        return None
    place = ruler.of_mm(growth_mm(weeks))
    return _line("relaxed boundary", place, None, None) if place is not None else None


def _line(kind: str, place: Place, until: Place | None, step_levels: float | None) -> Line:
    row = next(row for row in lifting_table("lines")["kind"] if row["kind"] == kind)
    seen = step_levels is not None
    return Line(kind, place, until, step_levels, seen, row["looks"], row["handling"], row["source"])


def _levels(lightness: float, scale: LevelScale) -> float:
    return float(np.interp(lightness, scale.lightness, scale.levels))


@cache
def _limit(name: str) -> float:
    return next(float(row["value"]) for row in lifting_table("lines")["limit"] if row["name"] == name)
