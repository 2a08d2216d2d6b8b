"""Which events of a salon's clock belong to a visit, and what is left of them once its client is erased."""

from datetime import UTC, date, datetime, timedelta

import pytest

from estimator.errors import BadInputError
from estimator.lifting.clock import LiftClock
from estimator.lifting.clock_events import Event, Instant, Kind, new_event
from estimator.lifting.clock_store import ClockStore, clock_from_text, clock_text
from estimator.lifting.clock_visits import events_of, without_visits
from estimator.visit.keeping import clock_records

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def at(minutes: float) -> Instant:
    return Instant(NOON + timedelta(minutes=minutes), 1000 + 60 * minutes, "the machine's own name")


def start(zone: str, minute: float, visit: str = "") -> Event:
    return new_event(Kind.START, zone, at(minute), most_minutes=45, check_minutes=5, visit=visit)


def clock_of(*events: Event) -> LiftClock:
    clock = LiftClock()
    for event in events:
        clock = clock.with_event(event)
    return clock


# Two visits at one clock: the nape of one, then the nape of the other once the first is rinsed.
TWO = clock_of(
    start("nape", 0, "green"),
    start("back", 2),
    new_event(Kind.CHECK, "nape", at(10), level=6.0, photo_sha256="f" * 64),
    new_event(Kind.RINSE, "nape", at(20)),
    start("nape", 30, "blue"),
    new_event(Kind.CHECK, "nape", at(37), level=5.0, note="itches"),
)


def test_a_visit_has_the_events_of_its_own_runs_with_their_minutes():
    told = [(each.event.kind.value, each.minutes) for each in events_of(TWO, "green")]
    assert told == [("start", 0), ("check", 10), ("rinse", 20)]
    assert [(each.event.kind.value, each.minutes) for each in events_of(TWO, "blue")] == [("start", 0), ("check", 7)]
    assert events_of(TWO, "red") == events_of(TWO, "") == ()


def test_the_mark_goes_through_the_file_and_older_files_are_read():
    assert clock_from_text(clock_text(TWO)) == TWO
    older = clock_text(clock_of(start("nape", 0))).replace(',\n   "visit": ""', "")
    assert '"visit"' not in older
    assert clock_from_text(older).events[0].visit == ""


def test_a_mark_that_is_no_mark_is_refused():
    with pytest.raises(BadInputError, match="too long"):
        start("nape", 0, "m" * 81)


def test_records_are_found_in_the_running_clock_and_in_those_put_away_since_the_day(tmp_path):
    store = ClockStore(tmp_path / "clock.json")
    for event in TWO.events[:4]:
        store.add(event)
    store.add(new_event(Kind.RINSE, "back", at(21)))
    store.put_away(NOON + timedelta(days=1))
    store.add(start("crown", 60, "green"))
    kept = clock_records(store, "green", NOON.date())
    assert [(each.kind, each.zone) for each in kept] == [
        ("start", "nape"), ("check", "nape"), ("rinse", "nape"), ("start", "crown"),
    ]  # fmt: skip
    assert [each.content["minutes"] for each in kept] == [0, 10, 20, 0]
    assert kept[0].at_utc == NOON
    assert "green" not in repr(kept)
    assert "the machine's own name" not in repr(kept)
    assert [each.zone for each in clock_records(store, "green", date(2026, 3, 9))] == ["crown"]


def test_nothing_of_an_erased_visit_is_left_and_a_zone_under_lightener_goes_on(tmp_path):
    store = ClockStore(tmp_path / "clock.json")
    for event in TWO.events:
        store.add(event)
    green = {each.event.id for each in events_of(TWO, "green")}
    store.change_all(lambda clock: without_visits(clock, (), green))
    left = store.load()
    assert [event.sequence for event in left.events] == [1, 2, 3]
    assert not green & {event.id for event in left.events}
    assert "f" * 64 not in store.path.read_text()
    store.change_all(lambda clock: without_visits(clock, ("blue",), ()))
    assert store.load().is_running("nape")
    assert "blue" not in store.path.read_text()
    assert "itches" not in store.path.read_text()
    assert store.load().run_of("nape")[0].most_minutes == 45
