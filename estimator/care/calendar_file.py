"""Reminders as an iCalendar file (RFC 5545), for any calendar program. Nothing is sent anywhere."""

import hashlib
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from estimator.care.dates import Reminder
from estimator.errors import BadInputError

PRODUCT = "-//Tressmeter//Reminders//EN"
LONGEST_LINE_OCTETS = 75  # RFC 5545, 3.1: longer lines should be folded
MOST_TEXT = 4_000_000
_STAMP = "%Y%m%dT%H%M%SZ"
_LASTS = timedelta(minutes=15)


def calendar_text(reminders: tuple[Reminder, ...], made_at: datetime, label: str = "") -> str:
    """An iCalendar object with one event and one alarm for each reminder, lines ending in CRLF.

    made_at : With its time zone. label : What the salon calls the visit, such as a number; no client's name is needed.
    The same reminders and label give the same marks (UID), so a file read in again renews instead of doubling.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"]
    for reminder in reminders:
        lines += _event(reminder, made_at, label)
    lines.append("END:VCALENDAR")
    return "".join(f"{folded}\r\n" for line in lines for folded in _folded(line))


def _event(reminder: Reminder, made_at: datetime, label: str) -> list[str]:
    title = f"{reminder.title} ({label})" if label else reminder.title
    return [
        "BEGIN:VEVENT",
        f"UID:{_mark(reminder, label)}@tressmeter.invalid",
        f"DTSTAMP:{_stamp(made_at)}",
        f"DTSTART:{_stamp(reminder.due)}",
        f"DTEND:{_stamp(reminder.due + _LASTS)}",
        f"SUMMARY:{_escaped(title)}",
        f"DESCRIPTION:{_escaped(reminder.text)}",
        f"CATEGORIES:{_escaped(reminder.code)}",
        "CLASS:PRIVATE",
        "TRANSP:TRANSPARENT",
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        f"DESCRIPTION:{_escaped(title)}",
        "TRIGGER:PT0M",
        "END:VALARM",
        "END:VEVENT",
    ]


def _mark(reminder: Reminder, label: str) -> str:
    return hashlib.sha256(f"{label}\n{reminder.code}\n{_stamp(reminder.due)}".encode()).hexdigest()[:32]


def _stamp(moment: datetime) -> str:
    if moment.tzinfo is None:
        raise BadInputError("A reminder has no time zone. Give dates with their own, such as 2026-03-02T10:00+01:00.")
    return moment.astimezone(UTC).strftime(_STAMP)


def _escaped(text: str) -> str:
    """TEXT of RFC 5545, 3.3.11; other control characters are left out, as 3.1 allows none."""
    escaped = text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    escaped = escaped.replace("\r\n", "\n").replace("\r", "\n").replace("\n", "\\n")
    return "".join(sign for sign in escaped if sign == "\t" or (ord(sign) >= 32 and ord(sign) != 127))


def _folded(line: str) -> Iterator[str]:
    """The line in pieces of at most 75 octets, never inside a character; all but the first begin with a space."""
    piece, octets = "", 0
    for sign in line:
        size = len(sign.encode("utf-8"))
        if octets + size > LONGEST_LINE_OCTETS:
            yield piece
            piece, octets = " ", 1
        piece, octets = piece + sign, octets + size
    yield piece


# --- and back


def read_calendar(text: str) -> tuple[Reminder, ...]:
    """The reminders in a file that `calendar_text` wrote, in their order; a label stays part of the title.

    Raises BadInputError for a text that is no such calendar.
    """
    if len(text) > MOST_TEXT:
        raise BadInputError("The calendar file is too large. Choose the one that this program wrote.")
    lines = re.sub(r"\r?\n[ \t]", "", text).splitlines()
    if not lines or lines[0] != "BEGIN:VCALENDAR" or lines[-1] != "END:VCALENDAR":
        raise BadInputError("The file is no iCalendar file. Choose the one that this program wrote.")
    reminders, open_parts = [], []
    event: dict[str, str] = {}
    for line in lines:
        name, _, value = line.partition(":")
        if name == "BEGIN":
            open_parts.append(value)
            event = {} if value == "VEVENT" else event
        elif name == "END":
            if not open_parts or open_parts.pop() != value:
                raise BadInputError("The calendar file is damaged: its parts do not close. Write it anew.")
            if value == "VEVENT":
                reminders.append(_reminder_of(event))
        elif open_parts[-1:] == ["VEVENT"]:
            event[name] = value
    return tuple(reminders)


def _reminder_of(event: dict[str, str]) -> Reminder:
    try:
        due = datetime.strptime(event["DTSTART"], _STAMP).replace(tzinfo=UTC)
        words = (_plain(event[name]) for name in ("CATEGORIES", "SUMMARY", "DESCRIPTION"))
        code, title, told = words
    except (KeyError, ValueError) as problem:
        raise BadInputError(
            "An event in the calendar file lacks its date or its text. Write the file anew."
        ) from problem
    return Reminder(code, due, title, told, "")


def _plain(text: str) -> str:
    return re.sub(r"\\(.)", lambda found: "\n" if found.group(1) in "nN" else found.group(1), text)
