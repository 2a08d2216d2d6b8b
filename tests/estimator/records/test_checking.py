"""Looking over the records: each fault is found, told with what to do, and mended where it can be."""

from pathlib import Path

import pytest

from estimator.records.backing_up import back_up
from estimator.records.beside import salon_journal
from estimator.records.checking import check_all, everything_well, repair, take_from_backup
from estimator.records.drafts import Drafts
from estimator.records.errors import RecordsError
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import visit


def _told(store):
    return {check.what: check for check in check_all(store)}


@pytest.fixture
def kept(store, tmp_path):
    keep_visit(store, visit())
    back_up(store, tmp_path / "backup.zip")
    return store


@pytest.mark.slow
def test_sound_records_are_found_sound(kept):
    checks = check_all(kept)
    assert [check.what for check in checks if not check.well] == []
    assert everything_well(checks)


@pytest.mark.slow
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


@pytest.mark.slow
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


BESIDE = ("clock.json", "outcomes.jsonl", "intake/invitations.json", "intake/sent/0a/consultation.json")


@pytest.mark.parametrize("name", [*BESIDE, f"drafts/{'ab' * 16}/draft.json"])
def test_what_can_t_be_read_beside_the_records_is_named(file_store, name):
    path = file_store.place.folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"{ cut off")
    found = _told(file_store)["beside"]
    assert "1 can't be read" in found.told
    assert found.told.split(": ")[1] in (name, str(Path(name).parent))
    assert "move it out" in found.remedy
    assert not everything_well(check_all(file_store))


def test_what_lies_beside_the_records_and_reads_is_well(file_store):
    place = file_store.place
    Drafts(place).keep("ab" * 16, "M. D.", {"told": "x"}, {"b" * 64: lambda: b"a photograph"})
    salon_journal(place.folder).change(lambda journal: journal)
    (place.folder / "intake").mkdir()
    (place.folder / "intake" / "invitations.json").write_text("{}", encoding="ascii")
    assert _told(file_store)["beside"].well


def test_a_draft_whose_photograph_is_gone_is_named(file_store):
    Drafts(file_store.place).keep("ab" * 16, "M. D.", {}, {"b" * 64: lambda: b"a photograph"})
    next((file_store.place.drafts / ("ab" * 16)).glob("*.photo")).unlink()
    assert _told(file_store)["beside"].told.endswith(f"drafts/{'ab' * 16}")


@pytest.mark.slow
def test_a_file_put_among_the_records_by_hand_is_named_and_never_taken_out(kept):
    odd = [kept.place.photos / "holiday.jpg", kept.place.photos / "zz" / "zz" / ("0" * 64)]
    for path in odd:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"somebody's own")
    found = _told(kept)["odd files"]
    assert "2 that are not the records'" in found.told
    assert "holiday.jpg" in found.told
    assert (_told(kept)["strays"].well, repair(kept)) == (True, 0)
    assert all(path.exists() for path in odd)


def test_files_without_their_database_are_told_and_no_empty_records_are_begun_over_them(file_store):
    keep_visit(file_store, visit())
    place = file_store.place
    file_store.close()
    for path in place.folder.glob("records.sqlite*"):
        path.unlink()
    with pytest.raises(RecordsError, match="their database is gone"):
        open_store(place)
    assert not place.database_file.exists()
    assert len(list(place.photos.glob("??/??/*"))) > 1


def test_an_exchange_of_files_whose_last_step_was_lost_is_finished(file_store):
    keep_visit(file_store, visit())
    file_store.close()
    (file_store.place.folder / "converting").mkdir()  # its plan is carried out and gone, the folder itself is not yet
    with open_store(file_store.place) as opened:
        assert opened.place.folder.exists()
        assert everything_well(check_all(opened))
    assert not (file_store.place.folder / "converting").exists()
