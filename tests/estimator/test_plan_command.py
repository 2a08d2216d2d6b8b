"""The commands plan and shelf, run as a person runs them."""

import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from estimator.console_plan import progress_on_stderr
from estimator.errors import EstimatorError

ROOT = Path(__file__).parents[2]
READINGS = "zone,lab_l,lab_a,lab_b\ncrown,62,6,26\nback,58,8,30\n"
TARGETS = "zone,level,tone,like\ncrown,8,beige,\nback,,,crown\n"
DESCRIBED = "name,family,depth_level,kind\nPlum,violet,8,demi-permanent acidic\nSand,beige,9,demi-permanent acidic\n"


def ran(folder, *arguments):
    command = [sys.executable, "-m", "estimator", *map(str, arguments)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)


@pytest.fixture
def tables(tmp_path):
    for name, text in (("readings.csv", READINGS), ("targets.csv", TARGETS), ("shelf.csv", DESCRIBED)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


@pytest.mark.slow
def test_a_plan_from_tables_shows_care_bowls_reasons_and_the_second_best(tables):
    out = tables / "plan.json"
    done = ran(tables, "plan", tables / "readings.csv", "--targets", tables / "targets.csv", "--out", out)
    assert done.returncode == 0, done.stderr
    shown = " ".join(done.stdout.split())
    for piece in ("TEST FIRST", "Bowl 1", "Why bowl 1", "Second best", "proved best", "Gloves", "First aid"):
        assert piece in shown
    assert shown.index("TEST FIRST") < shown.index("Bowl 1")
    plan = json.loads(out.read_text("utf-8"))
    assert [zone["zone"] for zone in plan["zones"]] == ["crown", "back"]
    assert all(len(bowl["why"]) == 3 for bowl in plan["bowls"])


@pytest.mark.slow
def test_a_shelf_known_from_descriptions_alone_is_checked_and_planned_from(tables):
    checked = ran(tables, "shelf", "check", tables / "shelf.csv")
    assert checked.returncode == 0
    assert "description" in checked.stdout
    made = ran(
        tables, "plan", tables / "readings.csv", "--targets", tables / "targets.csv", "--shelf", tables / "shelf.csv"
    )
    assert made.returncode == 0
    assert "Plum" in made.stdout or "Sand" in made.stdout


@pytest.mark.slow
def test_readings_without_targets_are_refused_in_one_sentence(tables):
    done = ran(tables, "plan", tables / "readings.csv")
    assert done.returncode == 1
    assert done.stderr.strip() == "Readings alone are no plan. Name the targets too: --targets targets.csv"


def test_stopping_says_that_nothing_was_written():
    with pytest.raises(EstimatorError, match="Nothing was written"), progress_on_stderr():
        signal.raise_signal(signal.SIGINT)
