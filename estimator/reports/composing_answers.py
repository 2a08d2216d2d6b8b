"""Answers of a kept consultation in words: what was said, and what is otherwise than the time before."""

from collections.abc import Mapping
from typing import Any

from estimator.care.questions import QUESTIONS, Question
from estimator.care.unknown import UNKNOWN
from estimator.reports import wording

OF_ZONES = "of_zones"
OPEN = "not known"


def stated_facts(facts: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """What was answered, in the order of the questions, the head first, then what a zone has otherwise."""
    of_zones: Mapping[str, Mapping[str, Any]] = facts.get(OF_ZONES, {})
    head = [(_about(question), answered(question, facts.get(question.fact))) for question in QUESTIONS]
    zones = [
        (f"{_about(question)}, {wording.zone_text(zone)}", answered(question, own[question.fact]))
        for zone, own in of_zones.items()
        for question in QUESTIONS
        if question.fact in own
    ]
    return tuple((about, words) for about, words in (*head, *zones) if words != OPEN)


def changed_facts(before: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[str, ...]:
    """Each answer that is otherwise: "scalp: sound, before that irritated"."""
    was, is_now = dict(stated_facts(before)), dict(stated_facts(now))
    about = dict.fromkeys((*is_now, *was))
    return tuple(
        f"{each.lower()}: {is_now.get(each, OPEN)}, before that {was.get(each, OPEN)}"
        for each in about
        if is_now.get(each, OPEN) != was.get(each, OPEN)
    )


def _about(question: Question) -> str:
    return question.about[:1].upper() + question.about[1:]


def answered(question: Question, value: Any) -> str:
    """One answer as the screen says it; "not known" for an open one."""
    if value is None or value == str(UNKNOWN):
        return OPEN
    if isinstance(value, bool):
        return "yes" if value else "no"
    says = dict(question.choices)
    if isinstance(value, list | tuple | set | frozenset):
        return wording.list_text([says.get(str(word), str(word)) for word in value]) or "none"
    if isinstance(value, str):
        return says.get(value, value)
    never = question.never is not None and value == question.never
    return "never" if never else f"{wording.plain_text(float(value))} {question.unit}".strip()
