"""A folder of backups: each costs what is new, any of them comes back equal, kills and damage harm no other."""

import json
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select

from estimator import cli
from estimator.errors import BadInputError, OutputError
from estimator.records import key_file, model, unlocking
from estimator.records.backup_folder import back_up_into, damaged_in, prune, restore_from
from estimator.records.backup_list import ListedBackup, chosen_backup, list_path, listed_backups, stored_path
from estimator.records.checking import check_all, take_from_backup, unsound_files
from estimator.records.clients import change_client, client
from estimator.records.converting import encrypt_salon
from estimator.records.errors import RecordsError
from estimator.records.exporting import client_rows
from estimator.records.place import SALON_VARIABLE, SalonPlace
from estimator.records.store import Store, open_store
from estimator.records.unlocking import PASSPHRASE_VARIABLE
from estimator.records.visits import keep_visit
from tests.counts import drilled
from tests.estimator.records.drills_sealed import WORDS, quick_keys
from tests.estimator.records.invented import photo, visit

ROOT = Path(__file__).parents[3]


def _rows(store: Store) -> dict:
    with store.looking() as session:
        clients = session.scalars(select(model.Client).order_by(model.Client.code)).all()
        return {each.code: client_rows(session.connection(), each.id) for each in clients}


def _bytes_in(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


@pytest.mark.slow
def test_any_of_three_past_backups_comes_back_equal_by_hash(store, tmp_path, request):
    folder, states = tmp_path / "backups", []
    for code in ("A", "B", "C"):
        keep_visit(store, visit(code))
        if code == "B":
            change_client(store, client(store, "A"), contact="by post only")
        done = back_up_into(store, folder)
        states.append((_rows(store), sorted(store.files.all_hashes()), done.number))
    assert [number for _, _, number in states] == [1, 2, 3]
    for rows, hashes, number in states:
        address = "" if store.place.on_sqlite else request.getfixturevalue("postgres").new_address()
        place = SalonPlace(tmp_path / f"restored {number}", address)
        restore_from(folder, place, str(number))
        with open_store(place) as restored:
            assert _rows(restored) == rows
            assert sorted(restored.files.all_hashes()) == hashes


@pytest.mark.slow
def test_the_next_backup_writes_what_is_new_and_no_more(file_store, tmp_path):
    folder = tmp_path / "backups"
    for number in range(12):
        keep_visit(file_store, visit(f"client {number}", photos=(photo(f"p{number}", size=60_000),)))
    assert back_up_into(file_store, folder).new == 12 * 4
    first = _bytes_in(folder)
    keep_visit(file_store, visit("new", photos=(photo("new", size=60_000),)))
    done = back_up_into(file_store, folder)
    assert (done.new, done.files) == (4, 13 * 4)
    # One visit's files, and the tables and the list anew: by far not the twelve photographs once more.
    assert _bytes_in(folder) - first < 60_000 + 60_000
    assert damaged_in(folder) == ()


@pytest.mark.slow
def test_pruning_keeps_the_last_ones_whole_and_every_file_that_they_name(file_store, tmp_path):
    folder = tmp_path / "backups"
    for code in "ABCDE":
        keep_visit(file_store, visit(code))
        back_up_into(file_store, folder)
    lone = photo("only in between", size=5000)
    keep_visit(file_store, visit("lone", photos=(lone,)))
    back_up_into(file_store, folder)
    file_store.undo()
    done = back_up_into(file_store, folder, keep=2)
    assert (done.taken_out, [each.number for each in listed_backups(folder)]) == (5, [6, 7])
    assert damaged_in(folder) == ()
    assert sorted(path.name for path in (folder / "backups").iterdir()) == [
        "000006.json", "000006.zip", "000007.json", "000007.zip",
    ]  # fmt: skip
    # A client that is erased leaves the backups as well, once the older ones are taken out.
    from estimator.records.erasing import erase_client

    erase_client(file_store, "A")
    back_up_into(file_store, folder, keep=1)
    names = {path.name for path in (folder / "files").glob("??/??/*")}
    assert names == set(file_store.files.all_hashes())
    with pytest.raises(BadInputError, match="1 or more"):
        back_up_into(file_store, folder, keep=0)


@pytest.mark.slow
def test_a_damaged_part_is_named_and_backups_without_it_come_back(file_store, tmp_path):
    folder = tmp_path / "backups"
    keep_visit(file_store, visit("A"))
    back_up_into(file_store, folder)
    keep_visit(file_store, visit("B"))
    back_up_into(file_store, folder)
    first, second = listed_backups(folder)
    name = sorted(set(second.files) - set(first.files))[0]
    path = stored_path(folder, name)
    whole = path.read_bytes()
    path.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
    assert damaged_in(folder) == (str(path.relative_to(folder)),)
    with pytest.raises(BadInputError, match=f"{name} in the backups is damaged"):
        restore_from(folder, SalonPlace(tmp_path / "new"))
    assert not (tmp_path / "new").exists()
    restore_from(folder, SalonPlace(tmp_path / "earlier"), "1")
    path.unlink()
    back_up_into(file_store, folder)  # what the records still hold is written anew
    assert damaged_in(folder) == ()
    tables = folder / "backups" / "000001.zip"
    tables.write_bytes(tables.read_bytes()[:-40])
    assert damaged_in(folder) == ("backups/000001.zip",)


@pytest.mark.slow
def test_a_list_that_is_damaged_stops_whatever_would_take_files_out(file_store, tmp_path):
    folder = tmp_path / "backups"
    for code in "ABC":
        keep_visit(file_store, visit(code))
        back_up_into(file_store, folder)
    path = list_path(folder, 2)
    told = json.loads(path.read_bytes())
    told["files"].popitem()  # as if it needed one file less
    path.write_text(json.dumps(told))
    before = sorted(folder.rglob("*"))
    with pytest.raises(RecordsError, match=r"000002\.json .* is damaged"):
        prune(folder, 1)
    assert [each for each in before if not each.exists()] == []
    assert damaged_in(folder) == ("backups/000002.json",)
    with pytest.raises(RecordsError, match="is damaged"):
        back_up_into(file_store, folder, keep=1)
    restore_from(folder, SalonPlace(tmp_path / "new"))  # the others still come back
    assert back_up_into(file_store, folder).number == 4  # and another one can be made
    assert damaged_in(folder) == ("backups/000002.json",)


@pytest.mark.slow
def test_a_file_gone_from_the_records_is_kept_by_the_backups_and_comes_back_from_them(file_store, tmp_path):
    folder = tmp_path / "backups"
    keep_visit(file_store, visit("A"))
    back_up_into(file_store, folder)
    gone = sorted(file_store.files.all_hashes())[0]
    file_store.files.remove(gone)
    assert back_up_into(file_store, folder).missing == ()
    restore_from(folder, SalonPlace(tmp_path / "new"))
    with open_store(SalonPlace(tmp_path / "new")) as restored:
        assert restored.files.is_sound(gone)
    assert take_from_backup(file_store, folder) == 1
    assert unsound_files(file_store) == ([], [])


def test_a_folder_with_something_else_in_it_is_left_alone(file_store, tmp_path):
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "letter.txt").write_text("mine")
    with pytest.raises(OutputError, match="something else"):
        back_up_into(file_store, tmp_path / "other")
    assert [path.name for path in (tmp_path / "other").iterdir()] == ["letter.txt"]
    with pytest.raises(BadInputError, match="holds no backups"):
        restore_from(tmp_path / "other", SalonPlace(tmp_path / "new"))


def _made(number: int, moment: str) -> ListedBackup:
    return ListedBackup(number, f"{moment}+00:00", 1, False, "", {})


@pytest.mark.parametrize(
    ("at", "number"),
    [("", 9), ("7", 7), ("2026-10-05", 8), ("2026-10-04", 7), ("2026-12-31", 9), ("2026-10-01", None), ("3", None)],
)
def test_a_backup_is_chosen_by_number_or_as_the_last_up_to_a_day(at, number, monkeypatch):
    monkeypatch.setenv("TZ", "UTC")
    moments = ("2026-10-04T18:00:00", "2026-10-05T12:00:00", "2026-10-06T09:00:00")
    there = [_made(n, moment) for n, moment in zip((7, 8, 9), moments, strict=True)]
    if number is None:
        with pytest.raises(BadInputError, match="There is no such backup"):
            chosen_backup(there, at)
    else:
        assert chosen_backup(there, at).number == number
        assert chosen_backup(there, at).day >= date(2026, 10, 4)
    with pytest.raises(BadInputError, match="neither a number nor a day"):
        chosen_backup(there, "soon")


@pytest.mark.slow
def test_backups_of_an_encrypted_salon_tell_nothing_and_open_by_the_passphrase_alone(file_store, tmp_path, monkeypatch):
    monkeypatch.setattr(key_file, "Cost", key_file.Cost)  # put back afterwards
    monkeypatch.setenv(PASSPHRASE_VARIABLE, WORDS)
    quick_keys()
    folder, place = tmp_path / "backups", file_store.place
    keep_visit(file_store, visit("A", client_name="Wilhelmina Seeded"))
    back_up_into(file_store, folder)
    file_store.close()
    encrypt_salon(place, WORDS)
    with open_store(place) as store:
        done = back_up_into(store, folder)
        assert (done.new, done.open_before) == (6, 1)  # other names, so none of the open ones serves
        keep_visit(store, visit("B", client_name="Wilhelmina Seeded"))
        done = back_up_into(store, folder, keep=2)
        assert (done.new, done.open_before) == (6, 0)
        rows = _rows(store)
    needles = (b"Wilhelmina", b"wilhelmina", photo("A before").content[:24], b"%PDF")
    files = [path for path in folder.rglob("*") if path.is_file()]
    assert not [(path, needle) for path in files for needle in needles if needle in path.read_bytes()]
    unlocking.forget()
    assert damaged_in(folder) == ()
    assert not unlocking._held  # that needed no key
    shutil.rmtree(place.folder)
    new = SalonPlace(tmp_path / "new")
    restore_from(folder, new)
    with open_store(new) as restored:
        assert _rows(restored) == rows
    unlocking.forget()


# --- kills


def drill(name: str, folder: Path, count: int) -> dict:
    command = [sys.executable, "-m", "tests.estimator.records.drills_sealed", name, str(folder), str(count)]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr[-3000:]
    told: dict = json.loads(ran.stdout)
    return told


@pytest.mark.slow
@pytest.mark.parametrize("kills", drilled(2, 20, 50))
def test_backing_up_and_taking_out_may_be_killed_at_any_moment(tmp_path, kills):
    found = drill("kill_while_backing_up_into", tmp_path / "drill", kills)
    assert found["faults"] == []
    assert found["finished"] < kills  # some were hit while they worked
    assert found["restored"] > 0


# --- commands


@pytest.mark.slow
def test_the_commands_add_list_check_and_restore(monkeypatch, capsys, file_store, tmp_path):
    monkeypatch.setenv(SALON_VARIABLE, str(file_store.place.folder))

    def run(*words) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["tressmeter", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr()
        return int(ended.value.code or 0), " ".join((said.out + said.err).split())

    folder = tmp_path / "backups"
    keep_visit(file_store, visit("Mari"))
    assert "Backup 1: " in run("backup", "--into", folder)[1]
    keep_visit(file_store, visit("Otto"))
    assert "6 of them new" in run("backup", "--into", folder, "--check")[1]
    assert "1 older backups taken out" in run("backup", "--into", folder, "--keep", 2)[1]
    code, said = run("records", "backups", folder, "--check")
    assert (code, "Every part of every backup" in said, said.count(" UTC ")) == (0, True, 2)
    stored = next(iter((folder / "files").glob("??/??/*")))
    stored.write_bytes(b"x")
    code, said = run("records", "backups", folder, "--check")
    assert (code, f"Damaged or gone: files/{stored.parent.parent.name}" in said) == (1, True)
    shutil.rmtree(stored.parents[2] / stored.parent.parent.name)
    assert run("backup", "--into", folder)[0] == 0
    assert "restored into" in run("restore", folder, tmp_path / "new", "--at", 4)[1]
    for words, sentence in (
        (("backup",), "Name one new file"),
        (("backup", tmp_path / "x.zip", "--keep", 3), "belong to a folder of backups"),
        (("restore", folder, tmp_path / "other", "--at", 77), "There is no such backup"),
        (("restore", tmp_path / "x.zip", tmp_path / "other", "--at", 1), "this is one file"),
    ):
        code, said = run(*words)
        assert (code, sentence in said) == (1, True), said
    assert not (tmp_path / "other").exists()
    assert [each.well for each in check_all(file_store) if each.what == "backup"] == [True]
