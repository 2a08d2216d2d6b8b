"""Power is lost in the middle: the folder as a disk may show it then, made from a recorded log of writes and syncs.

A few losses of each flow on every run, 200 of each in the slow part.
"""

import shutil
import sys
from pathlib import Path

import pytest

from tests.estimator.records.power_loss import losses, rebuild, told_before
from tests.estimator.records.recorded_flows import FLOWS
from tests.estimator.records.write_log import record, steps_between, tree_of, why_not_here

ROOT = Path(__file__).parents[3]
SLOW = pytest.mark.slow

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="LOSS OF POWER SKIPPED: strace runs on Linux alone")


@pytest.fixture(scope="session")
def recorded(tmp_path_factory):
    """Every flow run once and recorded: for each the folder before it, and what it asked of the disk."""
    if reason := why_not_here():
        pytest.skip(f"LOSS OF POWER SKIPPED: {reason}")
    folder = tmp_path_factory.mktemp("recorded")
    record(folder / "log", "tests.estimator.records.recorded_flows", str(folder), *FLOWS, cwd=ROOT)
    before = {name: tree_of(folder / f"{name}.before") for name in FLOWS}
    return {name: (before[name], steps_between(folder / "log", folder / name, before[name], name)) for name in FLOWS}


@pytest.mark.parametrize("name", FLOWS)
@pytest.mark.parametrize("count", [3, pytest.param(200, marks=SLOW)])
def test_what_was_told_of_stands_after_power_is_lost(recorded, tmp_path, name, count):
    at_rest, steps = recorded[name]
    faults = []
    for loss in losses(steps, count, seed=len(name)):
        folder = tmp_path / name
        rebuild(at_rest, steps, loss, folder)
        told = told_before(steps, loss)
        faults += [(loss, loss.fate, told[-1:], fault) for fault in FLOWS[name].judge(folder, set(told))]
        shutil.rmtree(folder)
    assert faults == []
