"""Killed while handing a client's data out or taking it in: what bears a name is whole, and doing it again works.

A few of each on every run, 100 of each in the slow part.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from estimator.records.clients import client
from estimator.records.erasing import erase_client, erased_ids
from estimator.records.errors import NotKeptError
from estimator.records.exporting import export_client, import_client
from estimator.records.visits import keep_visit
from tests.counts import drilled
from tests.estimator.records.invented import visit

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
KILLS = drilled(1, 30, 100)
NEEDS_FORK = pytest.mark.skipif(sys.platform == "win32", reason="DRILLS SKIPPED: they fork")


def drill(name, folder, count):
    command = [sys.executable, "-m", "tests.estimator.records.handing_drills", name, str(folder), str(count)]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr[-3000:]
    return json.loads(ran.stdout)


@NEEDS_FORK
@pytest.mark.parametrize("kills", KILLS)
def test_what_bears_an_export_s_name_is_whole_even_after_a_kill(tmp_path, kills):
    found = drill("kill_while_exporting", tmp_path, kills)
    assert found["faults"] == []
    assert found["whole"] >= kills + found["finished"]


@NEEDS_FORK
@pytest.mark.parametrize("kills", KILLS)
def test_an_import_that_is_killed_is_whole_or_not_there_and_can_be_done_again(tmp_path, kills):
    found = drill("kill_while_importing", tmp_path, kills)
    assert found["faults"] == []
    assert kills < 100 or 0 < found["there"] < kills  # or none was killed in the middle


def test_a_client_who_was_erased_and_taken_in_again_can_be_erased_once_more(store, tmp_path):
    keep_visit(store, visit())
    export_client(store, "M. D.", tmp_path / "one.zip")
    receipts = {erase_client(store, "M. D.").id}
    import_client(store, tmp_path / "one.zip")
    receipts.add(erase_client(store, "M. D.").id)
    with pytest.raises(NotKeptError):
        client(store, "M. D.")
    assert len(receipts) == 2
    assert len(set(erased_ids(store))) == 1
