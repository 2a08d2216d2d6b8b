"""The questions that a client answers at home: care's own, as fields of a form, and the answers read back from it."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from estimator.care.expressions import Kind
from estimator.care.questions import FACT_TABLE, Question
from estimator.errors import BadInputError
from estimator.toning.targets import TONES

NEVER = "never"  # ticked beside a number of weeks
NONE_OF_THESE = "none"
MOST_LETTERS = 20  # of a number
LEVELS = (
    "black", "darkest brown", "dark brown", "brown", "light brown",
    "dark blonde", "blonde", "light blonde", "very light blonde", "lightest blonde",
)  # fmt: skip


@dataclass(frozen=True)
class AskedQuestion:
    """One question as it stands on a page. text : In words for the client."""

    question: Question
    text: str

    @property
    def fact(self) -> str:
        return self.question.fact

    @property
    def form(self) -> str:
        """How it is answered: number, one or several."""
        return {Kind.NUMBER: "number", Kind.SET: "several"}.get(self.question.kind, "one")

    @property
    def boxes(self) -> tuple[tuple[str, str], ...]:
        """What can be ticked, each with its words."""
        if self.question.kind is Kind.YES_NO:
            return (("yes", "yes"), ("no", "no"))
        none = ((NONE_OF_THESE, "none of these"),) if self.form == "several" else ()
        return (*self.question.choices, *none)

    def shown(self, answers: Mapping[str, Any]) -> tuple[str, ...]:
        """What is ticked or written, from the answers as they are kept."""
        value = answers.get(self.fact)
        if value is None:
            return ()
        if isinstance(value, list):
            return tuple(str(word) for word in value)
        if isinstance(value, bool):
            return ("yes" if value else "no",)
        if isinstance(value, float) and value == self.question.never:
            return (NEVER,)
        return (f"{value:g}" if isinstance(value, float) else str(value),)


@cache
def asked_on(page: str) -> tuple[AskedQuestion, ...]:
    """The questions of one page, "hair" or "health", in their order."""
    text = files("estimator.intake").joinpath("tables", "asked.toml").read_text(encoding="utf-8")
    rows = [row for row in tomllib.loads(text)["asked"] if row["page"] == page and row["source"]]
    found = ((FACT_TABLE.question_of[row["fact"]], row.get("text", "")) for row in rows)
    return tuple(AskedQuestion(question, words or question.text) for question, words in found)


def facts_on(page: str) -> frozenset[str]:
    """The facts that a page asks for."""
    return frozenset(asked.fact for asked in asked_on(page))


def answers_in(page: str, fields: Mapping[str, Sequence[str]]) -> tuple[dict[str, Any], list[str]]:
    """The answers that the fields of a page hold, and what is wrong with those that hold none; an empty one is open."""
    answers, faults = {}, []
    for asked in asked_on(page):
        try:
            value = _answer(asked, [text for text in fields.get(asked.fact, ()) if text])
        except BadInputError as fault:
            faults.append(str(fault))
            continue
        if value is not None:
            answers[asked.fact] = value
    return answers, faults


def _answer(asked: AskedQuestion, texts: Sequence[str]) -> Any:
    if not texts:
        return None
    if asked.form == "number":
        return _number(asked, texts)
    allowed = dict(asked.boxes)
    if any(text not in allowed for text in texts):
        raise BadInputError(f"{asked.text} Choose one of the answers that stand there.")
    if asked.form == "several":
        # "None of these" beside something named: what was named is the more careful answer.
        named = sorted({text for text in texts if text != NONE_OF_THESE})
        return named or [NONE_OF_THESE]
    return texts[0] == "yes" if asked.question.kind is Kind.YES_NO else texts[0]


def _number(asked: AskedQuestion, texts: Sequence[str]) -> float:
    question = asked.question
    written = [text.strip() for text in texts if text != NEVER or question.never is None]
    if not written:
        return float(question.never or 0)
    said = written[0][:MOST_LETTERS]
    try:
        number = float(said.replace(",", "."))
    except ValueError:
        number = float("nan")
    if not question.low <= number <= question.high or (question.whole and number != int(number)):
        raise BadInputError(
            f"{asked.text} You wrote {said!r}. Write a number from {question.low:g} to {question.high:g}, or nothing."
        )
    return number


def wished_in(fields: Mapping[str, Sequence[str]]) -> tuple[float, str, str]:
    """Level, tone and own words of the wish: 0 and "" where nothing was said. Raises BadInputError."""
    level, tone, words = (next(iter(fields.get(name, ())), "").strip() for name in ("level", "tone", "words"))
    words = words.replace("\r\n", "\n")  # as the browser counted it
    if level and level not in {str(number) for number in range(1, len(LEVELS) + 1)}:
        raise BadInputError("Choose how light from the list.")
    if tone and tone not in TONES:
        raise BadInputError("Choose the tone from the list.")
    return float(level or 0), tone, words
