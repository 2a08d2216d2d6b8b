"""The tables: made by migrations alone, equal to the models, forward from the first version, never back."""

import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text

from estimator.records.database import make_engine
from estimator.records.errors import RecordsError
from estimator.records.migrating import NEWEST, bring_up_to_date, known_revisions, revision_of
from estimator.records.model_base import Base
from estimator.records.place import SalonPlace
from estimator.records.searching import Asked, find_clients, find_visits
from estimator.records.showing import client_page
from estimator.records.store import open_store

FROZEN = Path(__file__).with_name("frozen")


def test_the_migrations_make_exactly_the_tables_of_the_models(store):
    with store.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []


def test_the_newest_version_is_the_last_script():
    assert known_revisions()[-1] == NEWEST


def test_records_of_a_newer_program_are_left_alone(store):
    with store.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(RecordsError, match="newer Tressmeter"):
        open_store(store.place)


def test_a_file_that_is_no_database_is_told_in_a_sentence(tmp_path):
    place = SalonPlace(tmp_path / "salon")
    place.folder.mkdir()
    place.database_file.write_bytes(b"this is no database, only text " * 100)
    with pytest.raises(RecordsError, match="damaged"):
        open_store(place)
    assert place.database_file.read_bytes().startswith(b"this is no database")


def test_the_file_is_kept_as_safely_as_it_can_be(file_store):
    with file_store.engine.connect() as connection:
        told = {name: connection.execute(text(f"PRAGMA {name}")).scalar() for name in
                ("journal_mode", "synchronous", "foreign_keys", "secure_delete")}  # fmt: skip
    assert told == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "secure_delete": 1}


def test_bringing_up_to_date_twice_changes_nothing(file_store):
    before = sqlite3.connect(file_store.place.database_file).execute("SELECT sql FROM sqlite_master").fetchall()
    bring_up_to_date(make_engine(file_store.place), file_store.place)
    after = sqlite3.connect(file_store.place.database_file).execute("SELECT sql FROM sqlite_master").fetchall()
    assert before == after
    assert not file_store.place.earlier.exists()


def _frozen(place: SalonPlace, version: str) -> None:
    """The database of an earlier version of the tables, as it was kept then."""
    place.folder.mkdir()
    with sqlite3.connect(place.database_file) as connection:
        connection.executescript((FROZEN / f"version_{version}.sql").read_text(encoding="utf-8"))
    connection.close()


@pytest.mark.parametrize("version", known_revisions()[:-1])
def test_records_of_every_earlier_version_are_brought_forward_whole(tmp_path, version):
    place = SalonPlace(tmp_path / "salon")
    _frozen(place, version)
    before = sqlite3.connect(place.database_file).execute("SELECT * FROM reading ORDER BY id").fetchall()
    with open_store(place) as store:
        assert revision_of(store.engine) == NEWEST
        with store.engine.connect() as connection:
            assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []
        assert [found.code for found in find_clients(store, "mari")] == ["M. D."]
        assert [found.code for found in find_visits(store, Asked(level=7, stage="gold"))] == ["Zoë K", "M. D."]
        assert client_page(store, "M. D.").details.contact == "by post"
        assert store.undo() == "client"
    assert sqlite3.connect(place.database_file).execute("SELECT * FROM reading ORDER BY id").fetchall() == before
    # A copy as it was lies aside.
    (copy,) = place.earlier.iterdir()
    assert sqlite3.connect(copy).execute("SELECT version_num FROM alembic_version").fetchone() == (version,)


@pytest.mark.slow
@pytest.mark.parametrize("version", known_revisions()[:-1])
def test_a_server_s_tables_go_forward_from_every_earlier_version(postgres, tmp_path, version):
    place = SalonPlace(tmp_path / "salon", postgres.new_address())
    engine = make_engine(place)
    bring_up_to_date(engine, place, version)
    assert revision_of(engine) == version
    bring_up_to_date(engine, place)
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []
    engine.dispose()


def test_a_migration_that_fails_leaves_the_tables_as_they_were(tmp_path, monkeypatch):
    place = SalonPlace(tmp_path / "salon")
    _frozen(place, "0001")

    def fails(*_words):
        raise sqlite3.OperationalError("disk I/O error")

    with monkeypatch.context() as broken:
        broken.setattr("estimator.records.search_keys.visit_tags", fails)
        with pytest.raises((RecordsError, sqlite3.OperationalError)):
            open_store(place)
    tables = {name for (name,) in sqlite3.connect(place.database_file).execute("SELECT name FROM sqlite_master")}
    assert "client_word" not in tables
    with open_store(place) as store:
        assert revision_of(store.engine) == NEWEST
