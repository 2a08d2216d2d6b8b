"""Answers of an earlier visit at the next one: few are kept, the others are confirmed by the client or asked anew."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from estimator.care.questions import TABLES
from estimator.care.unknown import UNKNOWN

KEPT, CONFIRMED, ANEW = "kept", "confirmed", "anew"


@dataclass(frozen=True)
class EarlierAnswers:
    """Answers by their fact. kept : Hold still. to_confirm : Count once the client says so. anew : Asked anew."""

    kept: dict[str, Any] = field(default_factory=dict)
    to_confirm: dict[str, Any] = field(default_factory=dict)
    anew: dict[str, Any] = field(default_factory=dict)


@cache
def use_of() -> dict[str, str]:
    """What becomes of each question's earlier answer, by its fact."""
    groups = tomllib.loads((TABLES / "asking_again.toml").read_text("utf-8"))["group"]
    return {fact: group["use"] for group in groups if group["source"] for fact in group["facts"]}


def sort_earlier(facts: Mapping[str, Any]) -> EarlierAnswers:
    """The answers of an earlier consultation by what becomes of them; what was not answered is left out."""
    given = {fact: value for fact, value in facts.items() if value not in (None, "", [], str(UNKNOWN))}

    def of(use: str) -> dict[str, Any]:
        return {fact: value for fact, value in given.items() if use_of().get(fact) == use}

    return EarlierAnswers(of(KEPT), of(CONFIRMED), of(ANEW))
