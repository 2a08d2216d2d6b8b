"""Answers over several consultations: each as it stands, and beside it what it was before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

from estimator.care.questions import QUESTIONS
from estimator.care.unknown import UNKNOWN


@dataclass(frozen=True)
class AnswerOverTime:
    """One question over time.

    now : As last answered. since : The first day of that answer. earlier : Others, the latest first.
    """

    fact: str
    now: Any
    since: date
    earlier: tuple[tuple[date, Any], ...]


def over_time(consultations: Sequence[tuple[date, Mapping[str, Any]]]) -> tuple[AnswerOverTime, ...]:
    """Every question that was ever answered, in the order of asking. consultations : The newest first."""
    told = ((question.fact, _answers(question.fact, consultations)) for question in QUESTIONS)
    return tuple(AnswerOverTime(fact, found[0][1], found[0][0], tuple(found[1:])) for fact, found in told if found)


def _answers(fact: str, consultations: Sequence[tuple[date, Mapping[str, Any]]]) -> list[tuple[date, Any]]:
    """Each answer that differs from the one before it, with the first day of it; the latest first."""
    given = [(day, facts[fact]) for day, facts in consultations if facts.get(fact) not in (None, str(UNKNOWN))]
    first = [one for one, before in pairwise([*given, None]) if one and (before is None or one[1] != before[1])]
    return first
