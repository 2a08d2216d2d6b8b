"""The door's own small database, `access.sqlite` in the salon's folder: staff and phones, nothing of any client.

It lies beside the records, not in them: each machine that opens its door keeps its own phones, also where a group's
records lie on one server, and a backup of the records carries no key to the door.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from estimator.errors import OutputError
from estimator.records.place import ACCESS_FILE
from estimator.synced_folders import make_private_folder

WAIT_SECONDS = 30.0
SCHEMA_VERSION = 1

_SCHEMA = """
CREATE TABLE person (id TEXT PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL, pin TEXT NOT NULL, ended TEXT);
CREATE TABLE pairing (code_hash TEXT PRIMARY KEY, ends TEXT NOT NULL);
CREATE TABLE phone (id TEXT PRIMARY KEY, label TEXT NOT NULL, token_hash TEXT NOT NULL UNIQUE, paired TEXT NOT NULL,
                    ended TEXT);
CREATE TABLE wrong (phone TEXT NOT NULL REFERENCES phone, person TEXT NOT NULL, tries INTEGER NOT NULL,
                    wait_seconds REAL NOT NULL, PRIMARY KEY (phone, person));
CREATE TABLE session (id TEXT PRIMARY KEY, person TEXT NOT NULL REFERENCES person,
                      phone TEXT NOT NULL REFERENCES phone, begun TEXT NOT NULL, ended TEXT, why TEXT);
CREATE TABLE trail (number INTEGER PRIMARY KEY AUTOINCREMENT, at TEXT NOT NULL, what TEXT NOT NULL,
                    person TEXT, phone TEXT);
"""


class AccessDatabase:
    """The staff, phones and sessions of one salon folder; safe to use from many threads and programs at once."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / ACCESS_FILE
        try:
            make_private_folder(folder)
            with self.writing() as rows:
                if rows.execute("PRAGMA user_version").fetchone()[0] == 0:
                    for statement in filter(str.strip, _SCHEMA.split(";")):
                        rows.execute(statement)
                    rows.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
            self._file.chmod(0o600)
        except OSError as problem:
            raise OutputError(
                f"The salon's folder {folder} can't be used ({problem.strerror}). Choose one that you may write to."
            ) from problem

    @contextmanager
    def looking(self) -> Iterator[sqlite3.Connection]:
        """A connection that only looks."""
        with _told_plainly(), closing(self._connect()) as rows:
            yield rows

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """A connection whose changes are kept together or not at all; one writer at a time."""
        with _told_plainly(), closing(self._connect()) as rows:
            rows.execute("BEGIN IMMEDIATE")
            try:
                yield rows
            except BaseException:
                rows.execute("ROLLBACK")
                raise
            rows.execute("COMMIT")

    def _connect(self) -> sqlite3.Connection:
        rows = sqlite3.connect(self._file, timeout=WAIT_SECONDS, isolation_level=None)
        rows.row_factory = sqlite3.Row
        rows.execute("PRAGMA foreign_keys = ON")
        rows.execute("PRAGMA synchronous = FULL")
        rows.execute("PRAGMA secure_delete = ON")
        return rows


@contextmanager
def _told_plainly() -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as problem:
        raise OutputError(
            f"The list of staff and phones ({ACCESS_FILE}) can't be used just now. Nothing was changed. Check that "
            "the disk has room and that nothing else holds the file; where it is damaged, take it away and "
            "pair the phones anew."
        ) from problem


def now_utc() -> str:
    """This moment in UTC, as it is kept."""
    return datetime.now(UTC).isoformat(timespec="seconds")
