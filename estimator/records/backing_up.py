"""The whole of a salon's records as one file, and back into a new folder or an empty database."""

import shutil
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any
from uuid import uuid4

from sqlalchemy import Connection, Engine, select, text

from estimator.errors import BadInputError, OutputError
from estimator.records.archive import ArchiveWriter, OpenArchive, opened_archive, written_archive
from estimator.records.database import WRITES, check_space, make_engine, told_plainly
from estimator.records.errors import RecordsError
from estimator.records.key_file import key_file_bytes
from estimator.records.migrating import bring_up_to_date, known_revisions, revision_of
from estimator.records.photo_files import LooseFiles, PhotoFiles
from estimator.records.place import KEY_FILE, SalonPlace
from estimator.records.rows_json import digest_of, lines_of, put_lines, tables_of
from estimator.records.store import FILE_COLUMNS, Store, open_store
from estimator.records.vault import vault_of
from estimator.synced_folders import make_folder, make_private_folder, sync_folder
from estimator.whole_files import bring_all_to_disk, write_whole

FORMAT = "tressmeter-backup-1"
LAST_BACKUP = "last_backup.txt"


@dataclass(frozen=True)
class BackedUp:
    """What a backup holds. missing : Files that a row names and that are not there any more."""

    rows: int
    files: int
    missing: tuple[str, ...]


def back_up(store: Store, path: Path) -> BackedUp:
    """The records in one new file at `path`, read back and checked. Drafts are no records and are left out.

    Raises
    ------
    OutputError : The file is there already, or can't be written.
    """
    about = about_now(store, FORMAT)
    with (
        told_plainly(),
        store.engine.connect() as connection,
        connection.begin(),
        written_archive(path, about, _READ_ME, vault_of(store.place.folder)) as writer,
    ):
        rows = tables_into(writer, connection)
        files, missing = _files(store.files, sorted(hashes_in(connection)), writer)
    note_backup(store, about["made_at_utc"])
    return BackedUp(rows, files, missing)


def about_now(store: Store, form: str) -> dict[str, Any]:
    """What a backup that is made at this moment says of itself."""
    return {
        "format": form,
        "tables_version": revision_of(store.engine),
        "made_at_utc": datetime.now(UTC).isoformat(),
        "program_version": version("tressmeter"),
    }


def note_backup(store: Store, made_at_utc: str) -> None:
    """Keep beside the records when the last backup was made."""
    with suppress(OSError):  # the backup stands; only its date can't be told
        write_whole(store.place.folder / LAST_BACKUP, made_at_utc.encode(), "backup")


def tables_into(writer: ArchiveWriter, connection: Connection) -> int:
    """How many rows were written, each table as one member."""
    tables = tables_of(connection)
    return sum(writer.add_parts(f"tables/{table.name}.jsonl", lines_of(connection, table)) for table in tables)


def hashes_in(connection: Connection) -> set[str]:
    """Names of every file that a row speaks of, in the state that this transaction sees."""
    return {sha256 for column in FILE_COLUMNS for sha256 in connection.scalars(select(column)) if sha256}


def _files(files: PhotoFiles, hashes: list[str], writer: ArchiveWriter) -> tuple[int, tuple[str, ...]]:
    missing = []
    for sha256 in hashes:
        try:
            writer.add(f"files/{sha256}", files.get(sha256))
        except RecordsError:
            missing.append(sha256)
    return len(hashes) - len(missing), tuple(missing)


def restore(path: Path, place: SalonPlace) -> BackedUp:
    """The records of a backup in a new place, compared with the backup row by row and file by file.

    Raises
    ------
    BadInputError : The file is damaged, or no backup, or made by a newer program.
    OutputError : The folder or the database is in use already; nothing of it was touched.
    """
    with opened_archive(path, FORMAT) as archive:
        return put_back(archive, _files_of(archive), place, path.stat().st_size)


def put_back(archive: OpenArchive, files: Iterable[tuple[str, bytes]], place: SalonPlace, needed: int) -> BackedUp:
    """The tables of the archive and these files in a new place, compared; built aside, then given its name.

    files : Each with the hash that it has to have. needed : About how much room it takes. [bytes] Raises as `restore`.
    """
    folder = place.folder
    if folder.exists() and any(folder.iterdir()):
        raise OutputError(f"{folder} is not empty. Restore into a new folder; move it into place once you have looked.")
    if archive.about["tables_version"] not in known_revisions():
        raise BadInputError("This backup was made by a newer Tressmeter. Install that version to restore it.")
    make_folder(folder.parent)
    aside = folder.with_name(f".restoring-{folder.name}-{uuid4().hex[:8]}")
    try:
        make_private_folder(aside)
        check_space(SalonPlace(aside), needed)
        done = _restored(archive, files, replace(place, folder=aside))
        bring_all_to_disk(aside)
        if folder.exists():
            folder.rmdir()
        aside.rename(folder)
        sync_folder(folder.parent)
    except OSError as problem:
        raise OutputError(f"{folder} could not be written ({problem.strerror}). Choose another folder.") from problem
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    open_store(place).close()
    return done


def _restored(archive: OpenArchive, files: Iterable[tuple[str, bytes]], place: SalonPlace) -> BackedUp:
    if archive.key_file is not None:
        write_whole(place.folder / KEY_FILE, key_file_bytes(archive.key_file), "key")
    engine = make_engine(place)
    try:
        _need_empty(engine)
        count = _files_restored(files, LooseFiles(place, vault_of(place.folder)))
        bring_up_to_date(engine, place, archive.about["tables_version"])
        return BackedUp(_rows_restored(archive, engine), count, ())
    finally:
        engine.dispose()


def _files_of(archive: OpenArchive) -> Iterator[tuple[str, bytes]]:
    for name in archive.names:
        if name.startswith("files/"):
            yield name.removeprefix("files/"), archive.read(name)


def _files_restored(files: Iterable[tuple[str, bytes]], there: PhotoFiles) -> int:
    count = 0
    for sha256, content in files:
        count += 1
        if there.put(content) != sha256:
            raise BadInputError(f"The file {sha256} in the backup is not what its name says. Use another copy.")
    return count


def _need_empty(engine: Engine) -> None:
    if revision_of(engine) is None:
        return
    with engine.connect() as connection:
        if connection.scalar(text("SELECT count(*) FROM client")):
            raise OutputError("The database holds records already. Name the address of an empty one.")


def _rows_restored(archive: OpenArchive, engine: Engine) -> int:
    rows = 0
    with told_plainly(), engine.execution_options(**{WRITES: True}).connect() as connection, connection.begin():
        for table in tables_of(connection):
            name = f"tables/{table.name}.jsonl"
            rows += put_lines(connection, table, archive.lines(name))
            if digest_of(lines_of(connection, table))[1] != archive.about["sha256"][name]:
                raise BadInputError(f"The rows of {table.name} came out otherwise than they went in. Nothing was kept.")
        if engine.dialect.name == "postgresql":
            _count_on(connection)
    return rows


def _count_on(connection: Connection) -> None:
    """Numbers given out by the server go on after the highest one that was restored."""
    for table, column in (("change", "sequence"), ("version", "id")):
        connection.execute(
            text(
                f"SELECT setval(pg_get_serial_sequence('{table}', '{column}'), "
                f"GREATEST((SELECT COALESCE(max({column}), 0) FROM {table}), 1))"
            )
        )


_READ_ME = """A backup of a salon's records: private photographs and what was measured, planned and done.

tables/ holds every row as a line of JSON, files/ every photograph and report by its SHA-256, manifest.json the
SHA-256 of each member. `tressmeter restore` checks them all and puts them into a new folder. Keep this file as safe as
the records.
"""
