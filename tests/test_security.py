"""docs/security.md: each claim names a test, every item of level 1 is answered, figures are those of the code."""

import ast
import re
from pathlib import Path

import pytest

from calibration.opening import MOST_BYTES, MOST_PIXELS
from estimator.access import phones, pins, sessions, waiting

ROOT = Path(__file__).resolve().parent.parent
TEXT = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (\d\.\d+\.\d+) \| ([^|]+) \| ([^|]+) \|([^|]*)\|$", TEXT, re.MULTILINE)
# OWASP ASVS 5.0.0, May 2025, chapters 5, 6 and 7: the items of level 1.
LEVEL_1 = {
    *("5.2.1", "5.2.2", "5.3.1", "5.3.2"),
    *("6.1.1", "6.2.1", "6.2.2", "6.2.3", "6.2.4", "6.2.5", "6.2.6", "6.2.7", "6.2.8"),
    *("6.3.1", "6.3.2", "6.4.1", "6.4.2"),
    *("7.2.1", "7.2.2", "7.2.3", "7.2.4", "7.4.1", "7.4.2"),
}


def test_every_item_of_level_1_is_answered_once():
    items = [item for item, *_ in ROWS]
    assert set(items) >= LEVEL_1
    assert len(items) == len(set(items))


@pytest.mark.slow
@pytest.mark.parametrize(("item", "holds", "how", "test"), ROWS, ids=[row[0] for row in ROWS])
def test_what_is_claimed_names_a_test_that_is_there(item, holds, how, test):
    assert how.strip()
    assert holds in ("yes", "no", "in part")
    if holds == "no":
        return
    path, _, name = test.strip().strip("`").partition("::")
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    assert name in {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


def test_the_limits_that_are_written_down_are_the_ones_that_hold():
    assert f"{MOST_BYTES / 1e6:.0f} MB, {MOST_PIXELS / 1e6:.0f} megapixels" in TEXT
    assert f"{pins.FEWEST_DIGITS} to {pins.MOST_DIGITS} digits" in TEXT
    assert pins.COST == 2**17
    assert "scrypt (2^17, 8, 1" in TEXT
    assert f"after {sessions.IDLE_SECONDS / 60:.0f} minutes without a touch" in " ".join(TEXT.split())
    assert f"after {sessions.ABSOLUTE_SECONDS / 3600:.0f} hours" in TEXT
    assert phones.TOKEN_BYTES * 8 == 256
    assert (waiting.FREE_TRIES, phones.PAIRING_MINUTES) == (5, 5)
    assert (waiting.FIRST_WAIT_SECONDS, waiting.LONGEST_WAIT_SECONDS) == (30, 900)
