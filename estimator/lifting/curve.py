"""The curve of a lift: level against time, as a cloud of curves that agree with the strand and with what was seen.

Pigment left after t minutes, as a share of the start: s + (1 - s) exp(-(t / pace)^n). n lies between 0.5, where
diffusion holds the loss back, and about 1, a loss of first order; s is what resists. Four unknowns: start, pace, n, s.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from calibration.photo import FloatArray
from estimator.lifting.figures import figure, figure_sd
from estimator.lifting.pigment import lightness_of, pigment_of
from estimator.lifting.strand import Strand, StrandPoint, lightness_sd_at, ordered
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.scale.appearance import Level
from estimator.scale.level import LevelScale, default_scale, lightness_of_level

UNKNOWNS = 4
TRIED, KEPT = 6000, 2000
ROUNDS = 4
# Half the tries of each round go where the last round saw the curve, the rest stay with what was believed beforehand.
STAY_SHARE = 0.2
WIDEN = 1.5
UNSEEN_START, UNSEEN_START_SD = 35.0, 15.0  # L*: about any hair, where neither a level nor a photo says more
LOW, MIDDLE, HIGH = 0.05, 0.5, 0.95


@dataclass(frozen=True)
class Reach:
    """When a level is reached. Minutes are None where the curve never gets there, or not within four hours.

    odds_in_time : Share of the possible curves that reach it before `limit_minutes`. 0-1.
    """

    level: float
    minutes_low: float | None
    minutes: float | None
    minutes_high: float | None
    odds_in_time: float
    limit_minutes: float

    @property
    def likely(self) -> bool:
        """More likely than not, in time."""
        return self.odds_in_time >= MIDDLE


@dataclass(frozen=True, eq=False)
class LiftCurve:
    """Equally likely curves.

    start_pigment, pace_minutes, exponent, stays : One entry for each curve. shape (curves,).
    pace_z : How far each pace lies from the usual one of its kind, in standard deviations. shape (curves,).
    points : What was seen. basis : What the curve rests on, in a sentence.
    """

    strand: Strand
    points: tuple[StrandPoint, ...]
    scale: LevelScale
    start_pigment: FloatArray
    pace_minutes: FloatArray
    exponent: FloatArray
    stays: FloatArray
    pace_z: FloatArray
    basis: str

    @property
    def prior_alone(self) -> bool:
        """Nothing was seen of how this strand lifts."""
        return len({point.minutes for point in self.points}) < 2

    def lightness(self, minutes: FloatArray) -> FloatArray:
        """L* of every curve at these minutes. shape (curves, minutes)."""
        time = np.maximum(np.atleast_1d(np.asarray(minutes, dtype=np.float64)), 0.0)
        left = np.exp(-((time / self.pace_minutes[:, None]) ** self.exponent[:, None]))
        share = self.stays[:, None] + (1 - self.stays[:, None]) * left
        return lightness_of(self.start_pigment[:, None] * share)

    def levels(self, minutes: FloatArray) -> FloatArray:
        """Level of every curve at these minutes; the scale's ends hold. shape (curves, minutes)."""
        levels: FloatArray = np.interp(self.lightness(minutes), self.scale.lightness, self.scale.levels)
        return levels

    def level_at(self, minutes: float) -> Level:
        """Level at one minute, with its nine-in-ten interval."""
        lightness = self.lightness(np.array([minutes]))[:, 0]
        # What the scale does not know widens the interval as it does for a reading.
        half = NINE_IN_TEN * self.scale.sd_at(float(np.median(lightness)))
        low, middle, high = np.quantile(lightness, (LOW, MIDDLE, HIGH))
        values = (middle, middle - np.hypot(middle - low, half), middle + np.hypot(high - middle, half))
        level, below, above = (float(np.interp(value, self.scale.lightness, self.scale.levels)) for value in values)
        beyond = f"lighter than {self.scale.levels[-1]:g}" if middle > self.scale.lightness[-1] else ""
        return Level(level, below, above, beyond, self.scale.name)

    def reach(self, level: float, limit_minutes: float | None = None) -> Reach:
        """When hair like this reaches `level`; the limit is the outer limit of lightener where None."""
        limit = figure("outer_minutes") if limit_minutes is None else limit_minutes
        minutes = self.minutes_to(level)
        quantiles = np.quantile(minutes, (LOW, MIDDLE, HIGH), method="nearest")
        low, middle, high = (float(value) if value <= 240 else None for value in quantiles)
        return Reach(level, low, middle, high, float(np.mean(minutes <= limit)), limit)

    def minutes_to(self, level: float) -> FloatArray:
        """Minutes at which each curve reaches `level`; infinite where it never does. shape (curves,)."""
        aim = float(pigment_of(np.array(lightness_of_level(level, self.scale))))
        need = (aim / np.maximum(self.start_pigment, 1e-12) - self.stays) / (1 - self.stays)
        with np.errstate(divide="ignore", invalid="ignore"):
            log = -np.log(np.clip(need, 0.0, 1.0))
        minutes: FloatArray = self.pace_minutes * log ** (1 / self.exponent)
        return minutes


def carried_over(curve: LiftCurve, strand: Strand) -> LiftCurve:
    """The same curves for other hair of this head: its own start, and the pace that its mix and place ask for.

    What was seen of the tested strand stays in the pace and in what resists; the start comes from `strand` alone.
    """
    start, start_sd = _start(strand, curve.scale)
    own = start + start_sd * _even_normal(TRIED)[: len(curve.pace_minutes), 0]
    pace = curve.pace_minutes * strand.pace_times / curve.strand.pace_times
    basis = f"{curve.basis} Carried to this zone's own level and mix."
    return replace(curve, strand=strand, points=(), start_pigment=pigment_of(own), pace_minutes=pace, basis=basis)


def fit_curve(strand: Strand, points: tuple[StrandPoint, ...] = (), scale: LevelScale | None = None) -> LiftCurve:
    """The curves that agree with the strand and with what was seen; without sights, those usual for such a strand.

    Adaptive importance sampling on a fixed, even set of tries: the same input gives the same curves. Unknowns are
    standard normal beforehand.
    """
    scale = scale or default_scale()
    points = ordered(points)
    unknowns = _believed(strand, points, scale)
    return replace(_curve_of(unknowns, strand, points, scale), basis=_basis(points))


# --- what is believed beforehand


def _start(strand: Strand, scale: LevelScale) -> tuple[float, float]:
    if strand.start_level is None:
        return UNSEEN_START, UNSEEN_START_SD
    sd = figure("eye_level_sd") if strand.start_level_sd is None else strand.start_level_sd
    return lightness_of_level(strand.start_level, scale), lightness_sd_at(strand.start_level, sd, scale)


def _curve_of(unknowns: FloatArray, strand: Strand, points: tuple[StrandPoint, ...], scale: LevelScale) -> LiftCurve:
    """Curves of standard normal unknowns. shape (curves, 4): start, pace, exponent, what resists."""
    start, start_sd = _start(strand, scale)
    low, high = figure("exponent_low"), figure("exponent_high")
    most = figure("stays_dyed") if strand.dyed else figure("stays_natural")
    return LiftCurve(
        strand=strand,
        points=points,
        scale=scale,
        start_pigment=pigment_of(start + start_sd * unknowns[:, 0]),
        pace_minutes=figure("pace") * strand.pace_times * np.exp(figure_sd("pace") * unknowns[:, 1]),
        exponent=low + (high - low) * _share_below(unknowns[:, 2]),
        stays=most * _share_below(unknowns[:, 3]) ** 2,
        pace_z=unknowns[:, 1],
        basis="",
    )


def _basis(points: tuple[StrandPoint, ...]) -> str:
    photos = sum(not point.by_eye for point in points)
    if len({point.minutes for point in points}) < 2:
        seen = "one look" if points else "no look"
        return f"Usual for hair like this, not seen on this strand: {seen} at it so far, and a curve needs two."
    told = [f"{photos} photo{'s' * (photos != 1)}"] if photos else []
    if photos < len(points):
        told.append(f"{len(points) - photos} by eye")
    looks = " and ".join(told)
    return f"Fitted to this strand: {looks}, up to minute {points[-1].minutes:g}."


# --- what was seen


def _believed(strand: Strand, points: tuple[StrandPoint, ...], scale: LevelScale) -> FloatArray:
    """Equally likely unknowns. shape (KEPT, 4)."""
    even = _even_normal(TRIED)
    if not points:
        return even[:KEPT]
    middle, half = _first_guess(strand, points, scale)
    for _ in range(ROUNDS):
        tries = np.concatenate([middle + even[: _moved()] @ half.T, even[_moved() :]])
        weight = _weights(tries, middle, half, strand, points, scale)
        middle = weight @ tries
        away = tries - middle
        half = np.linalg.cholesky(WIDEN * (weight[:, None] * away).T @ away + 1e-6 * np.eye(UNKNOWNS))
    # Systematic resampling: the middles of KEPT equal steps of the summed weights.
    chosen = np.searchsorted(np.cumsum(weight), (np.arange(KEPT) + 0.5) / KEPT)
    kept: FloatArray = tries[np.minimum(chosen, len(tries) - 1)]
    return kept


def _moved() -> int:
    return round((1 - STAY_SHARE) * TRIED)


def _first_guess(strand: Strand, points: tuple[StrandPoint, ...], scale: LevelScale) -> tuple[FloatArray, FloatArray]:
    """Where to look first: the start as the first sight has it, all else as believed beforehand."""
    start, start_sd = _start(strand, scale)
    middle, half = np.zeros(UNKNOWNS), np.eye(UNKNOWNS)
    if points[0].minutes == 0:
        first = points[0]
        sd = float(np.sqrt(first.own_sd**2 + first.shared_sd**2 + figure("strand_scatter") ** 2))
        middle[0], half[0, 0] = (first.lightness - start) / start_sd, 1.5 * sd / start_sd
    return middle, half


def _weights(
    tries: FloatArray,
    middle: FloatArray,
    half: FloatArray,
    strand: Strand,
    points: tuple[StrandPoint, ...],
    scale: LevelScale,
) -> FloatArray:
    """Posterior over proposal, adding up to 1. shape (tries,)."""
    log_posterior = _log_seen(tries, strand, points, scale) - 0.5 * np.sum(tries**2, axis=1)
    steps = np.linalg.solve(half, (tries - middle).T)
    log_moved = -0.5 * np.sum(steps**2, axis=0) - np.log(np.abs(np.prod(np.diag(half))))
    log_proposal = np.logaddexp(np.log(1 - STAY_SHARE) + log_moved, np.log(STAY_SHARE) - 0.5 * np.sum(tries**2, axis=1))
    log = log_posterior - log_proposal
    weight = np.exp(log - log.max())
    share: FloatArray = weight / weight.sum()
    return share


def _log_seen(tries: FloatArray, strand: Strand, points: tuple[StrandPoint, ...], scale: LevelScale) -> FloatArray:
    """Log likelihood of what was seen: each sight scatters alone, and all photos may be off together. (tries,)."""
    curve = _curve_of(tries, strand, points, scale)
    expected = curve.lightness(np.array([point.minutes for point in points]))
    residual = np.array([point.lightness for point in points]) - expected
    scatter = figure("strand_scatter")
    own = np.diag([point.own_sd**2 + scatter**2 for point in points])
    shared = np.array([point.shared_sd for point in points])
    solved = np.linalg.solve(own + np.outer(shared, shared), residual.T)
    log: FloatArray = -0.5 * np.sum(residual * solved.T, axis=1)
    return log


# --- even tries


@cache
def _even_normal(count: int) -> FloatArray:
    """Standard normal numbers, evenly spread in four dimensions (an additive recurrence). shape (count, 4)."""
    ratio = 2.0
    for _ in range(60):
        ratio = (1 + ratio) ** (1 / (UNKNOWNS + 1))
    even = (0.5 + np.outer(np.arange(1, count + 1), ratio ** -np.arange(1.0, UNKNOWNS + 1))) % 1
    normal = _normal_of(even)
    normal.setflags(write=False)
    return normal


# The normal distribution as a table: numpy has no error function, and this one is within 1e-6.
_TABLE_Z: FloatArray = np.linspace(-8, 8, 32001)


@cache
def _table_share() -> FloatArray:
    density = np.exp(-0.5 * _TABLE_Z**2)
    below = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2)])
    share: FloatArray = below / below[-1]
    return share


def _share_below(z: FloatArray) -> FloatArray:
    share: FloatArray = np.interp(z, _TABLE_Z, _table_share())
    return share


def _normal_of(share: FloatArray) -> FloatArray:
    z: FloatArray = np.interp(share, _table_share(), _TABLE_Z)
    return z
