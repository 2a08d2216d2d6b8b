"""Each rule alone: it fires where it should and is silent next door; and every part of its condition counts."""

import ast
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from estimator.care.expressions import Expression
from estimator.care.facts import Facts, baseline_facts
from estimator.care.rules import Rule, load_rules

NEIGHBOURS = tomllib.loads((Path(__file__).parents[1] / "cases" / "care_neighbours.toml").read_text("utf-8"))[
    "neighbours"
]
RULES = {rule.code: rule for rule in load_rules()}


def facts_of(given: dict[str, object]) -> Facts:
    """The harmless client, with the facts that a case names."""
    return baseline_facts(
        **{name: frozenset(value) if isinstance(value, list) else value for name, value in given.items()}
    )


def places(code: str) -> list[tuple[Facts, bool]]:
    """Facts for a rule, each with whether it fires there (source: tests/cases/care_neighbours.toml)."""
    found = []
    for row in (row for row in NEIGHBOURS if row["code"] == code):
        found += [(facts_of(row["given"] | change), True) for change in [{}, *row.get("also", [])]]
        found += [(facts_of(row["given"] | change), False) for change in row["silent"]]
    return found


@pytest.mark.parametrize("code", RULES)
def test_a_rule_fires_where_it_should_and_is_silent_next_door(code):
    assert {fires for _, fires in places(code)} == {True, False}, "needs a place and a neighbour"
    for facts, fires in places(code):
        assert RULES[code].look_at(facts).truth is fires, facts


def test_neighbours_differ_in_a_single_fact():
    assert all(len(change) == 1 for row in NEIGHBOURS for change in [*row.get("also", []), *row["silent"]])


def mutants(when: Expression) -> Iterator[Expression]:
    """The condition with one part broken: and/or swapped, a part left out, a bound moved, a comparison turned."""
    size = len(list(ast.walk(when.body)))
    for place in range(size):
        for variant in range(3):
            body = ast.parse(when.text, mode="eval").body
            node = list(ast.walk(body))[place]
            if break_node(node, variant):
                yield Expression(ast.unparse(body), when.names, body)


TURNED = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}


def break_node(node: ast.AST, variant: int) -> bool:
    """Break one node in one of its ways; False where it has no such way."""
    match node:
        case ast.BoolOp() if variant == 0:
            node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        case ast.BoolOp() if len(node.values) >= variant + 1:
            node.values = [
                part for i, part in enumerate(node.values) if i != (0 if variant == 1 else len(node.values) - 1)
            ]
        case ast.Compare() if variant < len(node.ops):
            node.ops[variant] = TURNED[type(node.ops[variant])]()
        case ast.Constant(value=int() | float()) if variant < 2 and not isinstance(node.value, bool):
            node.value = node.value + (1, -1)[variant]
        case ast.Tuple() if len(node.elts) > 1 and variant < 2:
            node.elts = node.elts[1:] if variant == 0 else node.elts[:-1]
        case _:
            return False
    return True


@pytest.mark.slow
@pytest.mark.parametrize("code", RULES)
def test_no_part_of_a_condition_could_be_broken_unseen(code):
    rule: Rule = RULES[code]
    unseen = [
        mutant.text
        for mutant in mutants(rule.when)
        if all(mutant.decide(facts.by_name).truth is fires for facts, fires in places(code))
    ]
    assert not unseen
