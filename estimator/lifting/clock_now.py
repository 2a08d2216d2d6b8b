"""What a clock says at this moment: minutes, the next look, calls to rinse, and an alarm that must be heard."""

from dataclasses import dataclass

from estimator.lifting.clock import LiftClock
from estimator.lifting.clock_events import Event, Instant, Kind
from estimator.lifting.clock_fits import most_minutes_of
from estimator.lifting.clock_time import clocks_disagree, elapsed_minutes
from estimator.lifting.figures import figure
from estimator.lifting.stopping import StopCall

NEAR_LEVELS = 1.0  # within this of the target, looks come closer together


@dataclass(frozen=True)
class ZoneClock:
    """What the clock says of one zone.

    state : "running" or "rinsed". minutes : Since the start; until the rinse once it is rinsed.
    next_check_minutes : When to look next, on the same count; None once rinsed. check_due : It is time, or past it.
    calls : Reasons to rinse now, the gravest first. They stand until the rinse is written down.
    over_minutes : How far the maximum was passed; 0 where it was not. Stays in the record after the rinse.
    alarm : The maximum is passed and nobody has said to have heard it, or not lately; only a name quiets it, for a
        while. heard_by : Who heard it last; "" for nobody.
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
    alarm: bool
    heard_by: str
    passes: int
    last_level: float | None
    target_level: float | None
    clocks_disagree: bool

    @property
    def running(self) -> bool:
        return self.state == "running"


def read_clock(clock: LiftClock, now: Instant) -> tuple[ZoneClock, ...]:
    """Every zone that was started, those with a call first, then the one to look at soonest."""
    zones = [_zone_clock(clock, zone, now) for zone in clock.zones]
    return tuple(sorted(zones, key=lambda zone: (not zone.running, not zone.calls, _minutes_to_look(zone))))


def _minutes_to_look(zone: ZoneClock) -> float:
    return (zone.next_check_minutes or 0.0) - zone.minutes


def _zone_clock(clock: LiftClock, zone: str, now: Instant) -> ZoneClock:
    run = clock.run_of(zone)
    rinsed = run[-1].kind is Kind.RINSE
    minutes = elapsed_minutes(run[:-1] if rinsed else run, run[-1].at if rinsed else now)
    most = most_minutes_of(run)
    looks = [event for event in run if event.kind is Kind.CHECK]
    level = next((event.level for event in reversed(looks) if event.level is not None), None)
    target = run[0].target_level
    look_at = min(_last_look_minutes(run) + _check_minutes(run[0], level, target), most)
    heard = next((event for event in reversed(run) if event.kind is Kind.HEARD), None)
    return ZoneClock(
        zone=zone,
        state="rinsed" if rinsed else "running",
        minutes=minutes,
        most_minutes=most,
        next_check_minutes=None if rinsed else look_at,
        check_due=not rinsed and minutes >= look_at,
        calls=() if rinsed else _calls(run, minutes, most, level),
        over_minutes=max(minutes - most, 0.0),
        alarm=not rinsed and minutes >= most and not _heard_lately(run, heard, minutes),
        heard_by=heard.who if heard is not None else "",
        passes=clock.passes(zone),
        last_level=level,
        target_level=target,
        clocks_disagree=not rinsed and clocks_disagree(run, now),
    )


def _heard_lately(run: tuple[Event, ...], heard: Event | None, minutes: float) -> bool:
    if heard is None:
        return False
    at = elapsed_minutes(tuple(event for event in run if event.sequence <= heard.sequence), heard.at)
    return minutes - at < figure("alarm_again_minutes")


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
        calls.append(_maximum_passed(minutes, most))
    target = run[0].target_level
    if level is not None and target is not None and level >= target:
        message = f"Level {level:.1f} is seen; {target:.1f} was the aim."
        calls.append(StopCall("target-reached", message, "Rinse this zone now.", "common practice"))
    return tuple(calls)


def _maximum_passed(minutes: float, most: float) -> StopCall:
    past = int(minutes - most)
    over = f"{past} minute{'s' * (past > 1)} past its" if past else "at its"
    return StopCall(
        "maximum-passed",
        f"This zone is {over} maximum of {most:.0f} minutes.",
        "Rinse now. What is missing waits for another visit.",
        "common practice",
    )
