"""What follows a client's visits, as an iCalendar file (RFC 5545): next visits, tests before them, a look at fading."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from estimator.care.dates import VisitDates, date_rules, reminders_for
from estimator.errors import BadInputError
from estimator.exchange.content_lines import escaped_text, folded_lines
from estimator.records.clients import client
from estimator.records.earlier import earlier_visits
from estimator.records.store import Store

PRODUCT = "-//Tressmeter//Follow-ups//EN"
VISIT_LASTS = timedelta(hours=2)
REMINDER_LASTS = timedelta(minutes=15)
MOST_WISHES = 12
FADING = "fading-check"
_STAMP = "%Y%m%dT%H%M%SZ"


@dataclass(frozen=True)
class Wish:
    """A next visit that was spoken of. at : With its time zone. lightener : Lightener is planned for it."""

    at: datetime
    lightener: bool = False


@dataclass(frozen=True)
class FollowUp:
    """One entry. mark : Names it for good, also when it moves.

    starts : A moment with its time zone, or a day. lasts : None for a day.
    """

    mark: str
    title: str
    text: str
    starts: datetime | date
    lasts: timedelta | None = None


def follow_ups(store: Store, code: str, wishes: tuple[Wish, ...], label: str) -> tuple[FollowUp, ...]:
    """What follows for the client of this code, the soonest first.

    label : How the client is called in the calendar.

    Raises
    ------
    NotKeptError, ConsentMissingError : There is no such client, or the consent to the record was taken back.
    BadInputError : A wish has no time zone, or there are too many.
    """
    if len(wishes) > MOST_WISHES:
        raise BadInputError(f"{len(wishes)} next visits were given; {MOST_WISHES} are allowed.")
    visits, known = earlier_visits(store, code), client(store, code)
    found = [each for number, wish in enumerate(wishes, 1) for each in _of_wish(known.id, number, wish, label)]
    if visits:
        rule = date_rules()[FADING]
        day = visits[-1].day + timedelta(hours=rule.hours)
        found.append(FollowUp(_mark(visits[-1].id, FADING), f"{rule.title} ({label})", rule.text, day))
    return tuple(sorted(found, key=lambda each: (_as_day(each.starts), each.title)))


def _of_wish(client_id: str, number: int, wish: Wish, label: str) -> Iterator[FollowUp]:
    """The visit itself, and what is due before and after it by the tables of care."""
    name = f"next {number}"
    yield FollowUp(_mark(client_id, name), f"Visit ({label})", "", wish.at, VISIT_LASTS)
    for due in reminders_for(VisitDates(wish.at), lightener=wish.lightener, oxidative_dye=True):
        mark = _mark(client_id, f"{name} {due.code}")
        yield FollowUp(mark, f"{due.title} ({label})", due.text, due.due, REMINDER_LASTS)


def _mark(of: str, what: str) -> str:
    """The same for the same thing whenever it is: an entry that moves is renewed, not doubled."""
    return hashlib.sha256(f"{of}\n{what}".encode()).hexdigest()[:32]


def neutral_label(client_id: str) -> str:
    """A name for a calendar that tells nobody who it is: a few signs made of the record's own random name."""
    return f"client {hashlib.sha256(client_id.encode()).hexdigest()[:6]}"


def _as_day(moment: datetime | date) -> date:
    return moment.astimezone(UTC).date() if isinstance(moment, datetime) else moment


def calendar_of(found: tuple[FollowUp, ...], made_at: datetime) -> str:
    """The iCalendar file, lines ending in CRLF. Moments stand in UTC, whole days as days.

    made_at : With its time zone; a later file of the same entries replaces an earlier one.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"]
    lines += [line for each in found for line in _event(each, made_at)]
    return "".join(folded_lines([*lines, "END:VCALENDAR"]))


def _event(each: FollowUp, made_at: datetime) -> list[str]:
    described = [f"DESCRIPTION:{escaped_text(each.text)}"] if each.text else []
    return [
        "BEGIN:VEVENT",
        f"UID:{each.mark}@tressmeter.invalid",
        f"DTSTAMP:{_stamp(made_at)}",
        f"SEQUENCE:{int(made_at.timestamp()) // 60}",  # RFC 5545, 3.8.7.4: higher means newer
        *_when(each),
        f"SUMMARY:{escaped_text(each.title)}",
        *described,
        "CLASS:PRIVATE",
        "TRANSP:TRANSPARENT" if each.lasts in (None, REMINDER_LASTS) else "TRANSP:OPAQUE",
        "END:VEVENT",
    ]


def _when(each: FollowUp) -> list[str]:
    if isinstance(each.starts, datetime):
        return [f"DTSTART:{_stamp(each.starts)}", f"DTEND:{_stamp(each.starts + (each.lasts or timedelta()))}"]
    following = each.starts + timedelta(days=1)  # RFC 5545, 3.6.1: the end is not part of it
    return [f"DTSTART;VALUE=DATE:{each.starts:%Y%m%d}", f"DTEND;VALUE=DATE:{following:%Y%m%d}"]


def _stamp(moment: datetime) -> str:
    if moment.tzinfo is None:
        raise BadInputError("A date has no time zone. Give it with its own, such as 2026-03-02T10:00+01:00.")
    return moment.astimezone(UTC).strftime(_STAMP)


def moment_of(text: str) -> datetime:
    """The moment that a person wrote; without a time zone it is that of this machine. Raises BadInputError."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise BadInputError(
            f"{text[:40]!r} is no moment. Write it as 2026-12-01T10:00 or 2026-12-01T10:00+01:00."
        ) from None
    if len(text.strip()) <= len("2026-12-01"):
        raise BadInputError(f"{text[:40]!r} has no hour, and a patch test counts hours. Write it as 2026-12-01T10:00.")
    return moment if moment.tzinfo else moment.astimezone()
