"""The tables: made by migrations alone, equal to the models, forward from the first version, never back."""

import sqlite3

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text

from estimator.records.database import make_engine
from estimator.records.errors import RecordsError
from estimator.records.migrating import NEWEST, bring_up_to_date, known_revisions
from estimator.records.model_base import Base
from estimator.records.place import SalonPlace
from estimator.records.store import open_store


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
