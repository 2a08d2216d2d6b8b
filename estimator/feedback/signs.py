"""How a result missed: the signs of the trade, each with the odds that it is there, from the reading's own spread."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import erf, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import FloatArray
from estimator.feedback.figures import feedback_table
from estimator.reading.evenness import UNEVEN_INSIDE_L
from estimator.reading.zone_reading import ProfilePoint, ZoneReading
from estimator.toning.targets import TargetRegion

DRAWS = 2000
TOLD_FROM = 0.3  # odds from which a sign is told; below, it would only frighten
LIKELY_FROM = 0.5
ROOTS_TO, ENDS_FROM = 0.25, 0.75  # shares of the way from root to end
_BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Sign:
    """One way in which a result missed.

    words : As the trade says it. means : What that is in dye. odds : That it is so. 0-1
    """

    code: str
    words: str
    means: str
    odds: float


@dataclass(frozen=True, eq=False)
class Miss:
    """How one zone's result stands to its target.

    odds_inside : That it lies inside the target's region. signs : Those worth telling, the likeliest first.
    """

    zone: str
    odds_inside: float
    signs: tuple[Sign, ...]

    @property
    def reached(self) -> bool:
        """Nothing is to be mended."""
        return not any(sign.odds >= LIKELY_FROM for sign in self.signs)


def look_at_result(after: ZoneReading, region: TargetRegion) -> Miss:
    """The signs of one zone's reading after toning, against the region that it should have reached."""
    colours = _draws(after)
    target = region.centre_lab_d65
    signs = []
    for row in feedback_table("rescue")["sign"]:
        odds = _odds_of(row, colours, target, after)
        if odds >= TOLD_FROM:
            signs.append(Sign(row["code"], row["words"], row["means"], odds))
    signs.sort(key=lambda sign: -sign.odds)
    return Miss(after.zone, float(region.holds(colours).mean()), tuple(signs))


def _draws(after: ZoneReading) -> FloatArray:
    values, vectors = np.linalg.eigh(after.covariance)
    colours: FloatArray = after.lab_d65 + _normal() @ (vectors * np.sqrt(np.maximum(values, 0.0))).T
    return colours


@cache
def _normal() -> FloatArray:
    half = np.random.default_rng(1).standard_normal((DRAWS // 2, 3))
    return np.concatenate([half, -half])


def _odds_of(row: dict[str, Any], colours: FloatArray, target: FloatArray, after: ZoneReading) -> float:
    if row["code"] == "patchy":
        return float(after.spread_lab[0] > UNEVEN_INSIDE_L)
    if row["code"] == "hollow_ends":
        return _odds_along(after.profile, _hollow, row)
    if row["code"] == "hot_roots":
        return _odds_along(after.profile, _hot, row)
    there = np.ones(len(colours), dtype=np.bool_)
    for name, test in _TESTS.items():
        if name in row:
            there &= test(float(row[name]), colours, target)
    if "hue_from_deg" in row:
        there &= _hue_between(row["hue_from_deg"], row["hue_to_deg"], colours)
    return float(there.mean())


def _chroma(lab: FloatArray) -> FloatArray:
    chroma: FloatArray = np.hypot(lab[..., 1], lab[..., 2])
    return chroma


def _hue_between(low_deg: float, high_deg: float, colours: FloatArray) -> _BoolArray:
    hue = np.degrees(np.arctan2(colours[:, 2], colours[:, 1])) % 360
    inside: _BoolArray = (hue >= low_deg) & (hue <= high_deg)
    return inside if low_deg < high_deg else (hue >= low_deg) | (hue <= high_deg)


_TESTS: dict[str, Callable[[float, FloatArray, FloatArray], _BoolArray]] = {
    "b_below": lambda limit, lab, _: lab[:, 2] < limit,
    "a_above": lambda limit, lab, _: lab[:, 1] > limit,
    "b_at_least": lambda limit, lab, _: lab[:, 2] >= limit,
    "l_at_least": lambda limit, lab, _: lab[:, 0] >= limit,
    "b_under_target": lambda step, lab, target: lab[:, 2] < target[2] - step,
    "l_under_target": lambda step, lab, target: lab[:, 0] < target[0] - step,
    "l_over_target": lambda step, lab, target: lab[:, 0] > target[0] + step,
    "a_over_target": lambda step, lab, target: lab[:, 1] > target[1] + step,
    "c_over_target": lambda step, lab, target: _chroma(lab) > _chroma(target) + step,
    "c_under_target": lambda step, lab, target: _chroma(lab) < _chroma(target) - step,
    "a_under": lambda step, lab, target: lab[:, 1] < min(float(target[1]), 0.0) + step,
}


# --- along the hair ---


def _odds_along(
    profile: tuple[ProfilePoint, ...],
    sign: Callable[[dict[str, Any], FloatArray, FloatArray, FloatArray], float],
    row: dict[str, Any],
) -> float:
    """Odds of a sign between roots, middle and ends; 0 where the profile does not reach that far."""
    roots = [point for point in profile if point.share <= ROOTS_TO]
    ends = [point for point in profile if point.share >= ENDS_FROM]
    middle = [point for point in profile if ROOTS_TO < point.share < ENDS_FROM]
    if not (roots and middle and ends):
        return 0.0
    return sign(row, _mean(roots), _mean(middle), _mean(ends))


def _mean(points: list[ProfilePoint]) -> FloatArray:
    """Mean L*, a*, b*, and the sd of that L*. shape (4,)."""
    rows = np.array([(*point.lab_d65, point.lightness_sd) for point in points])
    return np.array([*rows[:, :3].mean(axis=0), rows[:, 3].max()])


def _hollow(row: dict[str, Any], _: FloatArray, middle: FloatArray, ends: FloatArray) -> float:
    less = float(_chroma(middle) - _chroma(ends)) - float(row["ends_c_under_middle"])
    return _above_nought(less, middle[3], ends[3])


def _hot(row: dict[str, Any], roots: FloatArray, middle: FloatArray, _: FloatArray) -> float:
    if roots[2] - middle[2] < row["roots_b_over_middle"]:
        return 0.0
    return _above_nought(float(roots[0] - middle[0]) - float(row["roots_l_over_middle"]), roots[3], middle[3])


def _above_nought(value: float, *sds: float) -> float:
    """Odds that a value with these errors is above nought; the sd of L* stands for that of chroma too."""
    spread = max(sqrt(sum(float(sd) ** 2 for sd in sds)), 0.5)
    return 0.5 * (1 + erf(value / spread / sqrt(2)))
