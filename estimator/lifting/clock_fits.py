"""What fits a running zone and what is refused: each kind of event against the run that it would join."""

from estimator.lifting.clock_events import ClockRefusedError, Event, Kind
from estimator.lifting.clock_time import DISAGREE_MINUTES, elapsed_minutes, proven_minutes
from estimator.lifting.figures import figure

Run = tuple[Event, ...]


def refuse_what_does_not_fit(run: Run, event: Event) -> None:
    """Raise ClockRefusedError where this event can't follow the zone's latest run; `run` is empty before any start."""
    _REFUSE[event.kind](run, event)


def most_minutes_of(run: Run) -> float:
    """The maximum that holds now; never beyond the outer limit of lightener."""
    limits = [event.most_minutes for event in run if event.most_minutes is not None]
    return min(limits[-1], figure("outer_minutes"))


def _refuse_start(run: Run, event: Event) -> None:
    if run and run[-1].kind is not Kind.RINSE:
        raise ClockRefusedError(f"The clock of {event.zone} runs already. Rinse it before it is started again.")
    _check_limit(event.most_minutes)
    if event.check_minutes is None or not 1 <= event.check_minutes <= 15:
        raise ClockRefusedError("Say how often to look: every 1 to 15 minutes.")
    _check_level(event.target_level)


def _refuse_check(run: Run, event: Event) -> None:
    _must_run(run, event)
    _check_level(event.level)


def _refuse_limit(run: Run, event: Event) -> None:
    _must_run(run, event)
    _check_limit(event.most_minutes)
    if event.most_minutes is not None and event.most_minutes > most_minutes_of(run):
        _must_be_signed(event, "A longer maximum")


def _refuse_settle(run: Run, event: Event) -> None:
    _must_run(run, event)
    _must_be_signed(event, "Minutes set by a watch")
    if event.true_minutes is None or not 0 <= event.true_minutes <= 240:
        raise ClockRefusedError("Say how many minutes have passed since the start: 0 to 240.")
    proven = proven_minutes(run, event.at)
    if event.true_minutes < proven - DISAGREE_MINUTES:
        raise ClockRefusedError(
            f"At least {proven:.0f} minutes have passed on {event.zone}: that clock can't be set. "
            "A time on hair is never made shorter."
        )


def _refuse_heard(run: Run, event: Event) -> None:
    _must_run(run, event)
    if not event.who.strip():
        raise ClockRefusedError("Say who has heard the alarm: a name or initials.")
    if elapsed_minutes(run, event.at) < most_minutes_of(run):
        raise ClockRefusedError(f"{event.zone} is not past its maximum; there is no alarm to hear.")


def _refuse_rinse(run: Run, event: Event) -> None:
    _must_run(run, event)


_REFUSE = {
    Kind.START: _refuse_start,
    Kind.CHECK: _refuse_check,
    Kind.LIMIT: _refuse_limit,
    Kind.SETTLE: _refuse_settle,
    Kind.HEARD: _refuse_heard,
    Kind.RINSE: _refuse_rinse,
}


def _must_run(run: Run, event: Event) -> None:
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
