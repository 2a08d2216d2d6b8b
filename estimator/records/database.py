"""The engine: one code for the file in the salon's folder and for a server; faults become sentences."""

import logging
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from sqlite3 import Connection as SqliteConnection
from typing import Any

from sqlalchemy import Connection, Engine, MetaData, create_engine, event
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from sqlalchemy.orm.exc import StaleDataError

from estimator.records.errors import ChangedMeanwhileError, RecordsError
from estimator.records.place import SalonPlace
from estimator.records.swapping import is_settled
from estimator.records.vault import Vault, vault_of

WAIT_SECONDS = 30  # for another writer; after that a sentence says so
SPARE_BYTES = 4_000_000  # left free beside what is written, so that the system itself can still work
WRITES = "tressmeter_writes"  # an execution option: this transaction will write, so it asks for the lock at once

# FULL: not even a loss of power takes an acknowledged visit. secure_delete: what is erased is written over.
_PRAGMAS = (
    f"PRAGMA busy_timeout={WAIT_SECONDS * 1000}",
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=FULL",
    "PRAGMA foreign_keys=ON",
    "PRAGMA secure_delete=ON",
    "PRAGMA temp_store=MEMORY",
    "PRAGMA cache_size=-32000",  # kB: the pages that a search walks over stay in memory
)


# A talkative log would print the rows that come back: names, notes, contacts. Statements may stand there, values not.
logging.getLogger("sqlalchemy.engine.Engine").addFilter(lambda record: record.levelno > logging.DEBUG)


def make_engine(place: SalonPlace, vault: Vault | None = None) -> Engine:
    """The engine of a salon's records. Nothing is opened yet.

    vault : How they lie; without it as the folder says. A server's database is the server's own affair.
    Raises LockedError where they are encrypted and the passphrase is missing or wrong.
    """
    vault = vault or vault_of(place.folder)
    if not place.on_sqlite:
        # Each transaction sees one state from its first look to its last, as it does in the file.
        return create_engine(place.address, pool_pre_ping=True, isolation_level="REPEATABLE READ", hide_parameters=True)
    file = place.sealed_database_file if vault.database_key else place.database_file
    driver = {"module": sealed_driver()} if vault.database_key else {}
    engine = create_engine(f"sqlite:///{file}", connect_args={"timeout": WAIT_SECONDS}, hide_parameters=True, **driver)

    def set_up(connection: SqliteConnection, _record: Any) -> None:
        set_key(connection, vault.database_key)
        connection.isolation_level = None  # transactions are begun by us, and so are those that change tables
        for pragma in _PRAGMAS:
            connection.execute(pragma)

    def begin(connection: Connection) -> None:
        # Without IMMEDIATE a look that turns into a write could find the lock taken by one who wrote in between.
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
        if not (file.exists() and is_settled(place.folder)):
            connection.exec_driver_sql("ROLLBACK")
            raise RecordsError("The records were encrypted or decrypted meanwhile. Nothing was written; do it again.")

    event.listen(engine, "connect", set_up)
    event.listen(engine, "begin", begin)
    return engine


def engine_in_memory(tables: MetaData) -> Engine:
    """The engine of empty tables that live in the machine's memory and go with it: rows are tried there."""
    engine = create_engine("sqlite://", hide_parameters=True)
    event.listen(engine, "connect", lambda connection, _record: connection.execute("PRAGMA foreign_keys=ON"))
    tables.create_all(engine)
    return engine


def sealed_driver() -> Any:
    """The driver of databases with encrypted pages; it does all that the usual one does."""
    from sqlcipher3 import dbapi2

    return dbapi2


def set_key(connection: SqliteConnection, key_hex: str) -> None:
    """The first word to a database with encrypted pages; nothing to one without a key."""
    if key_hex:
        connection.execute(f"PRAGMA key = \"x'{key_hex}'\"")  # a key, and no words to make one from


def check_space(place: SalonPlace, needed_bytes: int = 0) -> None:
    """Refuse to begin what would fill the disk: a database in that state tells no more than "disk I/O error"."""
    free = shutil.disk_usage(place.folder).free
    if free < needed_bytes + SPARE_BYTES:
        raise RecordsError(
            f"Only {free / 1e6:.0f} MB are free where the records lie, and {(needed_bytes + SPARE_BYTES) / 1e6:.0f} MB "
            "are needed. Nothing was written; what stood before stands. Free some space, then do it again."
        )


def clean_pages(engine: Engine, tables: Sequence[str]) -> None:
    """Free pages and the log are written anew, so that nothing of deleted rows is left in them. Raises RecordsError."""
    with told_plainly():
        if engine.dialect.name == "postgresql":
            with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
                for table in tables:
                    connection.exec_driver_sql(f'VACUUM FULL "{table}"')
        else:
            _clean_file(engine)


def _clean_file(engine: Engine) -> None:
    connection = engine.raw_connection()  # a transaction of ours would forbid it
    try:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.execute("VACUUM")
        busy = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
    except engine.dialect.loaded_dbapi.Error as problem:
        raise RecordsError(_sentence(str(problem))) from problem
    finally:
        connection.close()
    if busy:
        raise RecordsError(
            "Another program holds the records open, so their log still has what was taken out. Close it, then "
            "run `tressmeter doctor`: it finishes the work."
        )


@contextmanager
def told_plainly() -> Iterator[None]:
    """Faults of the database become sentences; nothing of a person is in them."""
    try:
        yield
    except StaleDataError as problem:
        raise ChangedMeanwhileError from problem
    except (OperationalError, PoolTimeoutError) as problem:
        if "serialize" in str(problem):  # a server's word for two who changed the same row
            raise ChangedMeanwhileError from problem
        raise RecordsError(_sentence(str(problem))) from problem
    except IntegrityError as problem:
        if "unique" in str(problem.orig).lower():  # two made the same thing at the same moment
            raise ChangedMeanwhileError from problem
        raise RecordsError(_sentence(str(problem.orig))) from problem
    except DBAPIError as problem:
        raise RecordsError(_sentence(str(problem))) from problem


def _sentence(fault: str) -> str:
    kept = "Nothing was written; what stood before stands."
    told = fault.lower()
    if "locked" in told or "timeout" in told:
        return f"Another program is writing to the records and does not end. {kept} Close it, then do it again."
    if "readonly" in told or "read-only" in told:
        return f"The records can't be written: they are read-only. {kept} Give this user leave to write in the folder."
    if "full" in told or "disk i/o" in told:
        return (
            f"The disk is full, or fails. {kept} Free some space, then do it again; `tressmeter doctor` looks closer."
        )
    if "not a database" in told or "malformed" in told:
        return (
            "The database file is damaged. Leave the folder as it is, and restore the last backup into a new folder "
            "with `tressmeter restore`."
        )
    if "unable to open" in told:
        return f"The database file can't be opened. {kept} Check the folder and who may use it."
    if "connect" in told or "terminat" in told or "closed" in told:
        return f"The database server does not answer. {kept} Check that it runs and that the address is right."
    return f"The database refused. {kept} Run `tressmeter doctor`, which says what is wrong."
