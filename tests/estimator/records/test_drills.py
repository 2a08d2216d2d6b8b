"""What happens when the program is killed, the disk fills, or several write at once: nothing lost, nothing half.

A few of each on every run, 1,000 kills while keeping in the slow part, and 100 of each other kind at night.
"""

import json
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from estimator.records.errors import RecordsError
from estimator.records.place import SalonPlace
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from tests.counts import drilled
from tests.estimator.records.invented import visit

ROOT = Path(__file__).parents[3]

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="DRILLS SKIPPED: they fork and limit files")


def drill(name: str, folder: Path, count: int, *words: str) -> dict:
    command = [sys.executable, "-m", "tests.estimator.records.drills", name, str(folder), str(count), *words]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr[-3000:]
    told: dict = json.loads(ran.stdout)
    return told


# A thousand in four parts, so that they share the cores.
@pytest.mark.parametrize("kills", [20, *(pytest.param(250, id=f"250-{n}", marks=pytest.mark.slow) for n in range(4))])
def test_no_visit_that_was_told_of_is_lost_when_the_program_is_killed(tmp_path, kills):
    found = drill("kill_while_keeping", tmp_path / "salon", kills)
    assert (found["lost"], found["faults"], found["whole"]) == ([], [], "ok")
    assert found["told"] >= kills  # or it would be the start that was killed, and not the keeping
    assert found["slowest_start_seconds"] <= 2.0


@pytest.mark.parametrize("kills", drilled(2, 40, 100))
def test_an_erasure_that_is_killed_is_whole_or_not_begun_after_the_next_start(tmp_path, kills):
    found = drill("kill_while_erasing", tmp_path / "salon", kills)
    assert found["faults"] == []
    assert found["gone"] + found["there"] == kills


@pytest.mark.slow
@pytest.mark.parametrize("kills", drilled(1, 30, 100))
def test_a_migration_that_is_killed_is_made_whole_at_the_next_start(tmp_path, kills):
    assert drill("kill_while_migrating", tmp_path / "salons", kills)["faults"] == []


@pytest.mark.slow
@pytest.mark.parametrize("kills", drilled(1, 30, 100))
def test_what_bears_a_backup_s_name_is_one_even_after_a_kill(tmp_path, kills):
    found = drill("kill_while_backing_up", tmp_path, kills)
    assert found["faults"] == []
    assert found["whole"] >= kills


@pytest.mark.parametrize("steps", drilled(4, 30, 100))
def test_a_full_disk_leaves_what_stood_before_and_a_later_save_works(tmp_path, steps):
    found = drill("disk_full", tmp_path / "salon", steps)
    assert found["faults"] == []
    assert 0 < found["kept"] < steps


@pytest.mark.parametrize("saves", drilled(3, 30, 250))
def test_two_programs_with_four_threads_each_write_without_losing_anything(tmp_path, saves):
    found = drill("two_writers", tmp_path / "salon", saves)
    assert found["faults"] == []
    assert (found["clients"], found["counted"]) == (8 * saves + 1, 8 * saves)


@pytest.mark.slow
def test_two_programs_write_to_a_server_without_losing_anything(tmp_path, postgres):
    found = drill("two_writers", tmp_path / "salon", 50, postgres.new_address())
    assert found["faults"] == []
    assert (found["clients"], found["counted"]) == (401, 400)


@pytest.mark.slow
def test_a_server_that_is_stopped_in_the_middle_loses_no_visit_it_told_of(tmp_path, postgres):
    place = SalonPlace(tmp_path / "salon", postgres.new_address())
    told, refused, ended = [], [], threading.Event()
    store = open_store(place)

    def writes():
        number = 0
        while not ended.is_set():
            number += 1
            code = f"visit {number}"
            try:
                keep_visit(store, visit(code, photos=(), documents=()))
                told.append(code)
            except RecordsError as problem:
                refused.append(str(problem))
                ended.wait(0.05)

    writer = threading.Thread(target=writes)
    writer.start()
    for _ in range(10):
        ended.wait(0.4)
        postgres.stop("immediate")
        postgres.start()
    ended.wait(0.5)
    ended.set()
    writer.join()
    store.close()
    with open_store(place) as again, again.looking() as session:
        from sqlalchemy import func, select

        from estimator.records import model

        there = set(session.scalars(select(model.Client.code)))
        visits = session.scalar(select(func.count()).select_from(model.Visit))
        readings = session.scalar(select(func.count()).select_from(model.Reading))
    assert set(told) <= there
    assert readings == 3 * visits
    assert len(told) > 20
    assert all("Nothing was written" in sentence for sentence in refused), refused


@pytest.mark.slow
def test_records_that_somebody_else_holds_are_told_of_in_a_sentence(file_store, monkeypatch, tmp_path):
    import sqlite3

    monkeypatch.setattr("estimator.records.database.WAIT_SECONDS", 0.2)
    monkeypatch.setattr("estimator.records.database._PRAGMAS", ("PRAGMA busy_timeout=200",))
    other = sqlite3.connect(file_store.place.database_file, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with open_store(file_store.place) as second, pytest.raises(RecordsError, match="Another program is writing"):
        keep_visit(second, visit())
    other.execute("ROLLBACK")
    assert keep_visit(file_store, visit()).new


def test_a_folder_that_is_read_only_is_told_of_in_a_sentence(file_store, monkeypatch):
    from sqlalchemy import text

    with file_store.engine.connect() as connection:
        connection.execute(text("PRAGMA query_only=ON"))  # as a database on a disk without leave to write answers
    with pytest.raises(RecordsError, match="read-only"):
        keep_visit(file_store, visit())
