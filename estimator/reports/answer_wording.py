"""Answers of the consultation in words, as the screen asked them."""

from typing import Any

from estimator.care.questions import FACT_TABLE
from estimator.reports import wording


def about_text(fact: str) -> str:
    """What a question is about: "age", "state of the scalp"."""
    return FACT_TABLE.specs[fact].about if fact in FACT_TABLE.specs else fact.replace("_", " ")


def value_text(fact: str, value: Any) -> str:
    """An answer: "34 years", "yes", "flaking", "dark and henna"."""
    spec = FACT_TABLE.specs.get(fact)
    words = dict(spec.choices) if spec is not None else {}
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        if value == getattr(spec, "never", None):
            return "never"
        return f"{wording.plain_text(value)} {spec.unit if spec is not None else ''}".rstrip()
    if isinstance(value, list | tuple | set | frozenset):
        return wording.list_text([words.get(str(each), str(each)) for each in value]) or "none"
    return words.get(str(value), str(value))
