"""Events of the lift's clock that are kept with a visit: taken back, undone, handed out and erased with it."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zipfile import ZipFile

import pytest
from sqlalchemy import select

from estimator.lifting.clock_events import Instant, Kind, new_event
from estimator.records import model
from estimator.records.beside import salon_clock
from estimator.records.consent_scopes import Scope
from estimator.records.erasing import erase_client, erase_health
from estimator.records.errors import RecordsError
from estimator.records.exporting import export_client, import_client
from estimator.records.place import SalonPlace
from estimator.records.store import Store, open_store
from estimator.records.taking_back import take_back
from estimator.records.visit_record import ConsentRecord
from estimator.records.visits import keep_visit
from estimator.records.whole_visit import whole_visit
from estimator.visit.keeping import clock_records
from tests.estimator.records import invented

START = datetime(2026, 10, 5, 9, 30, tzinfo=UTC)
PHOTO = "f" * 64


def at(minutes: float) -> Instant:
    return Instant(START + timedelta(minutes=minutes), 1000 + 60 * minutes, "boot")


def timed(store: Store, mark: str = "draft of a visit"):
    """An invented visit with a lift on the salon's clock: started, looked at with a photograph, rinsed."""
    clock = salon_clock(store.place.folder)
    clock.add(new_event(Kind.START, "crown", at(0), most_minutes=30, check_minutes=5, visit=mark))
    clock.add(new_event(Kind.CHECK, "crown", at(12), level=7.5, photo_sha256=PHOTO))
    clock.add(new_event(Kind.RINSE, "crown", at(17)))
    return replace(invented.visit(), clock=clock_records(clock, mark, invented.DAY))


def in_sight(store: Store) -> list[str]:
    with store.looking() as session:
        kept = select(model.ClockEvent.kind).where(~model.ClockEvent.removed).order_by(model.ClockEvent.place)
        return list(session.scalars(kept))


def test_events_are_kept_in_their_order_with_time_and_minutes(store):
    kept = keep_visit(store, timed(store))
    clock = whole_visit(store, kept.id).record.clock
    assert [(event.kind, event.at_utc, event.content["minutes"]) for event in clock] == [
        ("start", START, 0), ("check", START + timedelta(minutes=12), 12), ("rinse", START + timedelta(minutes=17), 17),
    ]  # fmt: skip
    assert clock[1].content["photo_sha256"] == PHOTO


@pytest.mark.slow
def test_they_are_taken_back_and_undone_with_the_visit(file_store):
    kept = keep_visit(file_store, timed(file_store))
    take_back(file_store, kept.id)
    assert in_sight(file_store) == []
    file_store.undo()
    assert in_sight(file_store) == ["start", "check", "rinse"]
    file_store.undo()
    assert in_sight(file_store) == []


@pytest.mark.slow
def test_they_are_handed_out_and_read_back_equal(file_store, tmp_path, new_folder):
    kept = keep_visit(file_store, timed(file_store))
    export_client(file_store, "M. D.", tmp_path / "client.zip")
    with open_store(SalonPlace(tmp_path / "other")) as other:
        import_client(other, tmp_path / "client.zip")
        assert whole_visit(other, kept.id).record.clock == whole_visit(file_store, kept.id).record.clock
    with ZipFile(tmp_path / "client.zip") as handed_out:
        told = b"".join(handed_out.read(name) for name in handed_out.namelist())
    assert PHOTO.encode() in told
    assert b"draft of a visit" not in told


def test_erasing_takes_them_out_of_the_clock_s_own_records_too(file_store):
    keep_visit(file_store, timed(file_store))
    clock = salon_clock(file_store.place.folder)
    clock.put_away(START)
    clock.add(new_event(Kind.START, "nape", at(60), most_minutes=30, check_minutes=5, visit="another visit"))
    ids = [event.content["id"] for event in timed_rows(file_store)]
    erase_client(file_store, "M. D.")
    assert in_sight(file_store) == []
    left = every_byte(file_store.place.folder)
    assert not any(mark.encode() in left for mark in (*ids, PHOTO, "draft of a visit"))
    assert b"another visit" in left


def timed_rows(store: Store) -> list[model.ClockEvent]:
    with store.looking() as session:
        return list(session.scalars(select(model.ClockEvent)))


def every_byte(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


SKIN = (b"stings-seed", b"wrote-seed")


def felt(store: Store):
    """The visit with a look at which the skin stung, and something written beside it."""
    told = timed(store)
    content = told.clock[1].content | {"skin": "stings-seed", "note": "wrote-seed"}
    return replace(told, clock=(told.clock[0], replace(told.clock[1], content=content), told.clock[2]))


def test_how_the_skin_felt_is_kept_only_with_consent_to_health_answers(file_store):
    only_record = (ConsentRecord(Scope.RECORD, invented.DAY, "signed"),)
    kept = keep_visit(file_store, replace(felt(file_store), consents=only_record))
    assert any("the skin" in sentence for sentence in kept.left_out)
    assert in_sight(file_store) == ["start", "check", "rinse"]
    assert not any(seed in every_byte(file_store.place.folder) for seed in SKIN)


@pytest.mark.slow
def test_taking_back_that_consent_takes_it_out_and_leaves_the_events(file_store):
    kept = keep_visit(file_store, felt(file_store))
    take_back(file_store, kept.id)
    file_store.undo()  # so that versions hold the events as they were
    assert whole_visit(file_store, kept.id).record.clock[1].content["skin"] == "stings-seed"
    erase_health(file_store, "M. D.")
    assert in_sight(file_store) == ["start", "check", "rinse"]
    assert not any(seed in every_byte(file_store.place.folder) for seed in SKIN)


def test_a_damaged_clock_is_told_before_anything_is_erased(file_store):
    kept = keep_visit(file_store, timed(file_store))
    (file_store.place.folder / "clock.json").write_text("{", encoding="utf-8")
    with pytest.raises(RecordsError, match=r"Nothing was erased.*clock\.json"):
        erase_client(file_store, "M. D.")
    assert whole_visit(file_store, kept.id)
