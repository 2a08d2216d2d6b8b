"""One client's data as one file that a person can open, and back again. docs/how_it_keeps.md describes its form."""

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Table, select
from sqlalchemy import insert as insert_row

from estimator.errors import BadInputError, OutputError
from estimator.records import model
from estimator.records.archive import opened_archive, written_archive
from estimator.records.changes import writing
from estimator.records.client_rows import of_client, tables_with_clients
from estimator.records.clients import client_row
from estimator.records.database import engine_in_memory
from estimator.records.errors import RecordsError
from estimator.records.migrating import NEWEST, known_revisions
from estimator.records.model_base import Base
from estimator.records.photo_files import hash_of
from estimator.records.rows_json import lines_of, row_of
from estimator.records.store import Store

FORMAT = "tressmeter-client-1"
ROWS = "client.json"
# What rows that were exported from earlier tables lack, by the version of the tables that brought it.
_BROUGHT_BY: dict[str, dict[str, dict[str, Any]]] = {"0003": {"photo": {"outlines": {}}}}
_LEFT_OUT = {"version", "client_word", "visit_tag"}  # the last two follow from the rest and are made anew


@dataclass(frozen=True)
class Exported:
    """What an export holds."""

    rows: int
    files: int


Rows = dict[str, list[dict[str, Any]]]  # of one client, by table
Beside = Callable[[Rows], Mapping[str, bytes]]


def nothing_beside(_: Rows) -> Mapping[str, bytes]:
    """No further files."""
    return {}


def export_client(store: Store, code: str, path: Path, beside: Beside = nothing_beside) -> Exported:
    """Everything that is kept of one client, in one new zip file: rows as JSON, photographs, reports.

    beside : Makes further files by name from the rows, for whoever reads the zip; an import leaves them where they are.

    Raises
    ------
    NotKeptError : There is no such client.
    OutputError : The file is there already, or can't be written.
    """
    with store.looking() as session:
        client_id = client_row(session, code).id
        rows = client_rows(session.connection(), client_id)
    files = file_names(rows)
    about = {
        "format": FORMAT,
        "tables_version": NEWEST,
        "program_version": version("tressmeter"),
        "made_at_utc": datetime.now(UTC).isoformat(),
        "files": files,
    }
    with written_archive(path, about, _READ_ME) as writer:
        writer.add(ROWS, json.dumps(rows, ensure_ascii=False, indent=1).encode())
        for sha256, name in files.items():
            writer.add(name, store.files.get(sha256))
        for name, content in beside(rows).items():
            writer.add(name, content)
    return Exported(sum(map(len, rows.values())), len(files))


def client_rows(connection: Connection, client_id: str) -> dict[str, list[dict[str, Any]]]:
    """Every row of one client by table, as JSON holds it."""
    tables = client_tables()
    return {table.name: [json.loads(line) for line in _lines(connection, table, client_id)] for table in tables}


def file_names(rows: dict[str, list[dict[str, Any]]]) -> dict[str, str]:
    """The name of each file in the export by its hash: by day and side, in the order in which they were taken."""
    days = {visit["id"]: visit["day"] for visit in rows["visit"]}
    photos = sorted(rows["photo"], key=lambda row: (days[row["visit_id"]], row["visit_id"], row["place"]))
    reports = sorted(rows["document"], key=lambda row: (days[row["visit_id"]], row["visit_id"], row["ending"]))
    names: dict[str, str] = {}
    for number, row in enumerate(photos, 1):
        stem = f"{days[row['visit_id']]}-{number:03}-{row['side']}"
        names.setdefault(row["sha256"], f"photos/{stem}.{row['ending']}")
        names.setdefault(row["thumbnail_sha256"], f"photos/small/{stem}.jpg")
    for number, row in enumerate(reports, 1):
        names.setdefault(row["sha256"], f"reports/{days[row['visit_id']]}-{number:03}.{row['ending']}")
    return {sha256: name for sha256, name in names.items() if sha256}


def _lines(connection: Connection, table: Table, client_id: str) -> Iterator[bytes]:
    return lines_of(connection, table, of_client(table, client_id))


def client_tables() -> list[Table]:
    """The tables whose rows an export holds."""
    return [table for table in tables_with_clients() if table.name not in _LEFT_OUT]


def import_client(store: Store, path: Path) -> str:
    """The code of the client that an export holds, now in these records; importing it again changes nothing.

    Raises
    ------
    BadInputError : The file is damaged, of a newer program, or another client has the code already.
    """
    rows, files = _exported(path)
    put_client(store, rows, files, path.name)
    return str(rows["client"][0]["code"])


def try_import(path: Path) -> None:
    """Raises as `import_client` into empty records does; for a place that has none and shall have none if it does."""
    rows, files = _exported(path)
    try_client(rows, files, path.name)


def _exported(path: Path) -> tuple[Rows, dict[str, bytes]]:
    """The client's rows and files in an export. Raises BadInputError."""
    with opened_archive(path, FORMAT) as archive:
        check_tables_version(archive.about, path.name)
        rows = checked_rows(archive.read(ROWS), path.name, archive.about["tables_version"])
        return rows, {sha256: archive.read(name) for sha256, name in archive.about["files"].items()}


def check_tables_version(about: Mapping[str, Any], where: str) -> None:
    """Raises BadInputError where an export comes from tables that this program does not know. about : Its manifest."""
    if about["tables_version"] not in known_revisions():
        raise BadInputError(
            f"{where} was exported with tables {str(about['tables_version'])[:20]}; this program knows up to {NEWEST}. "
            "Install the newer version that wrote it."
        )


def try_client(rows: Rows, files: Mapping[str, bytes], where: str) -> None:
    """Raises as `put_client` does with one client in empty records; nothing is written anywhere."""
    for sha256, content in files.items():
        _check_file(sha256, content, where)
    engine = engine_in_memory(Base.metadata)
    try:
        _put(engine, "", rows)
    except RecordsError as problem:  # no disk and no other program has a part in it, so the rows are at fault
        raise BadInputError(f"{where} holds rows that don't belong together. Use another copy.") from problem
    finally:
        engine.dispose()


def put_client(store: Store, rows: dict[str, list[dict[str, Any]]], files: Mapping[str, bytes], where: str) -> bool:
    """Whether one client's rows and files are new in these records; what is there already, and equal, stays.

    where : What the file is called that they come from.

    Raises
    ------
    BadInputError : A file is not what its name says, or another client has the code already.
    OutputError : The client is there, and not as in the file.
    """
    try:
        with store.files.noted(files):
            for sha256, content in files.items():
                _check_file(sha256, content, where)  # before it is written: the note speaks of what the name says
                store.files.put(content)
            return _put(store.engine, store.who, rows)
    except BaseException:
        with suppress(RecordsError, OSError):  # what was refused goes at once where it can, else at the next start
            store.tidy()
        raise


def _check_file(sha256: str, content: bytes, where: str) -> None:
    if hash_of(content) != sha256:
        raise BadInputError(f"A file in {where} is not what its name says. Use another copy.")


def checked_rows(content: bytes, where: str, tables_version: str) -> dict[str, list[dict[str, Any]]]:
    """The rows in a client.json, as the tables of this program hold them. Raises BadInputError where it is none.

    tables_version : Of the tables that they were written from.
    """
    try:
        rows = json.loads(content)
        if set(rows) != {table.name for table in client_tables()} or len(rows["client"]) != 1:
            raise ValueError
        for brought_by, columns in _BROUGHT_BY.items():
            if brought_by > tables_version:
                for table, usual in columns.items():
                    rows[table] = [usual | row for row in rows[table]]
    except (KeyError, ValueError, TypeError) as problem:
        raise BadInputError(f"{where} does not hold one client's rows. Use another copy.") from problem
    return dict(rows)


def _put(engine: Engine, who: str, rows: Rows) -> bool:
    from estimator.records.search_rows import index_client

    (client,) = rows["client"]
    with writing(engine, "client imported", who) as session:
        there = session.get(model.Client, client["id"])
        if there is not None:
            if client_rows(session.connection(), there.id) == rows:
                return False
            raise OutputError(
                f"{client['code']} is in these records already, and not as in the file. Nothing was changed. "
                "Erase the client first if the file is the right one."
            )
        same_code = select(model.Client.id).where(model.Client.code_folded == client["code_folded"])
        if session.scalar(same_code):
            raise BadInputError(f"Another client has the code {client['code']!r}. Change that one's code first.")
        for name, told in rows.items():
            table = Base.metadata.tables[name]
            if told:
                made = [row_of(row, table, engine.dialect.name) for row in told]
                session.connection().execute(insert_row(table), made)
        if client_rows(session.connection(), client["id"]) != rows:
            raise BadInputError(
                "The file holds rows of more than its one client. Nothing was changed. Use another copy."
            )
        index_client(session, client["id"])
        return True


_READ_ME = """Everything that a salon keeps of one client.

client.json holds every row by table; photos/ the photographs as they are kept, without place or serial numbers, each
with a side-car (.xmp) where one was made; tables/ the same as CSV; reports/ the reports that were made; manifest.json
which file is which, and the SHA-256 of each. Times are in UTC, colours are CIELAB for daylight D65 and the 2 degree
observer, intervals hold nine times in ten.
"""
