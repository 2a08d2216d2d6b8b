"""The strand test: photos of one strand at known minutes become a curve, a date with the target, and a time to stop."""

from dataclasses import dataclass

from estimator.errors import BadInputError
from estimator.lifting.curve import LiftCurve, Reach, fit_curve
from estimator.lifting.stopping import Forecast, Signs, StopCall, forecast
from estimator.lifting.strand import Strand, StrandPoint, point_of_reading
from estimator.reading.zone_reading import ZoneReading
from estimator.scale.level import LevelScale

CAN, CANNOT = 0.9, 0.1
SLOW_ODDS = 0.5


@dataclass(frozen=True, eq=False)
class StrandPhoto:
    """One photograph of the strand, read, and the minute at which it was taken."""

    minutes: float
    reading: ZoneReading


@dataclass(frozen=True, eq=False)
class StrandTest:
    """What the strand says.

    result : In the words of the consultation: "passed", "too_slow", "damaged"; "none" where nothing was seen yet.
    can : Whether the target can be reached in time, in one sentence.
    stops : Signs on the strand that forbid the lift.
    """

    curve: LiftCurve
    reach: Reach
    forecast: Forecast
    stops: tuple[StopCall, ...]
    result: str
    can: str


def judge_strand(
    strand: Strand,
    seen: tuple[StrandPhoto | StrandPoint, ...],
    target_level: float,
    signs: Signs | None = None,
    scale: LevelScale | None = None,
) -> StrandTest:
    """The curve of one strand and what follows from it.

    seen : Photos with their minutes, and levels said by eye. With fewer than two minutes the curve is the usual one for
        such hair, and says so.
    signs : Stretch and heat of the strand afterwards; skin does not come into it.

    Raises
    ------
    BadInputError : Two photos of the same minute, a minute or a level that can't be.
    """
    if not 1 <= target_level <= 10:
        raise BadInputError(f"The target is level {target_level:g}; levels go from 1 to 10.")
    points = tuple(
        point_of_reading(look.minutes, look.reading) if isinstance(look, StrandPhoto) else look for look in seen
    )
    photographed = [point.minutes for point in points if not point.by_eye]
    if len(set(photographed)) < len(photographed):
        raise BadInputError("Two photos of the strand have the same minute. Correct one, or read the two together.")
    curve = fit_curve(strand, points, scale)
    reach = curve.reach(target_level)
    stops = (signs or Signs()).stops
    return StrandTest(curve, reach, forecast(curve, target_level), stops, _result(curve, reach, stops), _can(reach))


def _result(curve: LiftCurve, reach: Reach, stops: tuple[StopCall, ...]) -> str:
    if any(call.code == "hair-gummy" for call in stops):
        return "damaged"
    if curve.prior_alone:
        return "none"
    return "passed" if reach.odds_in_time >= SLOW_ODDS else "too_slow"


def _can(reach: Reach) -> str:
    limit, level, odds = f"{reach.limit_minutes:.0f}", f"{reach.level:.1f}", reach.odds_in_time
    if odds >= CAN:
        return f"Level {level} is within reach in {limit} minutes."
    if odds <= CANNOT:
        return f"Level {level} is out of reach in {limit} minutes. Aim lower, or plan more visits."
    return f"Level {level} may be reached in {limit} minutes, and may not."
