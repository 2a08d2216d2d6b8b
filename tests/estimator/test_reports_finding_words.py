"""Findings about photographs in a few words: each that the program makes has its words, and no words stand for none."""

import ast
from pathlib import Path

import pytest

from estimator.care.rules import load_rules
from estimator.reports.finding_words import PHOTO_FINDINGS

ROOT = Path(__file__).parents[2]
MAKERS = {"Finding", "_weighed", "_finding"}
OF_OTHER_FILES = {"card_file", "station_file"}  # said of a card's or a station's own file, which no visit keeps


def _codes_made() -> set[str]:
    """The codes that stand in the source as the first word of a finding."""
    folders = ("calibration", "estimator/reading")
    paths = [path for folder in folders for path in (ROOT / folder).rglob("*.py")]
    paths += [ROOT / "estimator/visit" / name for name in ("reading.py", "several.py")]
    calls = [
        node
        for path in paths
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in MAKERS and node.args
    ]
    return {str(call.args[0].value) for call in calls if isinstance(call.args[0], ast.Constant)}


def _codes_worded() -> list[str]:
    return [code for words in PHOTO_FINDINGS.values() for code in words]


@pytest.mark.slow
def test_every_finding_of_a_photograph_has_its_words_and_only_those():
    assert set(_codes_worded()) == _codes_made() - OF_OTHER_FILES


def test_each_stands_in_one_group_under_words_of_its_own():
    words = [word for group in PHOTO_FINDINGS.values() for word in group.values()]
    assert len(set(_codes_worded())) == len(_codes_worded())
    assert len(set(words)) == len(words)


def test_no_group_or_code_is_one_of_care():
    assert not set(PHOTO_FINDINGS) & {rule.topic for rule in load_rules()}
    assert not set(_codes_worded()) & {rule.code for rule in load_rules()}
