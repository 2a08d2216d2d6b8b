"""The clock of a lift: events in order, the longer of two clocks, a maximum that nobody passes unseen."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from threading import Thread

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.errors import BadInputError, OutputError
from estimator.lifting.clock import LiftClock
from estimator.lifting.clock_curve import curve_on_clock, points_on_clock
from estimator.lifting.clock_events import (
    ClockRefusedError,
    Event,
    Instant,
    Kind,
    SeenLightness,
    StrandSaid,
    new_event,
)
from estimator.lifting.clock_now import read_clock
from estimator.lifting.clock_store import ClockStore, clock_from_text, clock_text, instant_now

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def at(minutes: float, wall_off: float = 0.0, slept: float = 0.0, boot: str = "a") -> Instant:
    """So many true minutes after noon. wall_off : The wall clock is set wrong by so many. slept : Minutes in which a
    machine without a sleep-proof counter did not count."""
    return Instant(NOON + timedelta(minutes=minutes + wall_off), 1000 + 60 * (minutes - slept), boot)


def started(
    zone: str = "nape", most: float = 45, every: float = 5, target: float | None = 8.0, when: float = 0
) -> Event:
    return new_event(Kind.START, zone, at(when), most_minutes=most, check_minutes=every, target_level=target)


def clock_of(*events: Event) -> LiftClock:
    clock = LiftClock()
    for event in events:
        clock = clock.with_event(event)
    return clock


def only(clock: LiftClock, now: Instant):
    (zone,) = read_clock(clock, now)
    return zone


# --- a lift that goes well


def test_each_zone_has_its_own_minutes_and_its_own_next_look():
    clock = clock_of(started("nape"), started("back", when=6), new_event(Kind.CHECK, "nape", at(5), level=5.0))
    nape, back = sorted(read_clock(clock, at(8)), key=lambda zone: zone.zone != "nape")
    assert (nape.minutes, back.minutes) == (8, 2)
    assert (nape.next_check_minutes, back.next_check_minutes) == (10, 5)
    assert not nape.check_due
    assert only(clock_of(started()), at(5)).check_due


def test_looks_come_closer_in_the_last_level():
    clock = clock_of(started(), new_event(Kind.CHECK, "nape", at(20), level=7.2))
    assert only(clock, at(20)).next_check_minutes == 23  # every 2 to 3 minutes in the last level: common practice


def test_reaching_the_target_calls_the_rinse():
    clock = clock_of(started(), new_event(Kind.CHECK, "nape", at(25), level=8.0))
    assert [call.code for call in only(clock, at(25)).calls] == ["target-reached"]


def test_a_rinsed_zone_keeps_its_minutes_and_calls_nothing():
    clock = clock_of(started(), new_event(Kind.RINSE, "nape", at(31)))
    zone = only(clock, at(300))
    assert (zone.state, zone.minutes, zone.calls, zone.next_check_minutes) == ("rinsed", 31, (), None)


def test_a_second_start_after_the_rinse_is_a_second_pass():
    clock = clock_of(started(), new_event(Kind.RINSE, "nape", at(30)), started(when=60))
    zone = only(clock, at(65))
    assert (zone.passes, zone.minutes, zone.state) == (2, 5, "running")


def test_the_zone_with_a_call_stands_first():
    clock = clock_of(started("back", when=10), started("nape", most=20))
    assert [zone.zone for zone in read_clock(clock, at(21))] == ["nape", "back"]


# --- the maximum


def test_the_maximum_calls_until_the_rinse_and_stays_in_the_record():
    clock = clock_of(started(most=45), new_event(Kind.CHECK, "nape", at(40)))
    assert [call.code for call in only(clock, at(45)).calls] == ["maximum-passed"]
    looked = clock.with_event(new_event(Kind.CHECK, "nape", at(47), level=7.0))
    assert "maximum-passed" in [call.code for call in only(looked, at(48)).calls]  # a look does not take it back
    rinsed = looked.with_event(new_event(Kind.RINSE, "nape", at(51)))
    assert only(rinsed, at(90)).over_minutes == 6


def test_nothing_runs_longer_than_fifty_minutes():
    with pytest.raises(ClockRefusedError, match="1 to 50"):
        clock_of(started(most=51))  # 50 minutes: common practice
    with pytest.raises(ClockRefusedError, match="1 to 50"):
        clock_of(started(), new_event(Kind.LIMIT, "nape", at(1), most_minutes=60, who="A", note="slow"))


def test_a_longer_maximum_needs_a_name_and_a_reason_and_a_shorter_does_not():
    clock = clock_of(started(most=30))
    with pytest.raises(ClockRefusedError, match="name and a reason"):
        clock.with_event(new_event(Kind.LIMIT, "nape", at(5), most_minutes=40))
    assert only(clock.with_event(new_event(Kind.LIMIT, "nape", at(5), most_minutes=20)), at(20)).calls
    longer = clock.with_event(new_event(Kind.LIMIT, "nape", at(5), most_minutes=40, who="A", note="coarse, sound"))
    assert not only(longer, at(35)).calls


def test_burning_calls_the_rinse_and_a_calmer_look_does_not_take_it_back():
    clock = clock_of(
        started(), new_event(Kind.CHECK, "nape", at(6), skin="burns"), new_event(Kind.CHECK, "nape", at(8), skin="fine")
    )
    assert [call.code for call in only(clock, at(9)).calls] == ["skin-burns"]


def test_there_is_no_pause():
    assert {kind.value for kind in Kind} == {"start", "check", "limit", "settle", "heard", "rinse"}


# --- changed system time, sleep, restart


@pytest.mark.parametrize("wall_off", [-600.0, -60.0, -1.0, 0.0])
def test_setting_the_wall_clock_back_never_shortens_a_lift(wall_off):
    zone = only(clock_of(started()), at(46, wall_off))
    assert zone.minutes == 46
    assert [call.code for call in zone.calls] == ["maximum-passed"]
    assert zone.clocks_disagree == (wall_off < -2)


def test_setting_the_wall_clock_forward_rings_early_and_says_so():
    zone = only(clock_of(started()), at(10, wall_off=60))
    assert zone.minutes == 70
    assert zone.calls
    assert zone.clocks_disagree


def test_a_forward_jump_is_settled_by_a_watch_with_name_and_reason():
    wrong = clock_of(started())
    with pytest.raises(ClockRefusedError, match="name and a reason"):
        wrong.with_event(new_event(Kind.SETTLE, "nape", at(10, 60), true_minutes=10))
    settled = wrong.with_event(
        new_event(Kind.SETTLE, "nape", at(10, 60), true_minutes=10, who="A", note="summer time, my watch says 10")
    )
    zone = only(settled, at(12, 60))
    assert (round(zone.minutes, 6), zone.calls, zone.clocks_disagree) == (12, (), False)


def test_settling_never_makes_a_lift_shorter_than_the_counter_has_proved():
    with pytest.raises(ClockRefusedError, match="At least 30 minutes"):
        clock_of(started()).with_event(
            new_event(Kind.SETTLE, "nape", at(30), true_minutes=10, who="A", note="started late")
        )


def test_sleep_counts_even_where_the_counter_slept_too():
    zone = only(clock_of(started()), at(46, slept=40))  # the lid was closed for 40 minutes
    assert zone.minutes == 46
    assert zone.calls
    assert zone.clocks_disagree


def test_a_restart_of_the_machine_goes_by_the_wall():
    assert only(clock_of(started()), at(20, boot="b")).minutes == 20


def test_after_a_restart_with_a_wrong_wall_clock_what_was_proved_before_still_counts():
    clock = clock_of(started(), new_event(Kind.CHECK, "nape", at(30), level=6.0))
    later = replace(at(35, wall_off=-600, boot="b"), uptime_seconds=5.0)
    zone = only(clock, later)
    assert zone.minutes == 30
    assert zone.clocks_disagree


@settings(max_examples=60, derandomize=True, deadline=None, database=None)
@given(st.floats(0, 240), st.floats(-2000, 2000), st.floats(0, 1))
def test_no_wall_time_and_no_sleep_makes_the_count_shorter_than_the_truth_unless_both_fail(
    minutes, wall_off, share_slept
):
    slept = share_slept * minutes
    shown = only(clock_of(started()), at(minutes, wall_off, slept)).minutes
    assert shown >= min(minutes, minutes - slept) - 1e-6
    if wall_off >= 0 or slept == 0:
        assert shown >= minutes - 1e-6


# --- two open pages


def test_a_page_with_an_old_view_is_told_what_happened_meanwhile():
    clock = clock_of(started())
    seen = clock.sequence
    rinsed = clock.with_event(new_event(Kind.RINSE, "nape", at(20)))
    with pytest.raises(ClockRefusedError, match="nape was rinsed meanwhile"):
        rinsed.with_event(new_event(Kind.LIMIT, "nape", at(21), most_minutes=40, who="A", note="b"), seen)
    with pytest.raises(ClockRefusedError, match="was started meanwhile"):
        clock.with_event(started(), seen_sequence=0)


def test_two_pages_may_look_at_one_zone_and_work_on_others():
    clock = clock_of(started("nape"), started("back"))
    seen = clock.sequence
    clock = clock.with_event(new_event(Kind.CHECK, "nape", at(5), level=5.0), seen)
    clock = clock.with_event(new_event(Kind.CHECK, "nape", at(5.2), level=5.2), seen)
    clock = clock.with_event(new_event(Kind.RINSE, "back", at(6)), seen)
    assert clock.sequence == 5


def test_a_rinse_from_an_old_page_always_counts():
    clock = clock_of(started())
    seen = clock.sequence
    clock = clock.with_event(new_event(Kind.CHECK, "nape", at(5), level=6.0))
    assert not clock.with_event(new_event(Kind.RINSE, "nape", at(6)), seen).is_running("nape")


def test_a_press_sent_twice_counts_once():
    start = started()
    clock = clock_of(start)
    assert clock.with_event(start) is clock


def test_order_is_by_sequence_and_not_by_time():
    clock = clock_of(
        started(), new_event(Kind.CHECK, "nape", at(10, wall_off=-300), level=5.0), started("back", when=2)
    )
    assert [event.sequence for event in clock.events] == [1, 2, 3]
    assert only(clock_of(*clock.events[:2]), at(11)).last_level == 5.0


@pytest.mark.parametrize(
    "event",
    [
        new_event(Kind.CHECK, "crown", at(1), level=5.0),
        new_event(Kind.RINSE, "crown", at(1)),
        new_event(Kind.CHECK, "nape", at(1), level=11.0),
        new_event(Kind.START, "nape", at(1), most_minutes=30, check_minutes=5),
        new_event(Kind.START, "back", at(1), most_minutes=30, check_minutes=60),
        new_event(Kind.START, "back", at(1), most_minutes=float("nan"), check_minutes=5),
    ],
)
def test_an_event_that_does_not_fit_is_refused_with_a_sentence(event):
    with pytest.raises(ClockRefusedError, match=r"\.$"):
        clock_of(started()).with_event(event)


# --- kept and reloaded


def busy_clock() -> LiftClock:
    return clock_of(
        started("nape – links"),
        new_event(Kind.CHECK, "nape – links", at(5), level=5.25, photo_sha256="ab" * 32, skin="fine", note="warm; zäh"),
        new_event(Kind.LIMIT, "nape – links", at(6), most_minutes=30),
        new_event(Kind.SETTLE, "nape – links", at(7), true_minutes=7.5, who="A", note="watch"),
        new_event(Kind.RINSE, "nape – links", at(9)),
    )


def test_the_record_comes_back_unchanged():
    clock = busy_clock()
    assert clock_from_text(clock_text(clock)) == clock


def test_the_page_may_go_away_and_come_back(tmp_path):
    store = ClockStore(tmp_path / "clock.json")
    assert store.load() == LiftClock()
    store.add(started(), 0)
    again = ClockStore(tmp_path / "clock.json").load()
    assert only(again, at(46)).calls
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".part")] == []


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format":"x","events":[]}', '{"format":"tressmeter-clock-1"}'])
def test_a_damaged_record_is_refused_and_left_as_it_is(tmp_path, text):
    path = tmp_path / "clock.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInputError, match=r"\.$|reads"):
        ClockStore(path).add(started())
    assert path.read_text(encoding="utf-8") == text


def test_a_record_cut_short_or_with_a_gap_is_refused():
    text = clock_text(busy_clock())
    with pytest.raises(BadInputError):
        clock_from_text(text[: len(text) // 2])
    with pytest.raises(BadInputError, match="gap"):
        clock_from_text(text.replace('"sequence": 2', '"sequence": 7').replace('"sequence":2', '"sequence":7'))


def test_two_pages_writing_at_once_lose_nothing(tmp_path):
    store = ClockStore(tmp_path / "clock.json")
    zones = [f"zone {number}" for number in range(12)]
    threads = [Thread(target=store.add, args=(started(zone),)) for zone in zones]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(store.load().zones) == sorted(zones)


def test_a_folder_that_cannot_be_written_leaves_the_record_and_says_so(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("x")
    with pytest.raises(OutputError, match="Count by a watch"):
        ClockStore(blocked / "clock.json").add(started())


def test_this_machine_names_its_boot_and_counts_on():
    one, other = instant_now(), instant_now()
    assert one.boot == other.boot
    assert other.uptime_seconds >= one.uptime_seconds
    assert one.wall.tzinfo is not None


# --- every look draws the curve anew


def started_with_strand() -> Event:
    return replace(started(), strand=StrandSaid(start_level=4.0))


def test_looks_on_the_clock_draw_the_curve_anew():
    clock = clock_of(started_with_strand())
    before = curve_on_clock(clock, "nape")
    assert before.prior_alone
    for minutes, level in ((5, 4.4), (10, 4.7), (15, 5.0)):
        clock = clock.with_event(new_event(Kind.CHECK, "nape", at(minutes), level=level))
    after = curve_on_clock(clock, "nape")
    assert [point.minutes for point in points_on_clock(clock, "nape")] == pytest.approx([5, 10, 15])
    assert np.median(after.minutes_to(8.0)) > np.median(before.minutes_to(8.0))
    assert "by eye" in after.basis


def test_a_photo_at_a_check_stays_in_the_record_and_draws_the_curve_without_the_photo(tmp_path):
    store = ClockStore(tmp_path / "clock.json")
    store.add(started_with_strand())
    for minutes, lightness in ((5, 32.0), (12, 40.0)):
        seen = SeenLightness(lightness, 1.0, 0.5)
        store.add(new_event(Kind.CHECK, "nape", at(minutes), photo_sha256="ab" * 32, seen=seen))
    again = ClockStore(tmp_path / "clock.json").load()
    curve = curve_on_clock(again, "nape")
    assert [point.lightness for point in curve.points] == [32.0, 40.0]
    assert "2 photos" in curve.basis
    assert curve.strand.start_level == 4.0


# --- the alarm


def test_a_passed_maximum_sounds_until_somebody_says_to_have_heard_it_and_then_again():
    clock = clock_of(started(most=30))
    assert not only(clock, at(29.9)).alarm
    assert only(clock, at(30)).alarm
    heard = clock.with_event(new_event(Kind.HEARD, "nape", at(31), who="A"))
    zone = only(heard, at(32))
    assert (zone.alarm, zone.heard_by) == (False, "A")
    assert [call.code for call in zone.calls] == ["maximum-passed"]  # hearing it is not rinsing
    assert only(heard, at(33)).alarm  # and it does not stay quiet: after two minutes it calls again
    assert not only(heard.with_event(new_event(Kind.RINSE, "nape", at(33))), at(60)).alarm


def test_an_alarm_is_heard_by_a_name_and_only_when_there_is_one():
    clock = clock_of(started(most=30))
    with pytest.raises(ClockRefusedError, match="who has heard"):
        clock.with_event(new_event(Kind.HEARD, "nape", at(31)))
    with pytest.raises(ClockRefusedError, match="no alarm"):
        clock.with_event(new_event(Kind.HEARD, "nape", at(20), who="A"))


def test_setting_the_wall_clock_back_does_not_quiet_an_alarm():
    clock = clock_of(started(most=30), new_event(Kind.HEARD, "nape", at(31), who="A"))
    assert only(clock, at(40, wall_off=-600)).alarm


# --- put away


def test_a_clock_is_put_away_only_when_nothing_runs_and_is_never_written_over(tmp_path):
    store = ClockStore(tmp_path / "clock.json")
    store.add(started())
    with pytest.raises(ClockRefusedError, match="nape still runs"):
        store.put_away(NOON)
    store.add(new_event(Kind.RINSE, "nape", at(30)))
    first = store.put_away(NOON)
    assert first.read_text(encoding="utf-8").count('"kind"') == 2
    assert store.load() == LiftClock()
    store.add(started())
    store.add(new_event(Kind.RINSE, "nape", at(30)))
    assert store.put_away(NOON) != first
    assert store.put_away(NOON) is None  # nothing there to put away
