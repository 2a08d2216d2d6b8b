"""Plain expressions over facts, such as "age_years < 16 and wants_lightener", with a third truth value: undecided.

Only names, constants, comparisons, and/or/not, in, and + - * are read; anything else does not load. Names and
the words they are compared with are checked against what the facts may hold, so a misspelt word does not load.
"""

import ast
import operator
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import reduce
from typing import Protocol

from estimator.care.unknown import UNKNOWN, Unknown

Value = bool | int | float | str | frozenset[str] | Unknown
Facts = Mapping[str, Value]


class ExpressionError(ValueError):
    """The text is no expression of this small language; says where it fails."""


class Kind(StrEnum):
    """What a fact holds."""

    NUMBER = "number"
    YES_NO = "yes or no"
    CHOICE = "one of"
    SET = "any of"


class Holds(Protocol):
    """What the checker has to know of a fact."""

    @property
    def kind(self) -> Kind: ...
    @property
    def words(self) -> tuple[str, ...]: ...


@dataclass(frozen=True)
class Decision:
    """Whether an expression holds: True, False, or None where missing facts leave it undecided."""

    truth: bool | None
    missing: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Expression:
    """An expression that has been read and checked once, and can be decided for any facts."""

    text: str
    names: frozenset[str]
    body: ast.expr

    def decide(self, facts: Facts) -> Decision:
        """Whether the expression holds for these facts, and which unknown facts leave it open."""
        return _decide(self.body, facts)


def read_expression(text: str, known: Mapping[str, Holds]) -> Expression:
    """The expression in `text`, checked against the facts in `known`; raises ExpressionError."""
    try:
        body = ast.parse(text, mode="eval").body
    except SyntaxError as fault:
        raise ExpressionError(f"'{text}' can't be read: {fault.msg}.") from None
    _check_truth(body, known)
    names = frozenset(node.id for node in ast.walk(body) if isinstance(node, ast.Name))
    return Expression(text, names, body)


# --- deciding: Kleene's three values; False settles an "and", True settles an "or"


def _decide(node: ast.expr, facts: Facts) -> Decision:
    match node:
        case ast.BoolOp(op=ast.And(), values=parts):
            return _all_of([_decide(part, facts) for part in parts])
        case ast.BoolOp(op=ast.Or(), values=parts):
            return _opposite(_all_of([_opposite(_decide(part, facts)) for part in parts]))
        case ast.UnaryOp(op=ast.Not(), operand=part):
            return _opposite(_decide(part, facts))
        case ast.Compare():
            return _compare(node, facts)
        case ast.Name(id=name):
            value = facts[name]
            return Decision(None, frozenset({name})) if value is UNKNOWN else Decision(value is True)
    raise ExpressionError(f"{ast.unparse(node)} is not a condition.")


def _opposite(decision: Decision) -> Decision:
    return Decision(None if decision.truth is None else not decision.truth, decision.missing)


def _all_of(parts: list[Decision]) -> Decision:
    if any(part.truth is False for part in parts):
        return Decision(False)
    missing = reduce(frozenset.union, (part.missing for part in parts if part.truth is None), frozenset[str]())
    return Decision(None, missing) if any(part.truth is None for part in parts) else Decision(True)


_COMPARE: dict[type[ast.cmpop], Callable[..., bool]] = {
    ast.Eq: operator.eq,
    ast.NotEq: operator.ne,
    ast.Lt: operator.lt,
    ast.LtE: operator.le,
    ast.Gt: operator.gt,
    ast.GtE: operator.ge,
    ast.In: lambda word, group: word in group,
    ast.NotIn: lambda word, group: word not in group,
}
_ARITHMETIC: dict[type[ast.operator], Callable[..., float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
}


def _compare(node: ast.Compare, facts: Facts) -> Decision:
    operands = [node.left, *node.comparators]
    pairs = zip(operands, node.ops, operands[1:], strict=False)
    return _all_of([_compare_pair(left, op, right, facts) for left, op, right in pairs])


def _compare_pair(left: ast.expr, op: ast.cmpop, right: ast.expr, facts: Facts) -> Decision:
    missing = {name.id for side in (left, right) for name in _names(side) if facts[name.id] is UNKNOWN}
    if missing:
        return Decision(None, frozenset(missing))
    return Decision(_COMPARE[type(op)](_value(left, facts), _value(right, facts)))


def _names(node: ast.expr) -> list[ast.Name]:
    return [part for part in ast.walk(node) if isinstance(part, ast.Name)]


def _value(node: ast.expr, facts: Facts) -> object:
    match node:
        case ast.Constant(value=value):
            return value
        case ast.Name(id=name):
            return facts[name]
        case ast.Tuple(elts=parts):
            return tuple(_value(part, facts) for part in parts)
        case ast.BinOp(left=left, op=op, right=right):
            return _ARITHMETIC[type(op)](_value(left, facts), _value(right, facts))
    raise ExpressionError(f"{ast.unparse(node)} is not a value.")


# --- checking, once, when a table is loaded


def _check_truth(node: ast.expr, known: Mapping[str, Holds]) -> None:
    match node:
        case ast.BoolOp(values=parts):
            for part in parts:
                _check_truth(part, known)
        case ast.UnaryOp(op=ast.Not(), operand=part):
            _check_truth(part, known)
        case ast.Compare(left=left, ops=ops, comparators=rights):
            for first, op, second in zip([left, *rights], ops, rights, strict=False):
                _check_pair(first, op, second, known)
        case ast.Name(id=name) if _fact(name, known).kind is Kind.YES_NO:
            pass
        case _:
            raise ExpressionError(f"'{ast.unparse(node)}' is neither a comparison nor a yes-or-no fact.")


def _fact(name: str, known: Mapping[str, Holds]) -> Holds:
    if name not in known:
        raise ExpressionError(f"'{name}' is no fact that anybody is asked for.")
    return known[name]


def _check_pair(left: ast.expr, op: ast.cmpop, right: ast.expr, known: Mapping[str, Holds]) -> None:
    match left, op, right:
        case ast.Name(id=name), ast.Eq() | ast.NotEq(), ast.Constant(value=str(word)):
            _check_words(name, Kind.CHOICE, (word,), known)
        case ast.Name(id=name), ast.In() | ast.NotIn(), ast.Tuple(elts=parts):
            words = tuple(
                part.value for part in parts if isinstance(part, ast.Constant) and isinstance(part.value, str)
            )
            if len(words) != len(parts):
                raise ExpressionError(f"'{ast.unparse(right)}' may list words only.")
            _check_words(name, Kind.CHOICE, words, known)
        case ast.Constant(value=str(word)), ast.In() | ast.NotIn(), ast.Name(id=name):
            _check_words(name, Kind.SET, (word,), known)
        case _, ast.Lt() | ast.LtE() | ast.Gt() | ast.GtE() | ast.Eq() | ast.NotEq(), _:
            _check_number(left, known)
            _check_number(right, known)
        case _:
            raise ExpressionError(f"'{ast.unparse(left)}' and '{ast.unparse(right)}' can't be compared like this.")


def _check_words(name: str, kind: Kind, words: tuple[str, ...], known: Mapping[str, Holds]) -> None:
    fact = _fact(name, known)
    if fact.kind is not kind:
        raise ExpressionError(f"'{name}' holds {fact.kind}, and is compared as if it held {kind}.")
    for word in words:
        if word not in fact.words:
            raise ExpressionError(f"'{name}' is never '{word}'; it may be {', '.join(fact.words)}.")


def _check_number(node: ast.expr, known: Mapping[str, Holds]) -> None:
    match node:
        case ast.Constant(value=int() | float() as value) if not isinstance(value, bool):
            pass
        case ast.Name(id=name) if _fact(name, known).kind is Kind.NUMBER:
            pass
        case ast.BinOp(left=left, op=ast.Add() | ast.Sub() | ast.Mult(), right=right):
            _check_number(left, known)
            _check_number(right, known)
        case _:
            raise ExpressionError(f"'{ast.unparse(node)}' is not a number.")
