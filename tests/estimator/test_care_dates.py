"""Dates that run out, and the calendar file that carries them: RFC 5545 read by a parser of the test's own."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from estimator.care.calendar_file import calendar_text, read_calendar
from estimator.care.dates import (
    Reminder,
    VisitDates,
    date_rules,
    patch_test_age_hours,
    read_date_rules,
    reminders_for,
    strand_test_days_ago,
)
from estimator.care.facts import baseline_facts
from estimator.care.questions import CareTableError
from estimator.care.rules import judge
from estimator.errors import BadInputError

BERLIN = timezone(timedelta(hours=1))
VISIT = datetime(2026, 3, 2, 10, tzinfo=BERLIN)
MADE = datetime(2026, 2, 20, 9, tzinfo=UTC)


def codes(dates: VisitDates, lightener: bool = True, dye: bool = True) -> list[str]:
    return [reminder.code for reminder in reminders_for(dates, lightener, dye)]


def due(dates: VisitDates, code: str) -> datetime:
    return next(reminder.due for reminder in reminders_for(dates, True, True) if reminder.code == code)


def test_a_patch_test_is_due_two_days_before_the_visit():
    assert due(VisitDates(VISIT), "patch-test-due") == VISIT - timedelta(hours=48)  # 48 h: FDA, trade federations


def test_a_patch_test_is_read_after_two_days_and_runs_out_after_the_salons_days():
    tested = VISIT - timedelta(days=3)
    dates = VisitDates(VISIT, patch_tested_at=tested, patch_valid_days=7)
    assert due(dates, "patch-test-read") == tested + timedelta(hours=48)
    assert due(dates, "patch-test-expires") == tested + timedelta(days=7)
    assert "patch-test-due" not in codes(dates)
    assert "patch-test-read" not in codes(VisitDates(VISIT, patch_tested_at=tested, patch_read=True))


def test_a_patch_test_that_runs_out_before_the_visit_is_due_again():
    assert "patch-test-due" in codes(VisitDates(VISIT, patch_tested_at=VISIT - timedelta(days=20), patch_read=True))


def test_a_strand_test_runs_out_after_thirty_days_and_lightening_waits_two_weeks():
    dates = VisitDates(VISIT, strand_tested_at=VISIT - timedelta(days=1))
    assert due(dates, "strand-test-expires") == VISIT + timedelta(days=29)
    assert due(dates, "next-lightening") == VISIT + timedelta(days=14)  # common practice


def test_without_dye_or_lightener_nothing_of_theirs_is_due():
    assert codes(VisitDates(VISIT), lightener=False, dye=False) == ["message-after"]


@pytest.mark.parametrize(("hours", "expected"), [(47.5, "patch-too-fresh"), (48.5, None), (169, "patch-expired")])
def test_dates_and_rules_agree_on_when_a_patch_test_counts(hours, expected):
    age = patch_test_age_hours(VISIT - timedelta(hours=hours), VISIT)
    found = judge(baseline_facts(wants_oxidative_dye=True, patch_test_age_hours=age)).codes
    assert (expected in found) if expected else not any(code.startswith("patch") for code in found)


@pytest.mark.parametrize(("days", "fires"), [(29, False), (31, True)])
def test_dates_and_rules_agree_on_when_a_strand_test_counts(days, fires):
    ago = strand_test_days_ago(VISIT - timedelta(days=days), VISIT)
    found = judge(baseline_facts(wants_lightener=True, strand_test_days_ago=ago)).codes
    assert ("strand-missing" in found) == fires


def test_summer_time_does_not_shorten_two_days():
    before = datetime(2026, 3, 28, 10, tzinfo=timezone(timedelta(hours=1)))
    after = datetime(2026, 3, 30, 10, tzinfo=timezone(timedelta(hours=2)))
    assert patch_test_age_hours(before, after) == 47


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: patch_test_age_hours(VISIT, VISIT - timedelta(hours=1)),
        lambda: VisitDates(datetime(2026, 3, 2, 10)),
        lambda: VisitDates(VISIT, patch_valid_days=400),
        lambda: calendar_text(reminders_for(VisitDates(VISIT), True, True), datetime(2026, 3, 2)),
        lambda: read_calendar("hello"),
        lambda: read_calendar("BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nEND:VCALENDAR"),
        lambda: read_calendar("BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nEND:VEVENT\r\nEND:VCALENDAR"),
    ],
)
def test_dates_that_cannot_be_are_refused_with_a_sentence(wrong):
    with pytest.raises(BadInputError, match=r"\.$"):
        wrong()


def test_a_date_without_a_source_does_not_load():
    with pytest.raises(CareTableError, match="no source"):
        read_date_rules('[[rule]]\ncode = "x"\nfrom = "visit"\nbefore = true\nhours = 1\ntitle = "t"\ntext = "t"\n')
    assert len(date_rules()) == 6


# --- the calendar file


def unfolded(text: str) -> list[str]:
    """Content lines by RFC 5545, 3.1: a CRLF followed by one space or tab is no line break."""
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    return text.replace("\r\n ", "").replace("\r\n\t", "")[:-2].split("\r\n")


def plain(text: str) -> str:
    """TEXT by RFC 5545, 3.3.11."""
    out, signs = "", iter(text)
    for sign in signs:
        if sign == "\\":
            following = next(signs)
            out += "\n" if following in "nN" else following
        else:
            out += sign
    return out


TRICKY = Reminder(
    "patch-test-read",
    VISIT,
    "Prüfen; lesen, notieren",
    "Zeile eins\nZeile zwei, mit Komma; Strichpunkt und \\ – " + "sehr lang äöü " * 20,
    "",
)


def test_the_standards_own_example_is_folded_and_escaped_as_it_prints_it():
    # RFC 5545, 3.3.11: "Project XYZ Final Review", two line breaks and a comma, as the standard writes them.
    words = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    lines = unfolded(calendar_text((Reminder("x", VISIT, "t", words, ""),), MADE))
    assert r"DESCRIPTION:Project XYZ Final Review\nConference Room - 3B\nCome Prepared." in lines
    # RFC 5545, 3.1: a folded line and what it stands for.
    folded = "BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nDTSTART:20260302T090000Z\r\nSUMMARY:s\r\nCATEGORIES:c\r\n"
    folded += "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n"
    folded += "END:VEVENT\r\nEND:VCALENDAR\r\n"
    assert read_calendar(folded)[0].text == "This is a long description that exists on a long line."


def test_no_line_is_longer_than_75_octets_and_no_letter_is_cut():
    text = calendar_text((TRICKY,), MADE, "Besuch 12")
    assert all(len(line.encode("utf-8")) <= 75 for line in text.split("\r\n"))
    description = next(line for line in unfolded(text) if line.startswith("DESCRIPTION:Zeile"))
    assert plain(description.removeprefix("DESCRIPTION:")) == TRICKY.text
    assert r"mit Komma\; Strichpunkt und \\ " in description  # RFC 5545, 3.3.11: these three are escaped
    assert r"zwei\, mit" in description


def test_reminders_come_back_from_the_file():
    given = (*reminders_for(VisitDates(VISIT), True, True), TRICKY)
    back = read_calendar(calendar_text(given, MADE))
    assert [(r.code, r.due, r.title, r.text) for r in back] == [(r.code, r.due, r.title, r.text) for r in given]


def test_line_breaks_of_any_kind_come_back_as_one():
    words = Reminder("x", VISIT, "t", "one\r\ntwo\rthree", "")
    assert read_calendar(calendar_text((words,), MADE))[0].text == "one\ntwo\nthree"


def test_the_file_has_what_the_standard_asks_for():
    lines = unfolded(calendar_text(reminders_for(VisitDates(VISIT), True, True), MADE))
    assert lines[:3] == ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tressmeter//Reminders//EN"]
    events = sum(line == "BEGIN:VEVENT" for line in lines)
    assert events == len(reminders_for(VisitDates(VISIT), True, True))
    for needed in ("UID:", "DTSTAMP:", "DTSTART:"):  # RFC 5545, 3.6.1: every event must have them
        assert sum(line.startswith(needed) for line in lines) == events
    uids = [line for line in lines if line.startswith("UID:")]
    assert len(set(uids)) == len(uids)
    assert "DTSTART:20260228T090000Z" in lines  # the visit at 10:00, one hour east, less 48 hours


def test_writing_the_file_again_renews_and_does_not_double():
    given = reminders_for(VisitDates(VISIT), True, True)
    marks = [
        [line for line in unfolded(calendar_text(given, made)) if line.startswith("UID:")] for made in (MADE, VISIT)
    ]
    assert marks[0] == marks[1]


def test_a_label_cannot_break_out_of_its_line():
    text = calendar_text(reminders_for(VisitDates(VISIT), False, False), MADE, "x\r\nEND:VCALENDAR\r\nBEGIN:EVIL\x07")
    assert sum(line == "END:VCALENDAR" for line in unfolded(text)) == 1
    assert not any(line.startswith("BEGIN:EVIL") for line in unfolded(text))
