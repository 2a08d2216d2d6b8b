"""A salon's own level scale, from readings of its swatch ring."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from calibration.findings import Finding, Severity, Verdict
from calibration.photo import FloatArray
from estimator.errors import BadInputError
from estimator.reading.zone_reading import NINE_IN_TEN, ZoneReading
from estimator.scale.level import LevelScale, default_scale
from estimator.scale.rising import rising_fit

FEWEST_SWATCHES = 3
LEAST_STEP = 0.5  # L* per level: what two neighbouring levels differ by at least, so that a scale can be read back.
# Two swatches of one level differ by so much from head to head and maker to maker. Counts like so many swatches
# until the ring shows its own scatter. Our assumption. [L*]
SWATCH_SD = 1.5
SWATCH_SD_COUNTS_AS = 4
# Away from the ring its offset from the default scale fades with this distance, and the row is less sure by so much
# for each level. Our assumption: no two rings were at hand. [levels], [L* per level]
OFFSET_FADES_OVER = 2.0
SD_PER_LEVEL_AWAY = 2.0
ON_THE_RING = "salon swatch ring"
OFF_THE_RING = "our assumption"
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True)
class Swatch:
    """One swatch of the ring as it was read.

    level : As the ring states it. 1-10, halves and tenths allowed.
    lightness, lightness_sd : CIE L*, D65, 2°, as a flat tress would read, and how well it is known. sd > 0
    shared_sd : The part of `lightness_sd` that all swatches of the photograph share; no averaging makes it smaller.
    day : When it was read, as 2026-01-31.
    """

    name: str
    level: float
    lightness: float
    lightness_sd: float
    shared_sd: float
    day: str

    def __post_init__(self) -> None:
        if not default_scale().levels[0] <= self.level <= default_scale().levels[-1]:
            raise BadInputError(f"Swatch {self.name} is stated as level {self.level:g}. State a level from 1 to 10.")
        if not (0 <= self.lightness <= 100 and 0 < self.lightness_sd < math.inf):
            raise BadInputError(f"Swatch {self.name} has no usable reading. Read it again.")
        if not 0 <= self.shared_sd <= self.lightness_sd:
            raise ValueError(f"Swatch {self.name}: the shared part of its uncertainty is larger than the whole.")
        if not _DAY.fullmatch(self.day):
            raise BadInputError(f"Swatch {self.name} was read on {self.day!r}. Write the day as 2026-01-31.")

    @property
    def own_sd(self) -> float:
        """The part of `lightness_sd` that is this swatch's own. [L*]"""
        return math.sqrt(self.lightness_sd**2 - self.shared_sd**2)


@dataclass(frozen=True)
class RingFit:
    """A scale fitted to a ring, and what a person should know of it.

    sources : Of each row of the scale: on the ring or off it.
    swatch_sd : How far swatches scatter about the scale beyond the reading's own uncertainty. [L*]
    findings : Swatches that contradict each other by name, and levels that the ring does not hold.
    """

    scale: LevelScale
    sources: tuple[str, ...]
    swatch_sd: float
    day: str
    findings: tuple[Finding, ...]


def swatch_of_reading(reading: ZoneReading, level: float, day: str) -> Swatch:
    """The swatch that a zone's reading stands for; BadInputError where the photograph can't be relied on."""
    if reading.verdict.verdict is Verdict.RETAKE or not reading.verified:
        raise BadInputError(
            f"Swatch {reading.zone} was read from a photograph that no card stands behind, or that must be taken "
            "again. A scale needs a usable photograph: lay the card beside the ring and take a new one."
        )
    total, shared = float(reading.covariance[0, 0]), float(reading.shared_covariance[0, 0])
    shared_sd = math.sqrt(min(max(shared, 0.0), total))
    return Swatch(reading.zone, level, float(reading.lab_d65[0]), math.sqrt(total), shared_sd, day)


def swatch_of_colour(name: str, level: float, lab_d65: FloatArray, covariance: FloatArray, day: str) -> Swatch:
    """The swatch of a measured colour, such as an instrument's; its uncertainty counts as its own alone."""
    return Swatch(name, level, float(lab_d65[0]), math.sqrt(float(covariance[0, 0])), 0.0, day)


def fit_ring(readings: tuple[ZoneReading, ...], levels: Mapping[str, float], name: str, day: str) -> RingFit:
    """The scale of a photographed ring: `levels` states the level of each zone. Raises BadInputError."""
    zones = [reading.zone for reading in readings]
    without, unknown = sorted(set(zones) - set(levels)), sorted(set(levels) - set(zones))
    if unknown:
        raise BadInputError(f"There is no swatch {unknown[0]!r}. The swatches are: {', '.join(zones)}.")
    if without:
        raise BadInputError(f"No level is stated for {', '.join(without)}. State one for each swatch.")
    return fit_scale(tuple(swatch_of_reading(reading, levels[reading.zone], day) for reading in readings), name)


def fit_scale(swatches: tuple[Swatch, ...], name: str) -> RingFit:
    """The rising scale nearest to these swatches, with how well each row is known. Raises BadInputError.

    Rows are every level of the default scale and every level on the ring. Swatches of one level are averaged. Where
    the ring holds no level, its offset from the default scale is carried over, fading and growing unsure.
    """
    levels = np.array(sorted({swatch.level for swatch in swatches}))
    if len(swatches) < FEWEST_SWATCHES or len(levels) < 2:
        raise BadInputError(
            f"The ring has {len(swatches)} swatches of {len(levels)} levels; {FEWEST_SWATCHES} swatches of two levels "
            "are the least for a scale. Add swatches, best from your darkest level to your lightest."
        )
    swatch_sd, lightness, sd = _ring_rows(swatches, levels)
    scale = _whole_scale(name, levels, lightness, sd)
    sources = tuple(ON_THE_RING if level in levels else OFF_THE_RING for level in scale.levels)
    day = max(swatch.day for swatch in swatches)
    findings = (*contradictions(swatches), *_not_on_the_ring(scale.levels, levels))
    return RingFit(scale, sources, swatch_sd, day, findings)


def contradictions(swatches: tuple[Swatch, ...]) -> tuple[Finding, ...]:
    """One finding for each pair whose lighter level reads darker by more than its nine-in-ten interval, by name."""
    ordered = sorted(swatches, key=lambda swatch: (swatch.level, swatch.name))
    return tuple(
        Finding("ring_contradicts", Severity.CARE, _contradiction(low, high), _REMEDY, high.name)
        for low, high in combinations(ordered, 2)
        if low.level < high.level
        and low.lightness - high.lightness > NINE_IN_TEN * math.hypot(low.lightness_sd, high.lightness_sd)
    )


_REMEDY = "Check that the two are not swapped and that their levels are right, then read the ring again."


def _contradiction(low: Swatch, high: Swatch) -> str:
    return (
        f"{high.name} is stated as level {high.level:g} but reads darker than {low.name}, level {low.level:g}: "
        f"L* {high.lightness:.1f} against {low.lightness:.1f}."
    )


def _ring_rows(swatches: tuple[Swatch, ...], levels: FloatArray) -> tuple[float, FloatArray, FloatArray]:
    """Scatter of swatches, and lightness and its sd at each level of the ring."""
    row = np.searchsorted(levels, [swatch.level for swatch in swatches])
    seen = np.array([swatch.lightness for swatch in swatches])
    own_variance = np.array([swatch.own_sd**2 for swatch in swatches])
    shared_variance = max(swatch.shared_sd**2 for swatch in swatches)
    swatch_variance = SWATCH_SD**2
    # The weights need the scatter and the scatter the fit: a second turn settles it well within what is known of it.
    for _ in range(3):
        weights = 1 / (own_variance + swatch_variance)
        weight: FloatArray = np.bincount(row, weights).astype(np.float64)
        mean = np.bincount(row, weights * seen) / weight
        lightness, blocks = rising_fit(levels, mean, weight, LEAST_STEP)
        free = len(swatches) - blocks
        beyond_reading = np.sum((seen - lightness[row]) ** 2) - free * np.mean(own_variance)
        counted = SWATCH_SD_COUNTS_AS * SWATCH_SD**2 + max(0.0, float(beyond_reading))
        swatch_variance = counted / (SWATCH_SD_COUNTS_AS + free)
    # Where rows had to be moved to rise, how far they moved is part of what is not known.
    sd = np.sqrt(1 / weight + shared_variance + (lightness - mean) ** 2)
    return math.sqrt(swatch_variance), lightness, sd


def _whole_scale(name: str, levels: FloatArray, lightness: FloatArray, sd: FloatArray) -> LevelScale:
    """The ring's rows and, between and beyond them, the default scale moved by the ring's offset."""
    default = default_scale()
    every = np.array(sorted({*default.levels, *levels.tolist()}))
    away = np.min(np.abs(every[:, None] - levels), axis=1)
    on_default = np.interp(every, default.levels, default.lightness)
    offset = np.interp(every, levels, lightness - np.interp(levels, default.levels, default.lightness))
    outside = (every < levels[0]) | (every > levels[-1])
    column = on_default + offset * np.where(outside, np.exp(-away / OFFSET_FADES_OVER), 1.0)
    weight: FloatArray = np.where(away == 0, 1e9, 1.0).astype(
        np.float64
    )  # the ring's own rows stay; only the others give way to keep rising
    column, _ = rising_fit(every, column, weight, LEAST_STEP / 2)
    row_sd = np.hypot(np.interp(every, levels, sd), SD_PER_LEVEL_AWAY * away)
    return LevelScale(name, *(tuple(float(value) for value in part) for part in (every, column, row_sd)))


def _not_on_the_ring(every: tuple[float, ...], levels: FloatArray) -> tuple[Finding, ...]:
    missing = [f"{level:g}" for level in every if level not in levels]
    if not missing:
        return ()
    message = f"The ring holds no swatch of level {', '.join(missing)}: there the scale leans on the default one."
    remedy = "Add swatches of these levels; until then intervals there are wider."
    return (Finding("ring_is_partial", Severity.NOTE, message, remedy, "ring"),)
