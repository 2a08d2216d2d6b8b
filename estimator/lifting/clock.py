"""The clock of a lift: many zones, one record of dated events, in the order in which they were written down.

The state is what the events say, never what a page remembers. Time passes by two clocks, the one on the wall and one
that can't be set, and the longer time counts: a wrong wall clock can ring too early, and never too late.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from math import isfinite
from typing import TypedDict, Unpack
from uuid import uuid4

from estimator.errors import BadInputError
from estimator.lifting.figures import figure
from estimator.lifting.stopping import NOT_SEEN, Signs, StopCall

MOST_EVENTS = 2000
LONGEST_NAME, LONGEST_NOTE = 80, 400
DISAGREE_MINUTES = 2.0  # between the two clocks: less is drift and rounding
NEAR_LEVELS = 1.0  # within this of the target, looks come closer together


class ClockRefusedError(BadInputError):
    """An event does not fit what the record says; the message says what happened and what to do."""


class Kind(StrEnum):
    """What can happen to a zone. There is no pause: lightener does not pause."""

    START = "start"
    CHECK = "check"
    LIMIT = "limit"
    SETTLE = "settle"
    RINSE = "rinse"


@dataclass(frozen=True)
class Instant:
    """One moment by both clocks.

    wall : Time of day, in UTC. uptime_seconds : Counted since `boot`, can't be set; where the system allows, it also
        counts while the machine sleeps. boot : Which run of the machine it counts from.
    """

    wall: datetime
    uptime_seconds: float
    boot: str

    def __post_init__(self) -> None:
        if self.wall.tzinfo is None or not isfinite(self.uptime_seconds):
            raise ValueError("An instant needs a wall time with its zone, and a finite count of seconds.")


@dataclass(frozen=True)
class Event:
    """One thing that happened. `sequence` orders events; the times do not.

    id : Made once for each press of a button, so that a press sent twice counts once.
    most_minutes, check_minutes, target_level : Of a start; most_minutes of a new limit too.
    level : Seen at a check. photo_sha256 : The photograph of that check; "" without one.
    true_minutes : Of a settling: what a watch says has passed since the start.
    who, note : A longer limit and a settling need both.
    """

    sequence: int
    id: str
    kind: Kind
    zone: str
    at: Instant
    most_minutes: float | None = None
    check_minutes: float | None = None
    target_level: float | None = None
    level: float | None = None
    photo_sha256: str = ""
    skin: str = NOT_SEEN["skin"]
    stretch: str = NOT_SEEN["stretch"]
    heat: str = NOT_SEEN["heat"]
    true_minutes: float | None = None
    who: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if not 1 <= len(self.zone.strip()) <= LONGEST_NAME or not 1 <= len(self.id) <= LONGEST_NAME:
            raise BadInputError(
                f"An event needs the name of a zone and its own mark, each up to {LONGEST_NAME} letters."
            )
        if len(self.who) > LONGEST_NAME or len(self.note) > LONGEST_NOTE or len(self.photo_sha256) > LONGEST_NAME:
            raise BadInputError(f"A name or a note is too long; {LONGEST_NOTE} letters are allowed.")
        _ = self.signs

    @property
    def signs(self) -> Signs:
        """What was felt and asked."""
        return Signs(self.skin, self.stretch, self.heat)


class Said(TypedDict, total=False):
    """What an event may say; as in `Event`."""

    most_minutes: float
    check_minutes: float
    target_level: float | None
    level: float | None
    photo_sha256: str
    skin: str
    stretch: str
    heat: str
    true_minutes: float
    who: str
    note: str


def new_event(kind: Kind, zone: str, at: Instant, **said: Unpack[Said]) -> Event:
    """An event not yet in any record; `with_event` numbers it."""
    return Event(sequence=0, id=uuid4().hex, kind=kind, zone=zone, at=at, **said)


@dataclass(frozen=True)
class LiftClock:
    """All events so far, the oldest first. A new event makes a new clock."""

    events: tuple[Event, ...] = ()

    def __post_init__(self) -> None:
        if [event.sequence for event in self.events] != list(range(1, len(self.events) + 1)):
            raise BadInputError("The clock's record has a gap or is out of order; take the last whole copy of it.")
        if len({event.id for event in self.events}) < len(self.events):
            raise BadInputError("The clock's record holds one event twice; take the last whole copy of it.")

    @property
    def sequence(self) -> int:
        """Of the last event; 0 before the first. A page sends it along to say what it has seen."""
        return len(self.events)

    @property
    def zones(self) -> tuple[str, ...]:
        """Zones that were started, in that order."""
        return tuple(dict.fromkeys(event.zone for event in self.events))

    def run_of(self, zone: str) -> tuple[Event, ...]:
        """The events of a zone's latest run, from its start on; empty where it never ran."""
        own = [event for event in self.events if event.zone == zone]
        starts = [place for place, event in enumerate(own) if event.kind is Kind.START]
        return tuple(own[starts[-1] :]) if starts else ()

    def passes(self, zone: str) -> int:
        """How often lightener went on this zone."""
        return sum(event.kind is Kind.START for event in self.events if event.zone == zone)

    def is_running(self, zone: str) -> bool:
        run = self.run_of(zone)
        return bool(run) and run[-1].kind is not Kind.RINSE

    def with_event(self, event: Event, seen_sequence: int | None = None) -> "LiftClock":
        """The clock after this event, numbered as the next one; the same clock for an event that it holds already.

        seen_sequence : What the page that sends it had seen; None for one that just read the record. A rinse is always
            accepted while the zone runs; anything else must not rest on an old view of its zone.
        Raises ClockRefusedError, saying what happened meanwhile.
        """
        if any(event.id == known.id for known in self.events):
            return self
        if self.sequence >= MOST_EVENTS:
            raise ClockRefusedError(f"The clock holds {MOST_EVENTS} events. Start a new record.")
        if seen_sequence is not None and event.kind is not Kind.RINSE:
            self._refuse_old_view(event, seen_sequence)
        _REFUSE[event.kind](self, event)
        return LiftClock((*self.events, replace(event, sequence=self.sequence + 1)))

    def _refuse_old_view(self, event: Event, seen_sequence: int) -> None:
        newer = [known for known in self.events[max(seen_sequence, 0) :] if known.zone == event.zone]
        # Two looks at the same zone do no harm; a start, a limit or a rinse in between changes what a look means.
        grave = [known for known in newer if known.kind is not Kind.CHECK or event.kind is not Kind.CHECK]
        if grave:
            did = _DID[grave[-1].kind]
            raise ClockRefusedError(
                f"On another page {event.zone} {did} meanwhile. Look at the clock again, then decide."
            )


_DID = {
    Kind.START: "was started",
    Kind.CHECK: "was checked",
    Kind.LIMIT: "got a new maximum",
    Kind.SETTLE: "had its minutes settled",
    Kind.RINSE: "was rinsed",
}


# --- what fits


def _refuse_start(clock: LiftClock, event: Event) -> None:
    if clock.is_running(event.zone):
        raise ClockRefusedError(f"The clock of {event.zone} runs already. Rinse it before it is started again.")
    _check_limit(event.most_minutes)
    if event.check_minutes is None or not 1 <= event.check_minutes <= 15:
        raise ClockRefusedError("Say how often to look: every 1 to 15 minutes.")
    _check_level(event.target_level)


def _refuse_check(clock: LiftClock, event: Event) -> None:
    _must_run(clock, event)
    _check_level(event.level)


def _refuse_limit(clock: LiftClock, event: Event) -> None:
    _must_run(clock, event)
    _check_limit(event.most_minutes)
    if event.most_minutes is not None and event.most_minutes > _most_minutes(clock.run_of(event.zone)):
        _must_be_signed(event, "A longer maximum")


def _refuse_settle(clock: LiftClock, event: Event) -> None:
    _must_run(clock, event)
    _must_be_signed(event, "Minutes set by a watch")
    if event.true_minutes is None or not 0 <= event.true_minutes <= 240:
        raise ClockRefusedError("Say how many minutes have passed since the start: 0 to 240.")
    proven = _proven_minutes(clock.run_of(event.zone), event.at)
    if event.true_minutes < proven - DISAGREE_MINUTES:
        raise ClockRefusedError(
            f"At least {proven:.0f} minutes have passed on {event.zone}: that clock can't be set. "
            "A time on hair is never made shorter."
        )


def _refuse_rinse(clock: LiftClock, event: Event) -> None:
    _must_run(clock, event)


_REFUSE = {
    Kind.START: _refuse_start,
    Kind.CHECK: _refuse_check,
    Kind.LIMIT: _refuse_limit,
    Kind.SETTLE: _refuse_settle,
    Kind.RINSE: _refuse_rinse,
}


def _must_run(clock: LiftClock, event: Event) -> None:
    run = clock.run_of(event.zone)
    if not run:
        raise ClockRefusedError(f"The clock of {event.zone} was never started.")
    if run[-1].kind is Kind.RINSE:
        raise ClockRefusedError(f"{event.zone} is rinsed already; its clock stands.")


def _must_be_signed(event: Event, what: str) -> None:
    if not (event.who.strip() and event.note.strip()):
        raise ClockRefusedError(f"{what} needs a name and a reason; write both down.")


def _check_limit(minutes: float | None) -> None:
    outer = figure("outer_minutes")
    if minutes is None or not 1 <= minutes <= outer:
        given = "none" if minutes is None else f"{minutes:g}"
        raise ClockRefusedError(
            f"The maximum is {given} minutes; 1 to {outer:g} are allowed. Lightener stays no longer."
        )


def _check_level(level: float | None) -> None:
    if level is not None and not 1 <= level <= 10:
        raise ClockRefusedError(f"Level {level:g} was given; levels go from 1 to 10.")


# --- time


def _wall_minutes(start: Instant, now: Instant) -> float:
    return (now.wall - start.wall) / timedelta(minutes=1)


def _counted_minutes(start: Instant, now: Instant) -> float | None:
    if start.boot != now.boot or now.uptime_seconds < start.uptime_seconds:
        return None
    return (now.uptime_seconds - start.uptime_seconds) / 60


def _proven_minutes(run: tuple[Event, ...], now: Instant) -> float:
    """What has passed at least since the start, by the clock that can't be set; stretches between restarts add up."""
    moments = [*(event.at for event in run), now]
    proven, first = 0.0, moments[0]
    for before, after in pairwise(moments):
        if after.boot != first.boot:
            proven += _counted_minutes(first, before) or 0.0
            first = after
    return proven + (_counted_minutes(first, now) or 0.0)


def elapsed_minutes(run: tuple[Event, ...], now: Instant) -> float:
    """Minutes that a run has lasted: by both clocks the longer, from the last settling on where there is one."""
    settled = [event for event in run if event.kind is Kind.SETTLE and event.true_minutes is not None]
    if not settled:
        return max(_wall_minutes(run[0].at, now), _proven_minutes(run, now))
    last = settled[-1]
    after = tuple(event for event in run if event.sequence >= last.sequence)
    return (last.true_minutes or 0.0) + max(_wall_minutes(last.at, now), _proven_minutes(after, now))


def _clocks_disagree(run: tuple[Event, ...], now: Instant) -> bool:
    settled = [event.at for event in run if event.kind is Kind.SETTLE]
    start = settled[-1] if settled else run[0].at
    wall = _wall_minutes(start, now)
    counted = _counted_minutes(start, now)
    return wall < -DISAGREE_MINUTES or (counted is not None and abs(wall - counted) > DISAGREE_MINUTES)


def _most_minutes(run: tuple[Event, ...]) -> float:
    limits = [event.most_minutes for event in run if event.most_minutes is not None]
    return min(limits[-1], figure("outer_minutes"))


# --- what it says now


@dataclass(frozen=True)
class ZoneClock:
    """What the clock says of one zone.

    state : "running" or "rinsed". minutes : Since the start; until the rinse once it is rinsed.
    next_check_minutes : When to look next, on the same count; None once rinsed. check_due : It is time, or past it.
    calls : Reasons to rinse now, the gravest first. They stand until the rinse is written down.
    over_minutes : How far the maximum was passed; 0 where it was not. Stays in the record after the rinse.
    clocks_disagree : Count by a watch, and settle it.
    """

    zone: str
    state: str
    minutes: float
    most_minutes: float
    next_check_minutes: float | None
    check_due: bool
    calls: tuple[StopCall, ...]
    over_minutes: float
    passes: int
    last_level: float | None
    target_level: float | None
    clocks_disagree: bool


def read_clock(clock: LiftClock, now: Instant) -> tuple[ZoneClock, ...]:
    """Every zone that was started, those with a call first, then the one to look at soonest."""
    zones = [_zone_clock(clock, zone, now) for zone in clock.zones]
    return tuple(sorted(zones, key=lambda zone: (zone.state == "rinsed", not zone.calls, _minutes_to_look(zone))))


def _minutes_to_look(zone: ZoneClock) -> float:
    return (zone.next_check_minutes or 0.0) - zone.minutes


def _zone_clock(clock: LiftClock, zone: str, now: Instant) -> ZoneClock:
    run = clock.run_of(zone)
    rinsed = run[-1].kind is Kind.RINSE
    minutes = elapsed_minutes(run[:-1] if rinsed else run, run[-1].at if rinsed else now)
    most = _most_minutes(run)
    looks = [event for event in run if event.kind is Kind.CHECK]
    level = next((event.level for event in reversed(looks) if event.level is not None), None)
    target = run[0].target_level
    look_at = min(_last_look_minutes(run) + _check_minutes(run[0], level, target), most)
    return ZoneClock(
        zone=zone,
        state="rinsed" if rinsed else "running",
        minutes=minutes,
        most_minutes=most,
        next_check_minutes=None if rinsed else look_at,
        check_due=not rinsed and minutes >= look_at,
        calls=() if rinsed else _calls(run, minutes, most, level),
        over_minutes=max(minutes - most, 0.0),
        passes=clock.passes(zone),
        last_level=level,
        target_level=target,
        clocks_disagree=not rinsed and _clocks_disagree(run, now),
    )


def _last_look_minutes(run: tuple[Event, ...]) -> float:
    """When the zone was looked at last, on the count that holds now: a settling takes earlier counts down with it."""
    looks = [place for place, event in enumerate(run) if event.kind is Kind.CHECK]
    if not looks:
        return 0.0
    counted = elapsed_minutes(run[: looks[-1] + 1], run[looks[-1]].at)
    settled = [event.true_minutes for event in run[looks[-1] :] if event.true_minutes is not None]
    return min([counted, *settled])


def _check_minutes(start: Event, level: float | None, target: float | None) -> float:
    every = start.check_minutes if start.check_minutes is not None else figure("check_minutes")
    near = level is not None and target is not None and level >= target - NEAR_LEVELS
    return min(every, figure("near_check_minutes")) if near else every


def _calls(run: tuple[Event, ...], minutes: float, most: float, level: float | None) -> tuple[StopCall, ...]:
    # A sign seen once stands until the rinse: a later look does not take it back.
    calls = list({call.code: call for event in run for call in event.signs.stops}.values())
    if minutes >= most:
        over = f"{minutes - most:.0f} minutes past its" if minutes - most >= 1 else "at its"
        calls.append(
            StopCall(
                "maximum-passed",
                f"This zone is {over} maximum of {most:.0f} minutes.",
                "Rinse now. What is missing waits for another visit.",
                "common practice",
            )
        )
    target = run[0].target_level
    if level is not None and target is not None and level >= target:
        calls.append(
            StopCall(
                "target-reached",
                f"Level {level:.1f} is seen; {target:.1f} was the aim.",
                "Rinse this zone now.",
                "common practice",
            )
        )
    return tuple(calls)
