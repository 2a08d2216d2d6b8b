"""A zone's curve while its clock runs: every look that was written down draws it anew."""

from collections.abc import Mapping

from estimator.lifting.clock import Kind, LiftClock, elapsed_minutes
from estimator.lifting.curve import LiftCurve, fit_curve
from estimator.lifting.strand import Strand, StrandPoint, point_by_eye, point_of_reading
from estimator.reading.zone_reading import ZoneReading
from estimator.scale.level import LevelScale


def points_on_clock(
    clock: LiftClock, zone: str, readings: Mapping[str, ZoneReading], scale: LevelScale | None = None
) -> tuple[StrandPoint, ...]:
    """What the looks of a zone's latest run saw.

    readings : Of photographs taken at checks, by their SHA-256. A check without a reading counts by its eye.
    """
    run = clock.run_of(zone)
    points = []
    for place, event in enumerate(run):
        if event.kind is not Kind.CHECK:
            continue
        minutes = elapsed_minutes(run[: place + 1], event.at)
        reading = readings.get(event.photo_sha256)
        if reading is not None:
            points.append(point_of_reading(minutes, reading))
        elif event.level is not None:
            points.append(point_by_eye(minutes, event.level, scale))
    return tuple(points)


def curve_on_clock(
    clock: LiftClock, zone: str, strand: Strand, readings: Mapping[str, ZoneReading], scale: LevelScale | None = None
) -> LiftCurve:
    """The zone's curve with all that was seen so far; its usual one before the first look."""
    return fit_curve(strand, points_on_clock(clock, zone, readings, scale), scale)
