"""What could not be decided because nobody has said: findings that name the missing facts, one for each topic."""

from dataclasses import dataclass

from estimator.care.facts import Facts
from estimator.care.questions import FACT_TABLE
from estimator.care.verdicts import CareFinding, CareWord

PLAN_TOPIC = "the plan"


@dataclass(frozen=True)
class Undecided:
    """A rule that these facts leave open, and the facts it waits for."""

    code: str
    verdict: CareWord
    missing: frozenset[str]
    sources: tuple[str, ...]


def missing_answers(undecided: list[Undecided], facts: Facts) -> list[CareFinding]:
    """One finding `answer-missing` for each topic that holds the verdict up, and one `answer-open` for all the rest."""
    holding = [rule for rule in undecided if rule.verdict is not CareWord.CAUTION]
    names = worth_asking(holding, facts)
    topics = dict.fromkeys(_topic_of(name) for name in names)
    findings = [_holding_up(topic, [name for name in names if _topic_of(name) == topic], holding) for topic in topics]
    lesser = [rule for rule in undecided if rule.verdict is CareWord.CAUTION]
    lesser_names = [name for name in worth_asking(lesser, facts) if name not in names]
    return [*findings, _may_add_caution(lesser_names, lesser)] if lesser_names else findings


def worth_asking(undecided: list[Undecided], facts: Facts) -> list[str]:
    """The facts to ask for, in the order of the table; a follow-up question gives way to the one it hangs on."""
    names = {
        name for rule in undecided for fact in _questions_first(rule.missing) for name in _first_to_ask(fact, facts)
    }
    return [name for name in FACT_TABLE.specs if name in names]


def _questions_first(missing: frozenset[str]) -> frozenset[str]:
    """The questions among the missing facts; a figure of the plan only where nothing is left to ask."""
    return missing & FACT_TABLE.question_of.keys() or missing


def _first_to_ask(name: str, facts: Facts) -> frozenset[str]:
    question = FACT_TABLE.question_of.get(name)
    if question is None or question.needed_if is None:
        return frozenset({name})
    need = question.needed_if.decide(facts.by_name)
    waits_for = need.missing & question.hangs_on if need.truth is None else frozenset[str]()
    return waits_for or frozenset({name})


def _topic_of(name: str) -> str:
    question = FACT_TABLE.question_of.get(name)
    return PLAN_TOPIC if question is None else question.topic


def _holding_up(topic: str, names: list[str], holding: list[Undecided]) -> CareFinding:
    waiting = [rule for rule in holding if rule.missing & set(names)]
    asked = _asked(names)
    return CareFinding(
        code="answer-missing",
        verdict=CareWord.TEST_FIRST,
        message=f"Not known yet ({topic}): {'; '.join(FACT_TABLE.specs[name].about for name in names)}.",
        remedy=asked or "Finish the plan, then judge again.",
        source="our assumption",
        severity=4,
        missing=tuple(names),
        rules=tuple(rule.code for rule in waiting),
    )


def _asked(names: list[str]) -> str:
    return " ".join(FACT_TABLE.question_of[name].text for name in names if name in FACT_TABLE.question_of)


def _may_add_caution(names: list[str], lesser: list[Undecided]) -> CareFinding:
    return CareFinding(
        code="answer-open",
        verdict=CareWord.CAUTION,
        message=f"Not asked yet: {'; '.join(FACT_TABLE.specs[name].about for name in names)}.",
        remedy="These answers can't stop the work, but each may add a caution; ask when there is time.",
        source="our assumption",
        severity=1,
        missing=tuple(names),
        rules=tuple(rule.code for rule in lesser if rule.missing & set(names)),
    )
