"""Looking over the records: each fault is found, told with what to do, and mended where it can be."""

import pytest

from estimator.records.backing_up import back_up
from estimator.records.checking import check_all, everything_well, repair, take_from_backup
from estimator.records.errors import RecordsError
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import visit


def _told(store):
    return {check.what: check for check in check_all(store)}


@pytest.fixture
def kept(store, tmp_path):
    keep_visit(store, visit())
    back_up(store, tmp_path / "backup.zip")
    return store


def test_sound_records_are_found_sound(kept):
    checks = check_all(kept)
    assert [check.what for check in checks if not check.well] == []
    assert everything_well(checks)


def test_missing_and_damaged_files_are_named_and_taken_from_a_backup(kept, tmp_path):
    gone, hurt = sorted(kept.files.all_hashes())[:2]
    kept.files.remove(gone)
    kept.files.path_of(hurt).write_bytes(b"something else")
    found = _told(kept)["files"]
    assert "1 missing, 1 damaged" in found.told
    assert {gone[:12], hurt[:12]} <= set(found.told.replace(",", "").split())
    assert "--from BACKUP" in found.remedy
    assert not everything_well(check_all(kept))
    assert take_from_backup(kept, tmp_path / "backup.zip") == 2
    assert everything_well(check_all(kept))


def test_strays_are_found_and_taken_out_and_nothing_else(kept):
    before = sorted(kept.files.all_hashes())
    stray = kept.files.put(b"a file that no visit names")
    part = kept.files.path_of(stray).parent / f".part-{stray}-1-abc"
    part.write_bytes(b"half")
    assert "1 files that no visit names, 1 unfinished" in _told(kept)["strays"].told
    assert repair(kept) == 2
    assert _told(kept)["strays"].well
    assert sorted(kept.files.all_hashes()) == before


def test_a_damaged_database_is_told_with_what_to_do(file_store):
    keep_visit(file_store, visit())
    file_store.engine.dispose()
    path = file_store.place.database_file
    path.with_name(path.name + "-wal").unlink(missing_ok=True)
    whole = bytearray(path.read_bytes())
    for page in range(4, len(whole) // 4096, 3):
        whole[page * 4096 : page * 4096 + 64] = b"\xff" * 64
    path.write_bytes(bytes(whole))
    assert "estore the last backup" in _remedy(file_store)


def _remedy(store):
    try:
        return _told(store)["database"].remedy
    except RecordsError as problem:  # so damaged that no check gets through
        return str(problem)


def test_records_without_a_backup_are_told_to_make_one(file_store):
    keep_visit(file_store, visit())
    found = _told(file_store)["backup"]
    assert "tressmeter backup" in found.remedy
    assert everything_well(check_all(file_store))  # no fault of the records themselves
