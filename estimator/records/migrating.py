"""Bringing a database's tables to what this program expects: forward only, a copy made first, all or nothing."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.exc import DBAPIError

from estimator.records.database import WRITES, check_space, sealed_driver, set_key, told_plainly
from estimator.records.errors import RecordsError
from estimator.records.folder_lock import alone
from estimator.records.place import SalonPlace
from estimator.records.swapping import lock_of
from estimator.records.vault import vault_of
from estimator.synced_folders import make_folder, sync_folder

NEWEST = "0003"  # of `migrations/versions`; a test holds them equal
_PACKAGE = Path(__file__).with_name("migrations")


def revision_of(engine: Engine) -> str | None:
    """The version of a database's tables; None for an empty database."""
    with told_plainly(), engine.connect() as connection:
        return _revision(connection)


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    return str(connection.scalar(text("SELECT version_num FROM alembic_version")))


def bring_up_to_date(engine: Engine, place: SalonPlace, newest: str = NEWEST) -> None:
    """The database with the tables of this program. An older file is copied aside before anything is changed.

    Raises
    ------
    RecordsError : The tables were made by a newer program, or can't be changed; then they stand as they stood.
    """
    found = revision_of(engine)
    if found == newest:
        return
    if found is not None and found not in known_revisions():
        raise RecordsError(
            f"These records were written by a newer Tressmeter (tables {found[:20]}, this one knows up to {newest}). "
            "Nothing was changed. Install the newer version; there is no way back from it."
        )
    if found is not None and place.on_sqlite:
        _copy_aside(place, found)
    with told_plainly(), engine.execution_options(**{WRITES: True}).connect() as connection:
        upgrade(connection, newest)


def upgrade(connection: Connection, revision: str) -> None:
    """The tables of `revision`, in one transaction."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_PACKAGE))
    config.attributes["connection"] = connection
    with connection.begin():
        if connection.dialect.name == "postgresql":  # one program changes tables, the others wait and find it done
            connection.execute(text("SELECT pg_advisory_xact_lock(7368747)"))
        if _revision(connection) != revision:
            command.upgrade(config, revision)


def known_revisions() -> tuple[str, ...]:
    """Every version of the tables that this program knows, the oldest first."""
    return tuple(sorted(path.name[1:5] for path in (_PACKAGE / "versions").glob("v0*.py")))


def _copy_aside(place: SalonPlace, found: str) -> None:
    key = vault_of(place.folder).database_key
    file = place.sealed_database_file if key else place.database_file
    check_space(place, file.stat().st_size)
    make_folder(place.earlier)
    copy = place.earlier / f"records-{found}-{datetime.now(UTC):%Y%m%dT%H%M%S%f}{file.suffix}"
    driver = sealed_driver() if key else sqlite3
    try:
        with alone(lock_of(place.folder)):
            _copied(lambda path: _connected(driver, path, key), file, copy)
    except (driver.Error, OSError, DBAPIError) as problem:
        raise RecordsError(
            "The database could not be copied aside, so its tables were not changed. Free some space, then try again."
        ) from problem


def _connected(driver: Any, path: Path, key: str) -> sqlite3.Connection:
    connection: sqlite3.Connection = driver.connect(path)
    set_key(connection, key)
    return connection


def _copied(connect: Callable[[Path], sqlite3.Connection], file: Path, copy: Path) -> None:
    """What bears a copy's name is whole, and on the disk; what a program that died had begun goes."""
    for part in copy.parent.glob("*.part*"):
        part.unlink()
    aside = copy.with_suffix(".part")
    try:
        with closing(connect(file)) as old, closing(connect(aside)) as new:
            old.backup(new)
        aside.replace(copy)
    finally:
        aside.unlink(missing_ok=True)
    sync_folder(copy.parent)
