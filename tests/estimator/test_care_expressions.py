"""The small language of conditions: what it reads, what it refuses, and the third truth value.

The truth tables are Kleene's strong three-valued logic (S. C. Kleene, Introduction to Metamathematics, 1952, section
64; from memory), checked against their definition: "unknown" is every yes and every no that it may still become.
"""

from itertools import product

import pytest

from estimator.care.expressions import ExpressionError, Kind, read_expression
from estimator.care.questions import FactSpec
from estimator.care.unknown import UNKNOWN

KNOWN = {
    "dry": FactSpec(fact="dry", about="dry", kind=Kind.YES_NO, baseline=False),
    "warm": FactSpec(fact="warm", about="warm", kind=Kind.YES_NO, baseline=False),
    "weeks": FactSpec(fact="weeks", about="weeks", kind=Kind.NUMBER, high=99, baseline=0),
    "days": FactSpec(fact="days", about="days", kind=Kind.NUMBER, high=99, baseline=0),
    "state": FactSpec(
        fact="state", about="state", kind=Kind.CHOICE, choices=(("good", ""), ("bad", "")), baseline="good"
    ),
    "dyes": FactSpec(
        fact="dyes", about="dyes", kind=Kind.SET, choices=(("box", ""), ("henna", "")), baseline=frozenset()
    ),
}
FACTS = {"dry": False, "warm": True, "weeks": 3, "days": UNKNOWN, "state": "bad", "dyes": frozenset({"box"})}


@pytest.mark.parametrize(
    ("text", "truth"),
    [
        ("warm", True),
        ("not warm", False),
        ("weeks < 3", False),
        ("weeks <= 3 and warm", True),
        ("1 < weeks <= 3", True),
        ("3 < weeks <= 9", False),
        ("weeks > 2 * 1 + 1", False),
        ("weeks == 3", True),
        ("weeks != 3", False),
        ("state == 'bad'", True),
        ("state != 'bad' or dry", False),
        ("state in ('good', 'bad')", True),
        ("state not in ('good',)", True),
        ("'box' in dyes", True),
        ("'henna' in dyes", False),
        ("'henna' not in dyes", True),
        ("days < 2", None),
        ("days < 2 and dry", False),
        ("days < 2 or warm", True),
        ("not days < 2", None),
        ("2 < days < 1", None),
    ],
)
def test_a_condition_is_decided(text, truth):
    assert read_expression(text, KNOWN).decide(FACTS).truth is truth


@pytest.mark.parametrize("text", ["dry and warm", "dry or warm", "not dry", "not (dry and not warm) or dry"])
def test_an_unknown_fact_stands_for_every_answer_it_may_still_get(text):
    """Kleene may be undecided where all answers agree, but never decides against one of them."""
    condition = read_expression(text, KNOWN)
    for dry, warm in product((True, False, UNKNOWN), repeat=2):
        truth = condition.decide({"dry": dry, "warm": warm}).truth
        settled = [(True, False) if value is UNKNOWN else (value,) for value in (dry, warm)]
        answers = {condition.decide({"dry": d, "warm": w}).truth for d, w in product(*settled)}
        assert truth is None or answers == {truth}
        assert truth is not None or UNKNOWN in (dry, warm)


@pytest.mark.parametrize(
    ("dry", "warm", "both", "either"),
    [  # Kleene's tables for "and" and "or", the rows with an unknown
        (True, UNKNOWN, None, True),
        (False, UNKNOWN, False, None),
        (UNKNOWN, True, None, True),
        (UNKNOWN, False, False, None),
        (UNKNOWN, UNKNOWN, None, None),
    ],
)
def test_false_settles_an_and_and_true_settles_an_or(dry, warm, both, either):
    facts = {"dry": dry, "warm": warm}
    assert read_expression("dry and warm", KNOWN).decide(facts).truth is both
    assert read_expression("dry or warm", KNOWN).decide(facts).truth is either


def test_only_the_facts_that_could_still_decide_are_missing():
    facts = {**FACTS, "dry": UNKNOWN, "state": UNKNOWN}
    assert read_expression("(days < 2 and weeks > 90) or (dry and warm)", KNOWN).decide(facts).missing == {"dry"}
    assert read_expression("days < 2 and state == 'bad'", KNOWN).decide(facts).missing == {"days", "state"}
    assert read_expression("warm or days < 2", KNOWN).decide(facts).missing == frozenset()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("wet", "no fact"),
        ("weeks", "neither a comparison nor"),
        ("weeks and warm", "neither a comparison nor"),
        ("state == 'baad'", "never 'baad'"),
        ("state in ('good', 'baad')", "never 'baad'"),
        ("'bleach' in dyes", "never 'bleach'"),
        ("state in ('good', 3)", "words only"),
        ("dyes == 'box'", "holds any of"),
        ("'good' in state", "holds one of"),
        ("weeks == 'three'", "holds number"),
        ("warm > 2", "not a number"),
        ("weeks > True", "not a number"),
        ("weeks > weeks / 2", "not a number"),
        ("weeks > 2 ** 99999999", "not a number"),
        ("state is 'good'", "can't be compared"),
        ("__import__('os').system('true')", "neither a comparison nor"),
        ("warm if dry else dry", "neither a comparison nor"),
        ("weeks.real > 1", "not a number"),
        ("(lambda: warm)()", "neither a comparison nor"),
        ("warm; dry", "can't be read"),
        ("warm =", "can't be read"),
        ("", "can't be read"),
    ],
)
def test_anything_else_does_not_load(text, said):
    with pytest.raises(ExpressionError, match=said):
        read_expression(text, KNOWN)


def test_unknown_is_neither_true_nor_false():
    with pytest.raises(TypeError):
        bool(UNKNOWN)
