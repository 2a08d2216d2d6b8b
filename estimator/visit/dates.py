"""Dates of a visit: how old the tests are on its day, and what to do by when."""

from dataclasses import replace
from datetime import timedelta

from estimator.care.dates import Reminder, VisitDates, patch_test_age_hours, reminders_for, strand_test_days_ago
from estimator.care.facts import Facts
from estimator.care.unknown import UNKNOWN
from estimator.errors import BadInputError


def facts_with_dates(facts: Facts, dates: VisitDates) -> Facts:
    """The facts with the age of each dated test on the day of the visit.

    Raises BadInputError for a test still to come, and where an age is stated beside its date.
    """
    if dates.patch_tested_at is not None:
        _refuse_twice(facts, "patch_test_age_hours", "patch test")
        hours = patch_test_age_hours(dates.patch_tested_at, dates.visit_at)
        facts = replace(facts, patch_test_age_hours=min(hours, 87600.0))
    if dates.strand_tested_at is not None:
        _refuse_twice(facts, "strand_test_days_ago", "strand test")
        days = strand_test_days_ago(dates.strand_tested_at, dates.visit_at)
        facts = replace(facts, strand_test_days_ago=min(days, 9999.0))
    return facts


def _refuse_twice(facts: Facts, fact: str, what: str) -> None:
    if facts.by_name[fact] is not UNKNOWN:
        raise BadInputError(f"The {what} has a date and an age as well. Keep its date and take '{fact}' away.")


def reminders(facts: Facts, dates: VisitDates, lightener: bool) -> tuple[Reminder, ...]:
    """What to do by when, the soonest first; a toner is planned in every visit, lightener where it is said."""
    dates = _with_ages(replace(dates, patch_read=facts.patch_test in ("clear", "reaction")), facts)
    if facts.patch_valid_days is not UNKNOWN:
        dates = replace(dates, patch_valid_days=facts.patch_valid_days)
    return reminders_for(dates, lightener=lightener, oxidative_dye=True)


def _with_ages(dates: VisitDates, facts: Facts) -> VisitDates:
    """The dates with those of tests whose age alone was told."""
    hours, days = facts.patch_test_age_hours, facts.strand_test_days_ago
    if dates.patch_tested_at is None and hours is not UNKNOWN and facts.patch_test != "none":
        dates = replace(dates, patch_tested_at=dates.visit_at - timedelta(hours=hours))
    if dates.strand_tested_at is None and days is not UNKNOWN and facts.strand_test != "none":
        dates = replace(dates, strand_tested_at=dates.visit_at - timedelta(days=days))
    return dates
