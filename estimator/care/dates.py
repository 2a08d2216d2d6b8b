"""Dates that run out, and reminders: patch test, strand test, the next lightening, the message after the visit."""

import tomllib
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from typing import Any

from estimator.care.answers import TEST_HOLDS_DAYS
from estimator.care.questions import TABLES, CareTableError, read_sources
from estimator.errors import BadInputError

EXPIRES = "patch-test-expires"


@dataclass(frozen=True)
class DateRule:
    """How a date follows from another. hours : After it, or before it where `before`."""

    code: str
    counted_from: str
    before: bool
    hours: float
    title: str
    text: str
    source: str


@dataclass(frozen=True)
class Reminder:
    """Something to do by a moment. No name and no finding of the client stands in it: a calendar is seen by many."""

    code: str
    due: datetime
    title: str
    text: str
    source: str


@dataclass(frozen=True)
class VisitDates:
    """What is known of dates; all with their time zone.

    patch_tested_at, patch_read : When the product went on the skin, and whether somebody has read it.
    patch_valid_days : The salon's setting; the maker's text stands above it.
    """

    visit_at: datetime
    patch_tested_at: datetime | None = None
    patch_read: bool = False
    patch_valid_days: float = 7
    strand_tested_at: datetime | None = None
    lightened_at: datetime | None = None

    def __post_init__(self) -> None:
        given = (self.visit_at, self.patch_tested_at, self.strand_tested_at, self.lightened_at)
        if any(moment is not None and moment.tzinfo is None for moment in given):
            raise BadInputError("A date has no time zone. Give each with its own, such as 2026-03-02T10:00+01:00.")
        if not 2 <= self.patch_valid_days <= 183:
            raise BadInputError(f"A patch test valid for {self.patch_valid_days:g} days was set; 2 to 183 are allowed.")


def patch_test_age_hours(tested_at: datetime, now: datetime) -> float:
    """Hours since the patch test, for the facts. Raises BadInputError for a test still to come."""
    return _since(tested_at, now, "patch test") / timedelta(hours=1)


def strand_test_days_ago(tested_at: datetime, now: datetime) -> float:
    """Days since the strand test, for the facts. Raises BadInputError for a test still to come."""
    return _since(tested_at, now, "strand test") / timedelta(days=1)


def _since(tested_at: datetime, now: datetime, what: str) -> timedelta:
    if tested_at.tzinfo is None or now.tzinfo is None:
        raise BadInputError(f"The {what} has no time zone. Give it with its own, such as 2026-03-02T10:00+01:00.")
    if tested_at > now:
        raise BadInputError(f"The {what} is dated {tested_at:%Y-%m-%d %H:%M}, still to come. Correct the date.")
    return now - tested_at


def reminders_for(dates: VisitDates, lightener: bool, oxidative_dye: bool) -> tuple[Reminder, ...]:
    """What to do by when, the soonest first: for a visit with lightener, with oxidative dye, or with both."""
    due: list[Reminder] = [_reminder("message-after", dates.visit_at)]
    if oxidative_dye:
        due += _patch_reminders(dates)
    if lightener:
        if dates.strand_tested_at is not None:
            due.append(_reminder("strand-test-expires", dates.strand_tested_at))
        due.append(_reminder("next-lightening", dates.visit_at))
    elif dates.lightened_at is not None:
        due.append(_reminder("next-lightening", dates.lightened_at))
    return tuple(sorted(due, key=lambda reminder: (reminder.due, reminder.code)))


def _patch_reminders(dates: VisitDates) -> list[Reminder]:
    tested = dates.patch_tested_at
    if tested is None:
        return [_reminder("patch-test-due", dates.visit_at)]
    expires = tested + timedelta(days=dates.patch_valid_days)
    found = [
        Reminder(
            EXPIRES,
            expires,
            "Patch test runs out",
            "After this moment the product must be tested on the skin again. The maker's own time stands above it.",
            "uk-federation-allergy-tests; our assumption",
        )
    ]
    if not dates.patch_read:
        found.append(_reminder("patch-test-read", tested))
    if expires < dates.visit_at:
        found.append(_reminder("patch-test-due", dates.visit_at))
    return found


def _reminder(code: str, moment: datetime) -> Reminder:
    rule = date_rules()[code]
    span = timedelta(hours=rule.hours)
    return Reminder(code, moment - span if rule.before else moment + span, rule.title, rule.text, rule.source)


@cache
def date_rules() -> dict[str, DateRule]:
    """The rules of tables/dates.toml, by code."""
    return read_date_rules((TABLES / "dates.toml").read_text("utf-8"))


def read_date_rules(text: str) -> dict[str, DateRule]:
    """The rules in a TOML text; raises CareTableError naming the first row that is not sound."""
    rules = {}
    for row in tomllib.loads(text)["rule"]:
        try:
            rules[row["code"]] = _read_rule(row)
        except (KeyError, ValueError) as fault:
            raise CareTableError(f"Date '{row.get('code', '?')}': {fault}") from fault
    if rules["strand-test-expires"].hours != 24 * TEST_HOLDS_DAYS:
        raise CareTableError(f"Date 'strand-test-expires' must be the {TEST_HOLDS_DAYS} days for which a test holds.")
    return rules


def _read_rule(row: dict[str, Any]) -> DateRule:
    sources = read_sources({"sources": row.get("source", "").split("; ") if row.get("source") else ()})
    hours = float(row["hours"]) if "hours" in row else 24 * float(row["days"])
    return DateRule(row["code"], row["from"], row["before"], hours, row["title"], row["text"], "; ".join(sources))
