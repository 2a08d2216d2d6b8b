"""The words of a lift: visits, mixes, minutes, lines, the running clock. Every number is rounded by `wording`."""

from collections.abc import Mapping
from typing import Any

from estimator.care.dates import Reminder
from estimator.lifting.clock_now import ZoneClock
from estimator.lifting.curve import Reach
from estimator.lifting.demarcation import Line, Place
from estimator.lifting.laying import Laid
from estimator.lifting.lift_plan import ZoneLift
from estimator.lifting.lift_rules import Visits
from estimator.lifting.lightener_bowl import LightenerMix
from estimator.lifting.stopping import NOT_SEEN, Forecast
from estimator.reports.wording import (
    date_text,
    developer_text,
    grams_text,
    interval_text,
    list_text,
    number_text,
    odds_text,
    plain_text,
    share_text,
)

# --- the plan


def visits_text(visits: Visits | None) -> str:
    """How many visits: "in this visit", "2 visits", "1 to 2 visits"; "no number of visits is known to get so far"."""
    if visits is None:
        return "no number of visits is known to get so far"
    if visits.fewest == visits.most:
        return "in this visit" if visits.most == 1 else f"{visits.most} visits"
    return f"{visits.fewest} to {visits.most} visits"


def reachable_text(lift: ZoneLift) -> str:
    """Whether the base is reached today, in one line."""
    if not lift.needs_lift and not lift.reasons:
        return "light enough: no lift"
    if lift.visits is None:
        return "out of reach"
    base = f"level {plain_text(lift.base_level)}"
    if lift.reachable_today and lift.visits.most == 1:
        return f"{base} likely in this visit"
    because = f" ({list_text(lift.visits.because)})" if lift.visits.because else ""
    visits = visits_text(lift.visits).removeprefix("in ")
    return f"{base} in {visits}{because}; today level {plain_text(lift.level_today)}"


def mix_lines(mix: LightenerMix) -> tuple[tuple[str, str], ...]:
    """What is weighed, and how much: powder, developer, additive."""
    lines = [
        ("Lightener powder", grams_text(mix.powder_grams)),
        (developer_text(mix.developer), grams_text(mix.developer_grams)),
    ]
    if mix.additive_grams > 0:
        lines.append(("Bond-protecting additive, weighed in", grams_text(mix.additive_grams)))
    return tuple(lines)


def most_minutes_text(minutes: float) -> str:
    """The outer limit: "35 minutes at most"."""
    return f"{number_text(minutes, 0)} minutes at most"


# --- the curve


def minutes_interval_text(middle: float | None, low: float | None, high: float | None) -> str:
    """Minutes with their interval; open upwards where the end lies beyond four hours: "32 (24 or later)"."""
    if middle is None:
        return "not within four hours" if low is None else f"not before {number_text(low, 0)} minutes, if at all"
    if low is None or high is None:
        return f"{number_text(middle, 0)} minutes ({number_text(low or 0.0, 0)} or later)"
    return f"{interval_text(middle, low, high)} minutes"


def reach_text(reach: Reach) -> str:
    """When a level is reached, and the odds of that in time."""
    minutes = minutes_interval_text(reach.minutes, reach.minutes_low, reach.minutes_high)
    odds = odds_text(reach.odds_in_time)
    return f"level {plain_text(reach.level)}: {minutes}; {odds} within {number_text(reach.limit_minutes, 0)} minutes"


def bonds_text(told: Forecast) -> str:
    """What the lift costs by the time of the rinse: a model with weak grounds, which may only stop early."""
    shown = interval_text(told.bonds_percent, told.bonds_percent_low, told.bonds_percent_high)
    return f"{shown} % of the bonds by then, a rough model that only ever stops early"


def outrun_text(told: Forecast) -> str:
    """From when on waiting harms more than it lifts."""
    if told.outrun is None:
        return "harm does not outrun gain within the hour, as far as the model sees"
    minutes = minutes_interval_text(told.outrun, told.outrun_low, told.outrun_high)
    return f"harm outruns gain from {minutes} on"


# --- lines of demarcation


def place_text(place: Place) -> str:
    """Where a line lies: "34 mm from the root (29 to 40)", or its share of the length where there is no scale."""
    if place.mm is None:
        return f"at {share_text(place.share[1])} of the length"
    low, middle, high = place.mm
    shown = interval_text(middle, low, high, 0)
    value, _, rest = shown.partition(" ")
    return f"{value} mm from the root {rest}"


def line_text(line: Line) -> str:
    """One line: what it is, where, and how large its step."""
    until = f" to {place_text(line.until)}" if line.until is not None else ""
    step = ""
    if line.step_levels is not None:
        side = "lighter" if line.step_levels > 0 else "darker"
        step = f", {number_text(abs(line.step_levels), 1)} levels {side}"
    seen = "" if line.seen else ", expected from its age and not seen"
    return f"{line.kind} {place_text(line.place)}{until}{step}{seen}"


def laid_text(laid: Laid) -> str:
    """Where along the length the mix goes."""
    if laid.whole:
        return "root to end"
    if laid.from_share == 0:
        return f"from the root to {share_text(laid.to_share)} of the length, up to the line and not over it"
    return f"from {share_text(laid.from_share)} of the length to the ends, beyond the line"


# --- the clock


def clock_text(minutes: float) -> str:
    """Time on the hair as a clock shows it: "23:05", rounded down to the second."""
    seconds = int(max(minutes, 0.0) * 60 + 1e-6)
    return f"{seconds // 60}:{seconds % 60:02d}"


def next_look_text(zone: ZoneClock) -> str:
    """When to look next: "look in 3 min", "look now"."""
    if zone.next_check_minutes is None:
        return "rinsed"
    left = zone.next_check_minutes - zone.minutes
    return "look now" if left <= 0 else f"look in {clock_text(left)}"


def left_text(zone: ZoneClock) -> str:
    """How long is left to the maximum: "12:30 left of 35 min", "3:10 past the maximum of 35 min"."""
    most = number_text(zone.most_minutes, 0)
    if zone.over_minutes > 0:
        return f"{clock_text(zone.over_minutes)} past the maximum of {most} min"
    return f"{clock_text(zone.most_minutes - zone.minutes)} left of {most} min"


# --- dates


def reminder_when(reminder: Reminder) -> str:
    """The moment of a reminder by the machine's own time zone: "27 November 2026, 10:00"."""
    local = reminder.due.astimezone()
    return f"{date_text(local.date())}, {local:%H:%M}"


# --- events that are kept


_EVENT_WORDS = {
    "start": "lightener on",
    "check": "looked at",
    "limit": "another maximum",
    "settle": "minutes settled by a watch",
    "heard": "alarm heard",
    "rinse": "rinsed",
}


def clock_event_text(kind: str, content: Mapping[str, Any]) -> str:
    """One kept event of the clock: "looked at after 12 minutes: level 7.5, skin: calm"."""
    minutes = content.get("minutes")
    after = f" after {number_text(minutes, 0)} minutes" if minutes is not None and kind != "start" else ""
    told = [text for text in _event_parts(content) if text]
    return f"{_EVENT_WORDS.get(kind, kind)}{after}{': ' if told else ''}{', '.join(told)}"


def _event_parts(content: Mapping[str, Any]) -> list[str]:
    said = [(name, str(content.get(name) or NOT_SEEN[name])) for name in NOT_SEEN]
    figures = (("most_minutes", "at most {} minutes"), ("target_level", "to level {}"), ("level", "level {}"))
    parts = [words.format(plain_text(content[name])) for name, words in figures if content.get(name) is not None]
    if content.get("true_minutes") is not None:
        parts.append(f"{plain_text(content['true_minutes'])} minutes by the watch")
    parts += [f"{name}: {word}" for name, word in said if word != NOT_SEEN[name]]
    return [*parts, str(content.get("who") or ""), str(content.get("note") or "")]
