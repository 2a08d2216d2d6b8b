"""What a visit is looked for by, without typing: day, level, tone, and a finding or stop."""

from datetime import date, timedelta
from typing import TYPE_CHECKING

import streamlit as st

from estimator.care.verdicts import CareWord
from estimator.errors import BadInputError
from estimator.reports.finding_words import PHOTO_FINDINGS

if TYPE_CHECKING:
    from estimator.records.searching import Asked

_DAYS = {"today": (0, 0), "yesterday": (1, 1), "last 7 days": (6, 0), "last 30 days": (29, 0)}  # [days ago]
_ONE_DAY = "one day"
_WORST = (CareWord.CAUTION, CareWord.TEST_FIRST, CareWord.STOP)


def asked(text: str) -> "Asked":
    """The question as it is entered. Raises BadInputError for a day that is none."""
    from estimator.records.searching import Asked

    with st.expander("By day, level, tone or finding"):
        first, last = _days()
        level = st.pills("Level that a zone read", list(range(1, 11)), key="find_level")
        tone = st.pills("Tone that was wanted", _tones(), key="find_tone")
        finding = _finding()
    return Asked(" ".join(text.split()) or None, first, last, level, None, tone, finding)


def _days() -> tuple[date | None, date | None]:
    when = st.pills("Day", [*_DAYS, _ONE_DAY], key="find_days")
    if when == _ONE_DAY:
        day = _day(st.text_input("Which day, such as 2026-10-05", max_chars=10, key="find_day"))
        return day, day
    if when is None:
        return None, None
    first, last = _DAYS[when]
    return date.today() - timedelta(days=first), date.today() - timedelta(days=last)


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text.strip()) if text.strip() else None
    except ValueError as problem:
        raise BadInputError(f"{text!r} is no day. Write it as 2026-10-05.") from problem


def _tones() -> list[str]:
    from estimator.toning.targets import TONES

    return list(TONES)


def _finding() -> str | None:
    """The code of a rule of care, or of what was found in a photograph: first what it is about, then which."""
    groups = _care_findings() | PHOTO_FINDINGS
    topic = st.pills("Finding or stop, about", list(groups), key="find_topic")
    if topic is None:
        return None
    words = groups[topic]
    return st.pills("Which finding", list(words), format_func=words.__getitem__, key=f"find_finding_{topic}")


def _care_findings() -> dict[str, dict[str, str]]:
    """Words of care's rules by code, under what they are about; stops before the others."""
    from estimator.care.rules import load_rules

    groups: dict[str, dict[str, str]] = {rule.topic: {} for rule in load_rules()}
    for rule in sorted(load_rules(), key=lambda rule: -_WORST.index(rule.verdict)):
        groups[rule.topic][rule.code] = f"{rule.verdict.value}: {rule.code.replace('-', ' ')}"
    return groups
