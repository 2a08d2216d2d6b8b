"""Somebody else holds the records, or the clock is wrong: a sentence and no loss; order by number, UTC kept."""

import sqlite3
import sys
import time
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import select, text
from sqlalchemy.exc import StatementError

from estimator import cli
from estimator.records import changes, checking, erasing, model
from estimator.records.adding import add_note
from estimator.records.backing_up import back_up
from estimator.records.checking import check_all
from estimator.records.clients import change_client, client, earlier_versions
from estimator.records.erasing import erase_client
from estimator.records.errors import RecordsError
from estimator.records.folder_lock import alone
from estimator.records.place import SALON_VARIABLE
from estimator.records.showing import client_page
from estimator.records.store import open_store
from estimator.records.visit_record import ClockRecord
from estimator.records.visits import keep_visit
from tests.estimator.records.drills import faults_of
from tests.estimator.records.hindered import ACTS, Ground, faults_after, prepare, refill
from tests.estimator.records.invented import DAY, visit

SLOW = pytest.mark.slow
LOOKING = ("back up", "export", "draft")  # what needs no lock of the database


# --- held by somebody else


@pytest.fixture
def short_wait(monkeypatch):
    """A fifth of a second instead of the 30 that a person would wait."""
    pragmas = tuple("PRAGMA busy_timeout=200" if "busy" in each else each for each in database_pragmas())
    monkeypatch.setattr("estimator.records.database._PRAGMAS", pragmas)
    monkeypatch.setattr("estimator.records.database.WAIT_SECONDS", 0.2)
    monkeypatch.setattr(alone.__wrapped__, "__defaults__", (0.2,))


def database_pragmas():
    from estimator.records import database

    assert any(f"busy_timeout={30 * 1000}" in each for each in database._PRAGMAS)  # what a person waits at most
    return database._PRAGMAS


@contextmanager
def held(place):
    """Another program writes to the database and does not end."""
    with closing(sqlite3.connect(place.database_file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


@pytest.mark.slow
@pytest.mark.usefixtures("short_wait")
@pytest.mark.parametrize("acts", [("keep", "draft"), pytest.param(tuple(ACTS), marks=SLOW)])
def test_a_database_that_is_held_for_long_ends_in_a_sentence_and_loses_nothing(tmp_path, acts):
    ground = Ground(tmp_path)
    prepare(ground)
    for act in acts:
        does = ACTS[act]
        with open_store(ground.place) as store:
            refill(store)
            with held(ground.place):
                if act in LOOKING:
                    does(ground, store)
                else:
                    with pytest.raises(RecordsError, match="Another program is writing to the records and does not"):
                        does(ground, store)
        assert faults_after(ground, act, "done" if act in LOOKING else "refused") == [], act


@pytest.mark.slow
@pytest.mark.usefixtures("short_wait")
@pytest.mark.parametrize("acts", [("keep",), pytest.param(("keep", "erase", "import"), marks=SLOW)])
def test_a_folder_that_is_held_for_long_ends_in_a_sentence_and_loses_nothing(tmp_path, acts):
    ground = Ground(tmp_path)
    prepare(ground)
    with open_store(ground.place) as store:
        for act in acts:
            with alone(ground.place.pending / ".lock"), pytest.raises(RecordsError, match="Close it, try again"):
                ACTS[act](ground, store)
            assert faults_after(ground, act, "refused") == [], act


@pytest.mark.slow
@pytest.mark.usefixtures("short_wait")
def test_the_command_says_one_sentence_and_no_trace_where_the_database_is_held(file_store, monkeypatch, capsys):
    keep_visit(file_store, visit())
    monkeypatch.setenv(SALON_VARIABLE, str(file_store.place.folder))
    monkeypatch.setattr(sys, "argv", ["tressmeter", "records", "undo"])
    with held(file_store.place), pytest.raises(SystemExit) as ended:
        cli.main()
    said = capsys.readouterr()
    assert ended.value.code not in (None, 0)
    assert "Another program is writing to the records" in said.err
    assert "Traceback" not in said.out + said.err


# --- a clock that is wrong


@contextmanager
def clock_moved(monkeypatch, by):
    """The machine's clock shows another time to everything in the records that asks it."""

    class Moved(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.now(tz) + by

    with monkeypatch.context() as moved:
        for module in (changes, checking, erasing, sys.modules["estimator.records.backing_up"]):
            moved.setattr(module, "datetime", Moved)
        yield


BACK, AHEAD = timedelta(hours=-1), timedelta(days=3653)  # ten years with their leap days
MOVES = (timedelta(0), BACK, AHEAD, timedelta(0), BACK)


@pytest.mark.slow
def test_changes_are_undone_by_their_number_though_the_clock_went_back_and_ten_years_ahead(store, monkeypatch):
    keep_visit(store, visit(notes=()))
    for number, by in enumerate(MOVES):
        with clock_moved(monkeypatch, by):
            add_note(store, "M. D.", DAY, f"note {number}")
            change_client(store, client(store, "M. D."), contact=f"contact {number}")
    with store.looking() as session:
        told = session.scalars(select(model.Change.at_utc).order_by(model.Change.sequence)).all()
    assert max(told) - min(told) > timedelta(days=3652)
    assert told != sorted(told)  # or the clock would not have been wrong
    contacts = [version["contact"] for version in earlier_versions(store, "M. D.")]
    assert contacts == ["contact 3", "contact 2", "contact 1", "contact 0", "marigold@example.org"]
    for number in reversed(range(len(MOVES))):
        assert client_page(store, "M. D.").notes[-1] == f"note {number}"
        assert client(store, "M. D.").contact == f"contact {number}"
        assert (store.undo(), store.undo()) == ("client", "note")
    assert client_page(store, "M. D.").notes == ()


@pytest.mark.slow
def test_a_client_who_is_kept_under_one_clock_is_erased_under_another(file_store, monkeypatch):
    with clock_moved(monkeypatch, AHEAD):
        keep_visit(file_store, visit())
    with clock_moved(monkeypatch, BACK):
        receipt = erase_client(file_store, "M. D.")
    assert abs(receipt.at_utc - (datetime.now(UTC) + BACK)) < timedelta(minutes=5)
    assert faults_of(file_store) == []


def test_a_backup_that_was_made_while_the_clock_was_ahead_is_no_reason_to_make_none(file_store, tmp_path, monkeypatch):
    with clock_moved(monkeypatch, AHEAD):
        back_up(file_store, tmp_path / "backup.zip")
    (told,) = [check for check in check_all(file_store) if check.what == "backup"]
    assert "ahead of this machine's clock" in told.told
    assert "make another" in told.remedy


# --- places on earth


ZONES = (  # as POSIX writes them (IEEE 1003.1, environment variable TZ): no table of zones is needed
    "LINT-14",  # fourteen hours ahead
    pytest.param("NST3:30NDT,M3.2.0,M11.1.0", marks=SLOW),  # three and a half behind, with summer time
    pytest.param("UTC0", marks=SLOW),
)


@pytest.mark.skipif(sys.platform == "win32", reason="TIME ZONES SKIPPED: no program can change its zone here")
@pytest.mark.parametrize("zone", ZONES)
def test_moments_are_kept_in_utc_wherever_the_laptop_is(store, monkeypatch, zone):
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        first = time.time()  # seconds since 1970-01-01 UTC on every system, whatever the zone
        keep_visit(store, visit())
        last = time.time()
        with store.looking() as session:
            kept = session.scalar(text("SELECT at_utc FROM change"))
    finally:
        monkeypatch.undo()
        time.tzset()
    moment = datetime.fromisoformat(kept).replace(tzinfo=UTC) if isinstance(kept, str) else kept
    assert first <= moment.timestamp() <= last


def test_the_hour_that_comes_twice_is_kept_as_two_hours_in_their_order(store):
    # 25 October 2026, 03:00 summer time becomes 02:00 in the whole European Union at 01:00 UTC: Directive 2000/84/EC,
    # article 3, the last Sunday of October (from memory).
    summer, winter = timezone(timedelta(hours=2)), timezone(timedelta(hours=1))
    first, second = datetime(2026, 10, 25, 2, 30, tzinfo=summer), datetime(2026, 10, 25, 2, 30, tzinfo=winter)
    events = tuple(ClockRecord(kind, "crown", at, {}) for kind, at in (("start", first), ("rinse", second)))
    keep_visit(store, visit(clock=events))
    with store.looking() as session:
        kept = session.execute(select(model.ClockEvent.kind, model.ClockEvent.at_utc).order_by(model.ClockEvent.place))
        (start, begun), (rinse, ended) = kept.all()
    assert (start, rinse) == ("start", "rinse")
    assert (begun.isoformat(), ended.isoformat()) == ("2026-10-25T00:30:00+00:00", "2026-10-25T01:30:00+00:00")


def test_a_moment_without_its_zone_is_refused_and_nothing_is_kept(store):
    with pytest.raises(StatementError, match="without its zone"):
        keep_visit(store, visit(clock=(ClockRecord("start", "crown", datetime(2026, 10, 25, 2, 30), {}),)))
    assert faults_of(store) == []
