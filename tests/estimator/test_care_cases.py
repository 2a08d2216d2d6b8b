"""Whole cases that a colourist can read and extend: tests/cases/care.toml, judged with the table of rules."""

import tomllib
from pathlib import Path

import pytest

from estimator.care.facts import Facts, baseline_facts
from estimator.care.rules import judge
from estimator.care.verdicts import CareWord

CASES = tomllib.loads((Path(__file__).parents[1] / "cases" / "care.toml").read_text("utf-8"))["case"]


def facts_of(given: dict[str, object]) -> Facts:
    """The harmless client, with the facts that a case names."""
    return baseline_facts(
        **{name: frozenset(value) if isinstance(value, list) else value for name, value in given.items()}
    )


def test_findings_can_be_asked_for_by_verdict():
    verdict = judge(baseline_facts(elasticity="gummy", breakage="widespread", wants_oxidative_dye=True))
    assert [finding.code for finding in verdict.findings_of(CareWord.STOP)] == ["hair-failing"]
    assert [finding.code for finding in verdict.findings_of(CareWord.CAUTION)] == ["breakage-deposit"]
    assert verdict.is_stop


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_a_case_gets_its_verdict_and_exactly_its_codes(case):
    verdict = judge(facts_of(case["given"]))
    assert verdict.verdict == case["verdict"], case["source"]
    assert sorted(verdict.codes) == sorted(case["codes"]), case["source"]
