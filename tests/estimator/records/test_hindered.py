"""A full disk, a read-only one, leave to write that was lost: all of it kept or nothing, and a sentence.

The disk is a real one, mounted for the test: free_bytes is asked of it, and its writes fail where it is full.
"""

import itertools
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from estimator.records import database
from estimator.records.errors import RecordsError
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.hindered import (
    ACTS,
    NOBODY,
    Ground,
    allow_writing,
    answer_of,
    become_nobody,
    faults_after,
    filled_up,
    give_to,
    nothing,
    prepare,
    refill,
    small_disk,
)
from tests.estimator.records.invented import visit

SLOW = pytest.mark.slow
WHOLE_DISK = 40_000_000
ALL, FEW = tuple(ACTS), ("keep", "erase", "draft")

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="HINDRANCES SKIPPED: they mount, fork and change users")


@pytest.fixture
def disk(tmp_path):
    """A small disk with a salon on it."""
    with small_disk(tmp_path / "disk", WHOLE_DISK) as refusal:
        if refusal:
            pytest.skip(f"FULL DISK SKIPPED: {refusal}")
        ground = Ground(tmp_path / "disk")
        prepare(ground)
        yield ground


@pytest.mark.parametrize(
    ("acts", "sizes"), [(FEW, (90_000, 700_000)), pytest.param(ALL, range(0, 620_000, 40_000), marks=SLOW)]
)
def test_on_a_full_disk_all_of_it_is_kept_or_nothing_and_a_sentence_says_so(disk, monkeypatch, acts, sizes):
    # Somebody else fills the disk meanwhile, so the look at the free space beforehand does not help.
    monkeypatch.setattr(database, "SPARE_BYTES", -WHOLE_DISK)
    faults, answers = [], set()
    for act, left in itertools.product(acts, sizes):
        with open_store(disk.place) as store:
            refill(store)
        with filled_up(disk.folder, left):
            answer = answer_of(disk, act)
        faults += [(act, left, answer, fault) for fault in faults_after(disk, act, answer)]
        answers.add((act, answer))
    assert faults == []
    refused = {answer for _, answer in answers} - {"done"}
    assert all(answer.startswith("refused") and "ree some space" in answer for answer in refused), refused
    assert refused
    assert {act for act, answer in answers if answer == "done"} == set(acts)


@pytest.mark.slow
def test_a_disk_that_is_nearly_full_is_not_begun_on(disk):
    told = pytest.raises(RecordsError, match=r"Only 3 MB are free .* and 4 MB are needed.*Free some space")
    with open_store(disk.place) as store, filled_up(disk.folder, 3_000_000), told:
        keep_visit(store, visit("kept"))


@pytest.mark.slow
def test_a_disk_that_became_read_only_is_told_of_in_a_sentence(disk):
    with open_store(disk.place) as store:
        refill(store)
    remount = ["mount", "-o", "remount,ro", str(disk.folder)]
    if subprocess.run(remount, capture_output=True, check=False).returncode:
        pytest.skip("READ-ONLY DISK SKIPPED: this machine lets nobody change a mounted disk")
    answers = {act: answer_of(disk, act) for act in ACTS}
    subprocess.run([*remount[:2], "remount,rw", str(disk.folder)], check=True)
    for answer in answers.values():
        assert answer.startswith("refused")
        assert "Check the folder and who may use it" in answer
    assert faults_after(disk, "", "refused") == []


@pytest.fixture
def ground():
    """A salon in a folder that every user can reach."""
    folder = Path(tempfile.mkdtemp(prefix="tressmeter-hindered-"))
    folder.chmod(0o755)
    prepare(Ground(folder))
    yield Ground(folder)
    shutil.rmtree(folder)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("acts", "when"),
    [(FEW, "meanwhile"), pytest.param(ALL, "meanwhile", marks=SLOW), pytest.param(ALL, "before", marks=SLOW)],
)
def test_lost_leave_to_write_is_told_of_in_a_sentence_and_loses_nothing(ground, acts, when):
    root, owner = os.getuid() == 0, ground.folder.stat().st_uid

    def loses() -> None:
        allow_writing(ground.folder, allowed=False)

    def first() -> None:
        if root:
            give_to(ground.folder, NOBODY)
        become_nobody()
        if when == "before":
            loses()

    for act in acts:
        answer = answer_of(ground, act, first, loses if when == "meanwhile" else nothing)
        allow_writing(ground.folder, allowed=True)
        if root:
            give_to(ground.folder, owner)
        # The database was open already when leave was lost, and a note needs nothing else.
        assert answer.startswith("done" if (act, when) == ("note", "meanwhile") else "refused"), (act, answer)
        assert faults_after(ground, act, answer) == [], act
