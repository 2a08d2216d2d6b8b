"""The judge: looks at facts with every rule of the table, and at what could not be decided."""

import string
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from functools import cache
from typing import Any

from estimator.care.answers import Answer, fault_of_date, fault_of_test
from estimator.care.expressions import Decision, Expression, Holds, Value, read_expression
from estimator.care.facts import Facts
from estimator.care.missing import Undecided, missing_answers, worth_asking
from estimator.care.questions import FACT_TABLE, TABLES, CareTableError, Question, read_sources
from estimator.care.unknown import UNKNOWN
from estimator.care.verdicts import CareFinding, CareVerdict, CareWord, verdict_from
from estimator.errors import BadInputError

__all__ = [
    "About",
    "AnsweredBy",
    "CareFinding",
    "CareVerdict",
    "CareWord",
    "Rule",
    "answered",
    "judge",
    "judge_with_answers",
    "load_rules",
    "open_lesser_questions",
    "open_questions",
    "planned_volume",
    "read_rules",
    "refuse_answers",
]


class About(StrEnum):
    """Whom a rule speaks of: one zone's hair, whose plan it then withholds alone, or the whole person."""

    HEAD = "head"
    ZONE = "zone"


class AnsweredBy(StrEnum):
    """What turns a test-first finding into a caution."""

    CHANGED_FACTS = "changed facts"
    DOCTOR = "a doctor"
    WRITTEN_TEST = "a written test"


@dataclass(frozen=True)
class Rule:
    """One row of tables/rules.toml.

    no_signature : Nobody's word opens it; only changed facts do.
    about : "zone" only where every fact that it looks at may differ from zone to zone.
    """

    code: str
    topic: str
    when: Expression
    verdict: CareWord
    severity: int
    message: str
    remedy: str
    sources: tuple[str, ...]
    answered_by: AnsweredBy
    no_signature: bool
    about: About

    def look_at(self, facts: Facts) -> Decision:
        """Whether the rule fires for these facts; undecided where a fact that counts is not known."""
        return self.when.decide(facts.settled)

    def finding(self, facts: Facts) -> CareFinding:
        """What the rule says, with the figures of these facts."""
        message = self.message.format_map({name: _said(name, facts.by_name[name]) for name in self.when.names})
        answerable = self.answered_by is not AnsweredBy.CHANGED_FACTS
        return CareFinding(
            self.code, self.verdict, message, self.remedy, "; ".join(self.sources), self.severity, answerable
        )


def _said(name: str, value: Value) -> str:
    if isinstance(value, str):
        return dict(FACT_TABLE.specs[name].choices)[value]
    # One decimal: a figure of a plan comes with as many digits as the machine has.
    return str(value) if value is UNKNOWN or not isinstance(value, int | float) else f"{round(value, 1):g}"


# --- loading


def read_rules(text: str, known: Mapping[str, Holds] = FACT_TABLE.specs) -> tuple[Rule, ...]:
    """The rules in a TOML text; raises CareTableError naming the first row that is not complete and sound."""
    rules: list[Rule] = []
    for row in tomllib.loads(text)["rule"]:
        try:
            rules.append(_read_rule(row, known))
        except (KeyError, TypeError, ValueError) as fault:
            raise CareTableError(f"Rule '{row.get('code', '?')}': {fault}") from fault
        if rules[-1].code in {rule.code for rule in rules[:-1]}:
            raise CareTableError(f"Rule '{row['code']}' stands in the table twice.")
    return tuple(rules)


def _read_rule(row: Mapping[str, Any], known: Mapping[str, Holds]) -> Rule:
    texts = {key: row[key] for key in ("code", "topic", "message", "remedy")}
    if not all(isinstance(text, str) and text.strip() for text in texts.values()):
        raise CareTableError("needs a code, a topic, a message and a remedy.")
    verdict = CareWord(row["verdict"])
    answered_by = AnsweredBy(row.get("answered_by", AnsweredBy.CHANGED_FACTS))
    if verdict is CareWord.CLEAR or (verdict is not CareWord.TEST_FIRST and "answered_by" in row):
        raise CareTableError("says 'clear', or lets an answer open what is no 'test first'.")
    if row["severity"] not in (1, 2, 3, 4, 5):
        raise CareTableError(f"has the severity {row['severity']}; 1 to 5 are allowed.")
    when = read_expression(row["when"], known)
    _check_message(row["message"], when)
    return Rule(
        **texts,
        when=when,
        verdict=verdict,
        severity=row["severity"],
        sources=read_sources(row),
        answered_by=answered_by,
        no_signature=row.get("no_signature", False),
        about=_read_about(row, when, known),
    )


def _read_about(row: Mapping[str, Any], when: Expression, known: Mapping[str, Holds]) -> About:
    about = About(row.get("about", About.HEAD))
    of_person = [name for name in sorted(when.names) if not getattr(known[name], "by_zone", True)]
    if about is About.ZONE and of_person:
        raise CareTableError(f"is about a zone, and looks at {', '.join(of_person)}, which the whole person has.")
    return about


def _check_message(message: str, when: Expression) -> None:
    named = {name for _, name, _, _ in string.Formatter().parse(message) if name is not None}
    if not named <= when.names:
        raise CareTableError(f"fills in {', '.join(sorted(named - when.names))}, which the rule does not look at.")


@cache
def load_rules() -> tuple[Rule, ...]:
    """The rules of tables/rules.toml, read and checked once."""
    return read_rules((TABLES / "rules.toml").read_text("utf-8"))


# --- judging


def judge(facts: Facts, rules: tuple[Rule, ...] | None = None) -> CareVerdict:
    """The verdict on these facts, and every finding behind it, the worst first.

    A stop or test-first rule that can't be decided, because a fact is not known, makes a finding `answer-missing`
    with the verdict "test first"; a caution that can't be decided makes a mild finding `answer-open`.
    """
    looks = [(rule, rule.look_at(facts)) for rule in (load_rules() if rules is None else rules)]
    fired = [rule.finding(facts) for rule, look in looks if look.truth is True]
    return verdict_from(fired + missing_answers(_undecided(looks), facts))


def _undecided(looks: list[tuple[Rule, Decision]]) -> list[Undecided]:
    return [
        Undecided(rule.code, rule.verdict, look.missing, rule.sources) for rule, look in looks if look.truth is None
    ]


def judge_with_answers(facts: Facts, answers: tuple[Answer, ...], today: date) -> CareVerdict:
    """As `judge`, but a test-first finding with a written answer that covers it counts as a caution and says so.

    An answer that does not cover the plan (weaker strength, too old) leaves its finding as it is and says why.
    Raises BadInputError for an answer to a rule that no answer opens, and for a day still to come.
    """
    refuse_answers(answers, today)
    return verdict_from([answered(finding, answers, planned_volume(facts), today) for finding in judge(facts).findings])


def refuse_answers(answers: tuple[Answer, ...], today: date) -> None:
    """Raise BadInputError for an answer to a rule that no answer opens, and for a day still to come."""
    by_code = {rule.code: rule for rule in load_rules()}
    for answer in answers:
        _refuse_answer(answer, by_code.get(answer.code), today)


def answered(finding: CareFinding, answers: tuple[Answer, ...], volume: float | None, today: date) -> CareFinding:
    """The finding as a caution where an answer to it, and to its zone, covers a plan with this strongest developer."""
    answer = next((a for a in answers if (a.code, a.zone) == (finding.code, finding.zone)), None)
    if answer is None:
        return finding
    rule = next(rule for rule in load_rules() if rule.code == finding.code)
    if rule.answered_by is AnsweredBy.WRITTEN_TEST and (fault := fault_of_test(answer, volume, today)):
        return replace(finding, message=f"{finding.message} {fault}")
    return replace(finding, verdict=CareWord.CAUTION, answer=answer)


def _refuse_answer(answer: Answer, rule: Rule | None, today: date) -> None:
    if rule is None:
        raise BadInputError(f"'{answer.code}' is no finding of this program; check the spelling.")
    if rule.no_signature:
        raise BadInputError(f"No signature opens '{rule.code}'; only changed facts do. {rule.remedy}")
    if rule.answered_by is AnsweredBy.CHANGED_FACTS:
        raise BadInputError(f"'{rule.code}' is not opened by a note; change what it rests on. {rule.remedy}")
    if fault := fault_of_date(answer, today):
        raise BadInputError(fault)


def planned_volume(facts: Facts) -> float | None:
    """The strongest developer of the plan; None where one of them is not known."""
    if facts.lightener_volume is UNKNOWN or facts.dye_volume is UNKNOWN:
        return None
    return max(facts.lightener_volume, facts.dye_volume)


# --- what is still to ask


def open_questions(facts: Facts) -> tuple[Question, ...]:
    """The questions whose answers can still stop this plan or ask for a test, in the order of the consultation."""
    return _questions_behind(facts, (CareWord.STOP, CareWord.TEST_FIRST))


def open_lesser_questions(facts: Facts) -> tuple[Question, ...]:
    """The questions whose answers can add no more than a caution, in the order of the consultation."""
    holding_up = open_questions(facts)
    return tuple(question for question in _questions_behind(facts, (CareWord.CAUTION,)) if question not in holding_up)


def _questions_behind(facts: Facts, words: tuple[CareWord, ...]) -> tuple[Question, ...]:
    looks = [(rule, rule.look_at(facts)) for rule in load_rules() if rule.verdict in words]
    names = worth_asking(_undecided(looks), facts)
    return tuple(FACT_TABLE.question_of[name] for name in names if name in FACT_TABLE.question_of)
