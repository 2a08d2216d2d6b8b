"""What the consultation asks and what a plan adds, as data: form, check, print and rules all follow one table."""

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from estimator.care.expressions import Expression, Holds, Kind, Value, read_expression
from estimator.care.unknown import UNKNOWN, Unknown

TABLES = Path(__file__).parent / "tables"
PHRASES = ("common practice", "our assumption", "from memory")  # what may stand in place of a key of docs/sources.md
_SOURCE_KEY = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)+")


class CareTableError(ValueError):
    """A row of a care table is not complete or not sound; says which row and what is wrong."""


@dataclass(frozen=True, kw_only=True)
class FactSpec:
    """What one fact may hold.

    unit : "" where the fact is no number.
    low, high : Accepted numbers, both included.
    whole : Only whole numbers.
    choices : Each word a fact may hold, with what the screen says for it.
    baseline : The harmless answer. Tests start from it; no verdict does.
    default : What holds where nobody said anything: UNKNOWN for every question.
    """

    fact: str
    about: str
    kind: Kind
    unit: str = ""
    low: float = 0
    high: float = 0
    whole: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    baseline: Value
    default: Value = UNKNOWN

    @property
    def words(self) -> tuple[str, ...]:
        """The words that the fact may hold; empty for numbers and for yes or no."""
        return tuple(word for word, _ in self.choices)

    def fault_of(self, value: object) -> str:
        """What is wrong with `value`, in one sentence with what is allowed; "" where nothing is."""
        if value is UNKNOWN:
            return ""
        if self.kind is Kind.NUMBER:
            return self._fault_of_number(value)
        if self.kind is Kind.YES_NO:
            return "" if isinstance(value, bool) else f"{self._named} is {value!r}; yes or no is allowed."
        given = value if self.kind is Kind.SET and isinstance(value, frozenset) else (value,)
        strange = sorted(str(word) for word in given if word not in self.words)
        return f"{self._named} is {', '.join(strange)}; allowed are {', '.join(self.words)}." if strange else ""

    @property
    def _named(self) -> str:
        return self.about[0].upper() + self.about[1:]

    def _fault_of_number(self, value: object) -> str:
        allowed = f"{self.low:g} to {self.high:g} {self.unit} are allowed"
        if isinstance(value, bool) or not isinstance(value, int | float):
            return f"{self._named} is {value!r}, which is no number; {allowed}."
        if not self.low <= value <= self.high:  # also refuses what is not a number (nan)
            return f"{self._named} is {value:g} {self.unit}; {allowed}."
        if self.whole and value != int(value):
            return f"{self._named} is {value:g} {self.unit}; whole numbers are allowed."
        return ""


@dataclass(frozen=True, kw_only=True)
class Question(FactSpec):
    """One question of the consultation.

    never : The number that stands for "never"; None where there is none.
    needed_if : The plan or the earlier answer that makes the question count; None: always.
    hangs_on : Earlier questions that `needed_if` looks at.
    if_not_needed : What an open answer counts as once `needed_if` is a no; UNKNOWN: it stays open.
    why : Why it is asked, in a sentence to say aloud.
    at_chair : Asked at the chair in the first two minutes.
    by_zone : May be answered for one zone otherwise than for the head; a question without it is of the whole person.
    """

    topic: str
    text: str
    never: float | None = None
    needed_if: Expression | None
    hangs_on: frozenset[str] = frozenset()
    if_not_needed: Value = UNKNOWN
    why: str
    sources: tuple[str, ...]
    at_chair: bool = False
    by_zone: bool = False

    def is_needed(self, facts: Mapping[str, Value]) -> bool:
        """Whether to ask it now: it counts, or it may still count for a plan whose figures are open.

        A follow-up question waits for the question that it hangs on.
        """
        if self.needed_if is None:
            return True
        need = self.needed_if.decide(facts)
        return need.truth is True or (need.truth is None and not need.missing & self.hangs_on)


def read_sources(row: Mapping[str, Any]) -> tuple[str, ...]:
    """The sources of a row; raises CareTableError where there is none or one is no key and no agreed phrase."""
    sources = tuple(row.get("sources", ()))
    if not sources:
        raise CareTableError("has no source; name a key of docs/sources.md or say 'common practice'.")
    for source in sources:
        if source not in PHRASES and not _SOURCE_KEY.fullmatch(source):
            raise CareTableError(f"names the source '{source}', no key and none of {', '.join(PHRASES)}.")
    return sources


def _held(row: Mapping[str, Any], key: str) -> Value:
    value: Value | list[str] = row[key]
    if isinstance(value, list):
        return frozenset(value)
    return UNKNOWN if value == str(UNKNOWN) else value


def _spec_fields(row: Mapping[str, Any], default: Value) -> dict[str, Any]:
    fields = {key: row[key] for key in ("fact", "about", "unit", "low", "high", "whole") if key in row}
    choices = tuple(row.get("choices", {}).items())
    return fields | {
        "kind": Kind(row["kind"]),
        "choices": choices,
        "baseline": _held(row, "baseline"),
        "default": default,
    }


def _read_figure(row: Mapping[str, Any]) -> FactSpec:
    return FactSpec(**_spec_fields(row, default=_held(row, "default" if "default" in row else "baseline")))


def _read_question(row: Mapping[str, Any], known: Mapping[str, Holds], asked: frozenset[str]) -> Question:
    needed_if = None if row["needed_if"] == "always" else read_expression(row["needed_if"], known)
    rest = {
        key: row[key] for key in ("topic", "text", "never", "why", "at_chair", "by_zone", "if_not_needed") if key in row
    }
    hangs_on = frozenset() if needed_if is None else needed_if.names & asked
    fields = _spec_fields(row, UNKNOWN) | rest
    return Question(**fields, needed_if=needed_if, hangs_on=hangs_on, sources=read_sources(row))


def _checked(spec: FactSpec) -> FactSpec:
    fault = spec.fault_of(spec.baseline)
    if fault:
        raise CareTableError(fault)
    return spec


@dataclass(frozen=True)
class FactTable:
    """All facts that rules may name: the questions, in the order in which they are asked, and the plan's figures."""

    questions: tuple[Question, ...]
    plan_figures: tuple[FactSpec, ...]

    @cached_property
    def specs(self) -> dict[str, FactSpec]:
        """Every fact by its name."""
        return {spec.fact: spec for spec in (*self.questions, *self.plan_figures)}

    @cached_property
    def question_of(self) -> dict[str, Question]:
        """Every question by the name of its fact."""
        return {question.fact: question for question in self.questions}


def read_fact_table(text: str) -> FactTable:
    """The facts in a TOML text; raises CareTableError naming the first row that is not sound."""
    tables = tomllib.loads(text)
    rows = [*tables["question"], *tables["plan_figure"]]
    _refuse_twins(row["fact"] for row in rows)
    known = {row["fact"]: _row_holds(row) for row in rows}
    asked = frozenset(row["fact"] for row in tables["question"])
    questions = []
    for row in tables["question"]:
        try:
            questions.append(_read_question(row, known, asked))
            _checked(questions[-1])
        except (KeyError, TypeError, ValueError) as fault:
            raise CareTableError(f"Question '{row['fact']}': {fault}") from fault
    return FactTable(tuple(questions), tuple(_checked(_read_figure(row)) for row in tables["plan_figure"]))


def _row_holds(row: Mapping[str, Any]) -> FactSpec:
    return FactSpec(**_spec_fields(row, UNKNOWN))


def _refuse_twins(names: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise CareTableError(f"'{name}' stands in the table twice.")
        seen.add(name)


FACT_TABLE = read_fact_table((TABLES / "questions.toml").read_text("utf-8"))
QUESTIONS = FACT_TABLE.questions
PLAN_FIGURES = FACT_TABLE.plan_figures
FIRST_QUESTIONS = tuple(question for question in QUESTIONS if question.at_chair)
ZONE_QUESTIONS = tuple(question for question in QUESTIONS if question.by_zone)

__all__ = [
    "FACT_TABLE",
    "FIRST_QUESTIONS",
    "PLAN_FIGURES",
    "QUESTIONS",
    "ZONE_QUESTIONS",
    "FactSpec",
    "Question",
    "Unknown",
]
