"""Which events of a clock belong to which visit: those of the runs that were started for it."""

from collections.abc import Collection
from dataclasses import dataclass, replace

from estimator.lifting.clock import LiftClock
from estimator.lifting.clock_events import Event, Kind
from estimator.lifting.clock_time import elapsed_minutes


@dataclass(frozen=True)
class TimedEvent:
    """One event, and the minutes of its run by then, by both clocks the longer."""

    event: Event
    minutes: float


def events_of(clock: LiftClock, visit: str) -> tuple[TimedEvent, ...]:
    """The events of every run that was started for this visit, in their order; none for the mark ""."""
    if not visit:
        return ()
    own = [run for run in runs(clock) if run[0].visit == visit]
    timed = [TimedEvent(run[n], elapsed_minutes(run[: n + 1], run[n].at)) for run in own for n in range(len(run))]
    return tuple(sorted(timed, key=lambda each: each.event.sequence))


def runs(clock: LiftClock) -> tuple[tuple[Event, ...], ...]:
    """Every run of every zone: its start and all that was written down of it until the next start."""
    found: dict[str, list[Event]] = {}
    done: list[tuple[Event, ...]] = []
    for event in clock.events:
        if event.kind is Kind.START and event.zone in found:
            done.append(tuple(found.pop(event.zone)))
        found.setdefault(event.zone, []).append(event)
    return (*done, *map(tuple, found.values()))


def without_visits(clock: LiftClock, visits: Collection[str], ids: Collection[str]) -> LiftClock:
    """The clock without the runs of these visits, and those that hold one of these events.

    A run that is not rinsed goes on, since somebody may stand beside it: it keeps its times alone.
    """
    gone = [run for run in runs(clock) if run[0].visit in visits or any(event.id in ids for event in run)]
    ended = {event.id for run in gone if run[-1].kind is Kind.RINSE for event in run}
    going = {event.id for run in gone if run[-1].kind is not Kind.RINSE for event in run}
    kept = [_bare(event) if event.id in going else event for event in clock.events if event.id not in ended]
    return LiftClock(tuple(replace(event, sequence=number) for number, event in enumerate(kept, 1)))


def _bare(event: Event) -> Event:
    return replace(event, visit="", photo_sha256="", note="", who="")
