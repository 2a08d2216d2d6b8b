"""When a lift must end: signs at a check that end it at once, and the minute at which the curve says that it should."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from calibration.photo import FloatArray
from estimator.errors import BadInputError
from estimator.lifting.curve import HIGH, LOW, MIDDLE, LiftCurve
from estimator.lifting.diffusion import absorbed_share_quickly
from estimator.lifting.figures import figure, figure_sd, lifting_table

NOT_SEEN = {"skin": "not asked", "stretch": "not tried", "heat": "not felt"}
FOUR_HOURS = 240.0


@dataclass(frozen=True)
class StopCall:
    """A reason to rinse. `source`: keys of docs/sources.md or an agreed phrase, separated by "; "."""

    code: str
    message: str
    remedy: str
    source: str


@dataclass(frozen=True)
class Signs:
    """What was felt and asked at a check, in the words of tables/stops.toml. What was not looked at ends nothing."""

    skin: str = NOT_SEEN["skin"]
    stretch: str = NOT_SEEN["stretch"]
    heat: str = NOT_SEEN["heat"]

    def __post_init__(self) -> None:
        for sign, allowed in sign_words().items():
            if getattr(self, sign) not in allowed:
                raise BadInputError(f"{sign} is {getattr(self, sign)!r}; choose one of {', '.join(allowed)}.")

    @property
    def stops(self) -> tuple[StopCall, ...]:
        """Every reason among these signs to rinse at once, the gravest first."""
        return tuple(call for sign, words, call in _stops() if getattr(self, sign) in words)


@cache
def sign_words() -> dict[str, tuple[str, ...]]:
    """The words allowed for each sign."""
    return {row["sign"]: tuple(row["allowed"]) for row in lifting_table("stops")["words"]}


@cache
def _stops() -> tuple[tuple[str, tuple[str, ...], StopCall], ...]:
    return tuple(
        (row["sign"], tuple(row["words"]), StopCall(row["code"], row["message"], row["remedy"], row["source"]))
        for row in lifting_table("stops")["stop"]
    )


@dataclass(frozen=True)
class Forecast:
    """When to rinse, as far as the curve can tell. The eye and the signs come first.

    rinse_minutes : The earliest of all limits below; never beyond the outer limit.
    because : Code of that limit: "target-reached", "harm-outruns-gain", "bonds-spent" or "outer-limit".
    outrun_low, outrun, outrun_high : When harm outruns gain; None where it does not within four hours.
    bonds_percent_low, bonds_percent, bonds_percent_high : Cystine broken by then. A model with weak grounds: it stops
        early, and never promises that hair is sound.
    odds : That the level asked for is reached by `rinse_minutes`. 0-1.
    """

    level: float
    rinse_minutes: float
    because: str
    outrun_low: float | None
    outrun: float | None
    outrun_high: float | None
    bonds_percent_low: float
    bonds_percent: float
    bonds_percent_high: float
    odds: float
    message: str


def forecast(curve: LiftCurve, level: float, limit_minutes: float | None = None) -> Forecast:
    """When to rinse a zone that lifts like this towards `level`."""
    outer = figure("outer_minutes")
    limit = outer if limit_minutes is None else min(limit_minutes, outer)
    arrival, outrun, spent = curve.minutes_to(level), minutes_outrun(curve), minutes_spent(curve)
    # Harm is called at its middle, gain too: an early rinse can be followed by another visit, a late one by nothing.
    limits = {
        "target-reached": float(np.median(arrival)),
        "harm-outruns-gain": float(np.median(outrun)),
        "bonds-spent": float(np.median(spent)),
        "outer-limit": limit,
    }
    because = min(limits, key=lambda code: limits[code])
    rinse = limits[because]
    broken = bonds_percent(curve, np.array([rinse]))[:, 0]
    low, middle, high = np.quantile(broken, (LOW, MIDDLE, HIGH))
    odds = float(np.mean(arrival <= rinse + 1e-9)) if because != "target-reached" else float(np.mean(arrival <= limit))
    early, at, late = _finite(np.quantile(outrun, (LOW, MIDDLE, HIGH), method="nearest"))
    message = _MESSAGES[because].format(level=f"{level:.1f}", minutes=f"{rinse:.0f}")
    return Forecast(level, rinse, because, early, at, late, float(low), float(middle), float(high), odds, message)


_MESSAGES = {
    "target-reached": "Level {level} is likely reached at about {minutes} minutes.",
    "harm-outruns-gain": "From about {minutes} minutes on, waiting harms more than it lifts: rinse, and aim lower.",
    "bonds-spent": "At about {minutes} minutes the strand has paid what a usual lift costs: rinse before it breaks.",
    "outer-limit": "Level {level} is not likely within {minutes} minutes: rinse then, and plan another visit.",
}


def _finite(minutes: FloatArray) -> tuple[float | None, ...]:
    return tuple(float(value) if value <= FOUR_HOURS else None for value in minutes)


def bonds_percent(curve: LiftCurve, minutes: FloatArray) -> FloatArray:
    """Cystine bonds that each curve has broken by these minutes. [%], shape (curves, minutes)."""
    spread, shared = figure_sd("bond_pace"), figure("pace_shared")
    # A strand that lifts more slowly than its kind also breaks more slowly, in part: both wait for diffusion.
    alone = np.sqrt(1 - shared**2) * _own_z(len(curve.pace_z))
    pace = figure("bond_pace") / curve.strand.pace_times * np.exp(spread * (alone - shared * curve.pace_z))
    percent: FloatArray = figure("most_bonds_broken") * absorbed_share_quickly(pace[:, None] * np.atleast_1d(minutes))
    return percent


def minutes_spent(curve: LiftCurve) -> FloatArray:
    """When each curve has broken what usual bleaching breaks at most; infinite past an hour. shape (curves,)."""
    minutes = np.arange(0.0, 61.0)
    over = bonds_percent(curve, minutes) >= figure("usual_bonds_broken")
    spent: FloatArray = np.where(over.any(axis=1), minutes[over.argmax(axis=1)], np.inf)
    return spent


def minutes_outrun(curve: LiftCurve) -> FloatArray:
    """When the next check's gain is no longer worth its harm; infinite where it is for an hour. shape (curves,)."""
    step = figure("check_minutes")
    start = figure("judged_from")
    minutes = np.arange(start, 60.0 + 2 * step, 1.0)
    levels, broken = curve.levels(minutes), bonds_percent(curve, minutes)
    ahead = int(step)
    gain = levels[:, ahead:] - levels[:, :-ahead]
    harm = broken[:, ahead:] - broken[:, :-ahead]
    worse = gain < figure("least_exchange") * harm
    outrun: FloatArray = np.where(worse.any(axis=1), minutes[worse.argmax(axis=1)], np.inf)
    return outrun


@cache
def _own_z(count: int) -> FloatArray:
    z = np.random.default_rng(1976).normal(size=count)
    z.setflags(write=False)
    return z
