"""Power is lost in the middle: the folder as a disk may show it then, made from a recorded log of writes and syncs.

A few losses in two flows on every run, 40 in each flow in the slow part, 200 at night.
"""

import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest

from tests.counts import NIGHT
from tests.estimator.records.power_loss import FATES, Loss, losses, rebuild, told_before
from tests.estimator.records.recorded_flows import FLOWS
from tests.estimator.records.write_log import (
    Cut,
    Named,
    Synced,
    Tree,
    Unnamed,
    Wrote,
    record,
    steps_between,
    tree_of,
    why_not_here,
)

ROOT = Path(__file__).parents[3]
EVERYDAY = ("keep", "draft")
KEPT, DROPPED = FATES.index(("kept", "kept")), FATES.index(("dropped", "dropped"))

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="LOSS OF POWER SKIPPED: strace runs on Linux alone")


def recorded(folder, names):
    """Flows run once and recorded: for each the folder before it, and what it asked of the disk."""
    if reason := why_not_here():
        pytest.skip(f"LOSS OF POWER SKIPPED: {reason}")
    record(folder / "log", "tests.estimator.records.recorded_flows", str(folder), *names, cwd=ROOT)
    before = {name: tree_of(folder / f"{name}.before") for name in names}
    return {name: (before[name], steps_between(folder / "log", folder / name, before[name], name)) for name in names}


def faults_after(at_rest, steps, loss, name, folder):
    """What does not stand in the folder as the disk shows it after the loss."""
    rebuild(at_rest, steps, loss, folder)
    told = told_before(steps, loss)
    found = FLOWS[name].judge(folder, set(told))
    shutil.rmtree(folder)
    return [(loss, loss.fate, told[-1:], fault) for fault in found]


def content_of(folder):
    return {
        str(path.relative_to(folder)): path.is_dir() or path.read_bytes()
        for path in folder.rglob("*")
        if not path.name.endswith(("-shm", "-wal"))
    }


def test_a_few_losses_of_power_take_nothing_that_was_told_of(tmp_path, in_memory):
    for name, (at_rest, steps) in recorded(tmp_path, EVERYDAY).items():
        rebuild(at_rest, steps, Loss(len(steps), KEPT), tmp_path / "whole")
        assert content_of(tmp_path / "whole") == content_of(tmp_path / name)  # or the log itself were not whole
        for loss in losses(steps, 6, seed=1):
            assert faults_after(at_rest, steps, loss, name, in_memory / "lost") == []
        shutil.rmtree(tmp_path / "whole")


@pytest.fixture
def in_memory(tmp_path):
    """A folder that waits for no disk: what is judged there need not outlive a second loss of power."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if os.access(memory, os.W_OK) else tmp_path) as folder:
        yield Path(folder)


@pytest.fixture(scope="session")
def all_recorded(tmp_path_factory):
    return recorded(tmp_path_factory.mktemp("recorded"), tuple(FLOWS))


@pytest.mark.parametrize("cuts", [pytest.param(40, marks=pytest.mark.slow), pytest.param(200, marks=NIGHT)])
@pytest.mark.parametrize("name", FLOWS)
def test_what_was_told_of_stands_after_every_loss_of_power(all_recorded, in_memory, name, cuts):
    at_rest, steps = all_recorded[name]
    faults = []
    for loss in losses(steps, cuts, seed=len(name)):
        faults += faults_after(at_rest, steps, loss, name, in_memory / "lost")
    assert faults == []


# --- the disk of these tests does what a disk may do: POSIX (IEEE 1003.1) lets fsync alone make anything sure


AT_REST = Tree({0: {"old": 1}}, {1: b"before"})
ALL_FATES = tuple(Loss(99, fate + len(FATES) * round_) for fate in range(len(FATES)) for round_ in range(20))


def shown(tmp_path, steps, loss):
    rebuild(AT_REST, steps, loss, tmp_path / "disk")
    there = {path.name: path.read_bytes() for path in (tmp_path / "disk").iterdir()}
    shutil.rmtree(tmp_path / "disk")
    return there


def test_synced_bytes_under_a_synced_name_are_there_whatever_the_disk_does(tmp_path):
    steps = [Named(0, "new", 2), Wrote(2, 0, b"after"), Synced(2), Synced(0), Wrote(2, 5, b" and more")]
    assert all(shown(tmp_path, steps, loss)["new"].startswith(b"after") for loss in ALL_FATES)


def test_a_name_whose_folder_was_not_synced_may_be_missing_or_mean_what_it_meant(tmp_path):
    steps = [Named(0, "aside", 2), Wrote(2, 0, b"after"), Synced(2), Named(0, "old", 2, (0, "aside"))]
    assert shown(tmp_path, steps, Loss(99, DROPPED)) == {"old": b"before"}
    assert shown(tmp_path, steps, Loss(99, KEPT)) == {"old": b"after"}
    assert {shown(tmp_path, steps, loss).get("old") for loss in ALL_FATES} == {b"before", b"after"}
    assert shown(tmp_path, [Unnamed(0, "old")], Loss(99, DROPPED)) == {"old": b"before"}


def test_bytes_that_were_not_synced_may_be_torn_by_sectors_and_in_any_order(tmp_path):
    steps = [Wrote(1, 0, b"1" * 1536), Synced(1), Wrote(1, 0, b"2" * 512), Wrote(1, 1024, b"3" * 512), Cut(1, 1400)]
    found = {shown(tmp_path, steps, loss)["old"] for loss in ALL_FATES}
    kinds = {(content[:1], content[1024:1025], len(content)) for content in found}
    assert kinds >= {(a, b, size) for a in (b"1", b"2") for b in (b"1", b"3") for size in (1400, 1536)}
    assert all(content[512:1024] == b"1" * 512 for content in found)  # what nobody wrote again
