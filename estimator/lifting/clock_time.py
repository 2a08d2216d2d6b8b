"""Minutes of a run, by two clocks: the one on the wall and one that can't be set. The longer time counts.

So a wrong wall clock can ring too early, and never too late.
"""

from datetime import timedelta
from itertools import pairwise

from estimator.lifting.clock_events import Event, Instant, Kind

DISAGREE_MINUTES = 2.0  # between the two clocks: less is drift and rounding


def elapsed_minutes(run: tuple[Event, ...], now: Instant) -> float:
    """Minutes that a run has lasted: by both clocks the longer, from the last settling on where there is one."""
    settled = [event for event in run if event.kind is Kind.SETTLE and event.true_minutes is not None]
    if not settled:
        return max(_wall_minutes(run[0].at, now), proven_minutes(run, now))
    last = settled[-1]
    after = tuple(event for event in run if event.sequence >= last.sequence)
    return (last.true_minutes or 0.0) + max(_wall_minutes(last.at, now), proven_minutes(after, now))


def proven_minutes(run: tuple[Event, ...], now: Instant) -> float:
    """What has passed at least since the start, by the clock that can't be set; stretches between restarts add up."""
    moments = [*(event.at for event in run), now]
    proven, first = 0.0, moments[0]
    for before, after in pairwise(moments):
        if after.boot != first.boot:
            proven += _counted_minutes(first, before) or 0.0
            first = after
    return proven + (_counted_minutes(first, now) or 0.0)


def clocks_disagree(run: tuple[Event, ...], now: Instant) -> bool:
    """Whether the two clocks differ by more than drift since the start, or since the last settling."""
    settled = [event.at for event in run if event.kind is Kind.SETTLE]
    start = settled[-1] if settled else run[0].at
    wall = _wall_minutes(start, now)
    counted = _counted_minutes(start, now)
    return wall < -DISAGREE_MINUTES or (counted is not None and abs(wall - counted) > DISAGREE_MINUTES)


def _wall_minutes(start: Instant, now: Instant) -> float:
    return (now.wall - start.wall) / timedelta(minutes=1)


def _counted_minutes(start: Instant, now: Instant) -> float | None:
    if start.boot != now.boot or now.uptime_seconds < start.uptime_seconds:
        return None
    return (now.uptime_seconds - start.uptime_seconds) / 60
