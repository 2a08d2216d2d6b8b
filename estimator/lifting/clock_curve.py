"""A zone's curve while its clock runs: every look that was written down draws it anew, from the record alone."""

from estimator.lifting.clock import LiftClock
from estimator.lifting.clock_events import Kind, StrandSaid
from estimator.lifting.clock_time import elapsed_minutes
from estimator.lifting.curve import LiftCurve, fit_curve
from estimator.lifting.strand import Strand, StrandPoint, point_by_eye
from estimator.scale.level import LevelScale


def points_on_clock(clock: LiftClock, zone: str, scale: LevelScale | None = None) -> tuple[StrandPoint, ...]:
    """What the looks of a zone's latest run saw: by its photograph where there was one, else by eye."""
    run = clock.run_of(zone)
    points = []
    for place, event in enumerate(run):
        if event.kind is not Kind.CHECK:
            continue
        minutes = elapsed_minutes(run[: place + 1], event.at)
        if event.seen is not None:
            points.append(event.seen.at(minutes))
        elif event.level is not None:
            points.append(point_by_eye(minutes, event.level, scale))
    return tuple(points)


def strand_on_clock(clock: LiftClock, zone: str) -> Strand:
    """The zone's hair and mix, as they were said at its start; a usual strand where nothing was said."""
    run = clock.run_of(zone)
    said = run[0].strand if run else None
    return (said or StrandSaid()).strand


def curve_on_clock(clock: LiftClock, zone: str, scale: LevelScale | None = None) -> LiftCurve:
    """The zone's curve with all that was seen so far; its usual one before the first look."""
    return fit_curve(strand_on_clock(clock, zone), points_on_clock(clock, zone, scale), scale)
