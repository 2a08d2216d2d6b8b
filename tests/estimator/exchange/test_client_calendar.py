"""Follow-ups of a client as iCalendar, read back by a library that knows RFC 5545."""

import subprocess
import sys
from datetime import UTC, date, datetime, timedelta, timezone

import icalendar
import pytest

from estimator.errors import BadInputError
from estimator.exchange.client_calendar import Wish, calendar_of, follow_ups, moment_of, neutral_label
from estimator.records.clients import client, withdraw_consent
from estimator.records.consent_scopes import Scope
from estimator.records.errors import ConsentMissingError
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import DAY, visit

BERLIN_WINTER = timezone(timedelta(hours=1))
NEXT = datetime(2026, 12, 1, 10, 0, tzinfo=BERLIN_WINTER)
MADE = datetime(2026, 10, 5, 12, 0, tzinfo=UTC)


@pytest.fixture
def kept(store):
    keep_visit(store, visit())
    return store


def events(text: str) -> dict[str, icalendar.Event]:
    whole = icalendar.Calendar.from_ical(text)
    assert not whole.errors
    return {str(event["SUMMARY"]).split(" (")[0]: event for event in whole.walk("VEVENT")}


@pytest.mark.slow
def test_next_visit_patch_test_and_fading_stand_where_care_puts_them(kept):
    found = events(calendar_of(follow_ups(kept, "M. D.", (Wish(NEXT, lightener=True),), "chair 2"), MADE))
    assert found["Visit"].decoded("DTSTART") == NEXT
    # 48 hours before (key fda-hair-dye); four weeks and two weeks are common practice.
    assert found["Patch test"].decoded("DTSTART") == NEXT - timedelta(hours=48)
    assert found["Look at how the tone fades"].decoded("DTSTART") == DAY + timedelta(days=28)
    assert found["Lightening possible again at the earliest"].decoded("DTSTART") == NEXT + timedelta(days=14)
    assert {str(event["CLASS"]) for event in found.values()} == {"PRIVATE"}


def test_a_day_stays_a_day_in_every_time_zone(kept):
    event = events(calendar_of(follow_ups(kept, "M. D.", (), "x"), MADE))["Look at how the tone fades"]
    assert event["DTSTART"].params["VALUE"] == "DATE"  # RFC 5545, 3.3.4
    assert type(event.decoded("DTSTART")) is date
    assert event.decoded("DTEND") - event.decoded("DTSTART") == timedelta(days=1)


@pytest.mark.slow
def test_an_entry_that_moves_keeps_its_mark_and_counts_as_newer(kept):
    first = events(calendar_of(follow_ups(kept, "M. D.", (Wish(NEXT),), "x"), MADE))
    moved = Wish(NEXT + timedelta(days=7))
    again = events(calendar_of(follow_ups(kept, "M. D.", (moved,), "x"), MADE + timedelta(days=1)))
    assert {name: str(event["UID"]) for name, event in first.items()} == {
        name: str(event["UID"]) for name, event in again.items()
    }
    assert again["Patch test"].decoded("DTSTART") == moved.at - timedelta(hours=48)
    assert all(int(again[name]["SEQUENCE"]) > int(first[name]["SEQUENCE"]) for name in first)


def test_marks_of_two_clients_and_of_two_visits_differ(kept):
    keep_visit(kept, visit("B. B."))
    marks = {each.mark for code in ("M. D.", "B. B.") for each in follow_ups(kept, code, (Wish(NEXT), Wish(NEXT)), "x")}
    assert len(marks) == 2 * (2 * 3 + 1)  # twice: visit, patch test and message for each of two wishes, one fading


def test_no_name_no_code_and_no_contact_stands_in_it_unless_asked(kept):
    known = client(kept, "M. D.")
    text = calendar_of(follow_ups(kept, "M. D.", (Wish(NEXT),), neutral_label(known.id)), MADE)
    assert not any(word in text for word in ("Marigold", "Dunmore", "M. D.", "marigold@", known.id))
    assert "Marigold Dunmore" in calendar_of(follow_ups(kept, "M. D.", (Wish(NEXT),), known.name), MADE)


def test_hostile_labels_stay_text_and_lines_stay_short(kept):
    label = "a;b,c\\d\nBEGIN:VEVENT " + "ü" * 90
    text = calendar_of(follow_ups(kept, "M. D.", (Wish(NEXT),), label), MADE)
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))  # RFC 5545, 3.1
    whole = icalendar.Calendar.from_ical(text)
    assert len(whole.walk("VEVENT")) == 4
    assert any(str(event["SUMMARY"]) == f"Visit ({label})" for event in whole.walk("VEVENT"))


def test_a_client_who_took_the_consent_back_has_no_calendar(kept):
    withdraw_consent(kept, "M. D.", Scope.RECORD, DAY, "spoken")
    with pytest.raises(ConsentMissingError):
        follow_ups(kept, "M. D.", (Wish(NEXT),), "x")


@pytest.mark.parametrize(
    ("text", "said"), [("soon", "no moment"), ("2026-12-01", "no hour"), ("2026-13-01T10:00", "no")]
)
def test_a_moment_that_can_not_be_is_refused(text, said):
    with pytest.raises(BadInputError, match=said):
        moment_of(text)


def test_a_moment_without_a_zone_is_this_machines():
    assert moment_of("2026-12-01T10:00").tzinfo is not None
    assert moment_of("2026-12-01T10:00+01:00") == NEXT


@pytest.mark.slow
def test_the_command_writes_a_calendar_and_says_when_it_names_somebody(kept, salon, tmp_path):
    def run(*more):
        words = (
            "records",
            "calendar",
            "M. D.",
            tmp_path / "c.ics",
            "--next",
            "2026-12-01T10:00+01:00",
            "--salon",
            salon,
        )
        return subprocess.run(
            [sys.executable, "-m", "estimator", *map(str, (*words, *more))], capture_output=True, text=True, check=False
        )

    done = run()
    assert done.returncode == 0, done.stderr
    assert "Marigold" not in done.stdout + (tmp_path / "c.ics").read_text()
    done = run("--with-name")
    assert "It names the client" in done.stdout
    assert "Marigold Dunmore" in (tmp_path / "c.ics").read_text().replace("\n ", "")
