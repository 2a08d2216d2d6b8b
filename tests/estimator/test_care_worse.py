"""Facts made worse never make a verdict milder, and neither does knowing less."""

import tomllib
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.care.expressions import Kind
from estimator.care.facts import Facts, baseline_facts
from estimator.care.questions import FACT_TABLE, FactSpec
from estimator.care.rules import judge, load_rules, open_lesser_questions, open_questions
from estimator.care.unknown import UNKNOWN
from estimator.care.verdicts import WORST_FIRST, CareVerdict

CASES = Path(__file__).parents[1] / "cases"
WORSE = tomllib.loads((CASES / "care_worse.toml").read_text("utf-8"))
SPECS = FACT_TABLE.specs
FEW = settings(max_examples=50, derandomize=True, deadline=None, database=None)


def rank(verdict: CareVerdict) -> int:
    """0 for a stop, 3 for clear."""
    return WORST_FIRST.index(verdict.verdict)


def telling_numbers(fact: str) -> list[float]:
    """Numbers on both sides of every bound that a rule may set for this fact, and the ends of what is allowed."""
    spec = SPECS[fact]
    bounds = {0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 12, 15, 16, 18, 20, 21, 24, 30, 31, 40, 41, 48, 50, 51, 168, 180, 181}
    return sorted(float(n) for n in bounds | {spec.low, spec.high} if spec.low <= n <= spec.high)


def answers_to(spec: FactSpec) -> st.SearchStrategy[object]:
    """Any allowed answer."""
    if spec.kind is Kind.NUMBER:
        return st.sampled_from(telling_numbers(spec.fact))
    if spec.kind is Kind.SET:
        return st.frozensets(st.sampled_from(spec.words), max_size=2)
    return st.booleans() if spec.kind is Kind.YES_NO else st.sampled_from(spec.words)


def changes() -> st.SearchStrategy[tuple[str, object]]:
    """One fact and an answer to it."""
    return st.sampled_from(list(SPECS.values())).flatmap(lambda spec: st.tuples(st.just(spec.fact), answers_to(spec)))


WISHES = ("wants_lightener", "wants_oxidative_dye", "wants_direct_dye", "wants_straightening", "touches_scalp")


@st.composite
def clients(draw: st.DrawFn) -> Facts:
    """Clients with a plan, harmless but for a few facts: a client with everything wrong is a stop and tells nothing."""
    wishes = {fact: draw(st.booleans()) for fact in WISHES}
    return baseline_facts(**wishes | dict(draw(st.lists(changes(), max_size=3))))


def steps_to_worse() -> list[tuple[str, object, object]]:
    """Every (fact, better answer, worse answer) of tests/cases/care_worse.toml, neighbouring answers only."""
    steps: list[tuple[str, object, object]] = []
    for fact, direction in WORSE["numbers"].items():
        numbers = telling_numbers(fact)
        steps += [(fact, *pair[:: 1 if direction == "more" else -1]) for pair in pairwise(numbers)]
    for fact, orders in WORSE["words"].items():
        steps += [(fact, *pair) for order in orders for pair in pairwise(order)]
    steps += [(fact, False, True) for fact in WORSE["yes_is_worse"]["facts"]]
    steps += [(fact, True, False) for fact in WORSE["no_is_worse"]["facts"]]
    words = SPECS["earlier_colour"].words
    steps += [
        ("earlier_colour", frozenset({other} - {word}), frozenset({other, word})) for word in words for other in words
    ]
    # A patch test is worse on both sides of the days in which it counts.
    steps += [("patch_test_age_hours", 48.0, 47.0), ("patch_test_age_hours", 168.0, 169.0)]
    return steps


def test_every_fact_has_a_worse_side():
    assert {fact for fact, _, _ in steps_to_worse()} == set(SPECS)


@pytest.mark.slow
@settings(FEW, max_examples=250)
@given(client=clients(), step=st.sampled_from(steps_to_worse()))
def test_making_one_fact_worse_never_makes_the_verdict_milder(client, step):
    fact, better, worse = step
    milder, stricter = judge(replace(client, **{fact: better})), judge(replace(client, **{fact: worse}))
    assert rank(stricter) <= rank(milder), (milder.codes, stricter.codes)


NEIGHBOURS = tomllib.loads((CASES / "care_neighbours.toml").read_text("utf-8"))["neighbours"]
RULES = {rule.code: rule for rule in load_rules()}


@pytest.mark.slow
@pytest.mark.parametrize("row", NEIGHBOURS, ids=[f"{row['code']}-{place}" for place, row in enumerate(NEIGHBOURS)])
def test_where_a_rule_just_fires_making_any_of_its_facts_worse_keeps_the_verdict(row):
    client = baseline_facts(**{k: frozenset(v) if isinstance(v, list) else v for k, v in row["given"].items()})
    verdict = judge(client)
    for fact, better, worse in steps_to_worse():
        if fact in RULES[row["code"]].when.names and client.by_name[fact] == better:
            after = judge(replace(client, **{fact: worse}))
            assert rank(after) <= rank(verdict), (fact, worse, verdict.codes, after.codes)


@pytest.mark.slow
@FEW
@given(client=clients(), fact=st.sampled_from(sorted(SPECS)))
def test_not_knowing_a_fact_is_never_milder_than_its_mildest_answer(client, fact):
    spec = SPECS[fact]
    answers = {Kind.NUMBER: telling_numbers(fact), Kind.YES_NO: [False, True]}.get(spec.kind, list(spec.words))
    answers = [frozenset(), *({word} for word in spec.words)] if spec.kind is Kind.SET else answers
    known = [judge(replace(client, **{fact: frozenset(a) if isinstance(a, set) else a})) for a in answers]
    assert rank(judge(replace(client, **{fact: UNKNOWN}))) <= max(rank(verdict) for verdict in known)


@pytest.mark.slow
@FEW
@given(client=clients(), left_out=st.sets(st.sampled_from(sorted(RULES)), max_size=60))
def test_no_rule_ever_makes_a_verdict_milder(client, left_out):
    """Taking rows out of the table gives the same verdict or a milder one: rules only add."""
    fewer = tuple(rule for rule in load_rules() if rule.code not in left_out)
    assert rank(judge(client, fewer)) >= rank(judge(client))


@pytest.mark.slow
@FEW
@given(client=clients())
def test_findings_come_worst_first_and_the_first_one_is_the_verdict(client):
    verdict = judge(client)
    order = [(WORST_FIRST.index(finding.verdict), -finding.severity) for finding in verdict.findings]
    assert order == sorted(order)
    assert verdict.verdict == (verdict.findings[0].verdict if verdict.findings else "clear")


@pytest.mark.slow
@FEW
@given(client=clients(), forgotten=st.sets(st.sampled_from(sorted(FACT_TABLE.question_of)), max_size=6))
def test_a_question_is_open_exactly_where_a_finding_names_it_as_missing(client, forgotten):
    facts = replace(client, **dict.fromkeys(forgotten, UNKNOWN))
    named = {name for finding in judge(facts).findings for name in finding.missing}
    asked = {question.fact for question in (*open_questions(facts), *open_lesser_questions(facts))}
    assert asked == named


@pytest.mark.slow
@FEW
@given(client=clients(), forgotten=st.sampled_from(sorted(FACT_TABLE.question_of)))
def test_a_question_that_is_not_needed_holds_nothing_up(client, forgotten):
    facts = replace(client, **{forgotten: UNKNOWN})
    question = FACT_TABLE.question_of[forgotten]
    if question.needed_if is not None and question.needed_if.decide(facts.by_name).truth is False:
        assert not any(forgotten in finding.missing for finding in judge(facts).findings)
