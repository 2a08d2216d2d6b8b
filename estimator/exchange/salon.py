"""A whole salon as one zip that any program can read (JSON, CSV, photographs, reports), and back, idempotent."""

import json
from dataclasses import dataclass, field
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from sqlalchemy import select

from estimator.errors import BadInputError, EstimatorError
from estimator.exchange.salon_tables import SalonTables
from estimator.exchange.schemas import schemas
from estimator.exchange.sidecars import sidecars_of_client
from estimator.records import model
from estimator.records.archive import ArchiveWriter, OpenArchive, opened_archive, written_archive
from estimator.records.clients import agreed
from estimator.records.consent_scopes import Scope
from estimator.records.errors import RecordsError
from estimator.records.exporting import (
    Rows,
    check_tables_version,
    checked_rows,
    client_rows,
    file_names,
    put_client,
    try_client,
)
from estimator.records.migrating import NEWEST
from estimator.records.store import Store

FORMAT = "tressmeter-salon-1"
SUMS = "SHA256SUMS"
MOST_CLIENTS = 200_000


@dataclass
class Handed:
    """What was handed out or taken in.

    left_alone : Sentences on clients that were not, with their codes.
    """

    clients: int = 0
    known: int = 0
    files: int = 0
    missing: int = 0
    left_alone: list[str] = field(default_factory=list)


def export_salon(store: Store, path: Path) -> Handed:
    """Everything of every client who has agreed to the record, in one new file.

    Raises
    ------
    OutputError : The file is there already, or can't be written.
    BadInputError : There is nobody to hand out.
    """
    handed, clients = Handed(), _clients(store)
    with_consent = [(code, client_id) for code, client_id, has in clients if has]
    handed.left_alone = [f"{code}: the consent to the record was taken back." for code, _, has in clients if not has]
    if not with_consent:
        raise BadInputError("The records hold nobody who has agreed to be in them. There is nothing to hand out.")
    about: dict[str, Any] = {
        "format": FORMAT,
        "tables_version": NEWEST,
        "program_version": version("tressmeter"),
        "made_at_utc": datetime.now(UTC).isoformat(),
        "files": {},
    }
    with written_archive(path, about, _READ_ME) as writer:
        tables = SalonTables()
        for number, (_, client_id) in enumerate(with_consent, start=1):
            folder = f"clients/{number:05}"
            with store.looking() as session:
                rows = client_rows(session.connection(), client_id)
            writer.add(f"{folder}/client.json", json.dumps(rows, ensure_ascii=False, indent=1).encode("utf-8"))
            _write_files(store, writer, {sha256: f"{folder}/{name}" for sha256, name in file_names(rows).items()},
                         (about["files"], handed))  # fmt: skip
            for name, packet in sidecars_of_client(rows).items():
                writer.add(f"{folder}/{name}", packet)
            tables.add(folder, rows)
            handed.clients += 1
        for name, text in tables.texts().items():
            writer.add(f"tables/{name}", text.encode("utf-8"))
        for name, schema in schemas().items():
            writer.add(f"schemas/{name}", json.dumps(schema, ensure_ascii=False, indent=1).encode("utf-8"))
        sums = "".join(f"{sha256}  {name}\n" for name, sha256 in writer.hashes.items())
        writer.add(SUMS, sums.encode("utf-8"))
    return handed


def _clients(store: Store) -> list[tuple[str, str, bool]]:
    """Code and id of each client by code, and whether the consent to the record stands."""
    with store.looking() as session:
        rows = session.scalars(select(model.Client).where(~model.Client.removed).order_by(model.Client.code_folded))
        return [(row.code, row.id, agreed(session, row.id, Scope.RECORD)) for row in rows.all()]


def _write_files(
    store: Store, writer: ArchiveWriter, wanted: dict[str, str], noted: tuple[dict[str, str], Handed]
) -> None:
    """Write files by hash and name; what was written and what is missing is noted."""
    names, handed = noted
    for sha256, name in wanted.items():
        if sha256 in names:
            continue
        try:
            writer.add(name, store.files.get(sha256))
        except RecordsError:
            handed.missing += 1
            continue
        names[sha256] = name
        handed.files += 1


def import_salon(store: Store, path: Path) -> Handed:
    """What was taken in from a file that `export_salon` wrote; doing it again changes nothing.

    Each client comes whole or not at all. One who is there already, and not as in the file, is left alone and told.

    Raises
    ------
    BadInputError : The file is damaged, no such file, or of another version of the tables.
    """
    handed = Handed()
    with opened_archive(path, FORMAT) as archive:
        for member in _members(archive, path.name):
            _take_client(store, archive, member, handed)
    return handed


def try_import_salon(path: Path) -> list[str]:
    """Why nobody in the file could be taken into empty records, one sentence a client; [] where somebody can.

    Raises as `import_salon`. Nothing is written anywhere: for a place without records, which shall have none then.
    """
    refused: list[str] = []
    with opened_archive(path, FORMAT) as archive:
        for member in _members(archive, path.name):
            rows, files = _client_in(archive, member)
            try:
                try_client(rows, files, member)
            except EstimatorError as problem:
                refused.append(str(problem))
            else:
                return []
    return refused


def _members(archive: OpenArchive, where: str) -> list[str]:
    """Names of the clients' rows in the file. Raises BadInputError."""
    check_tables_version(archive.about, where)
    members = sorted(name for name in archive.names if name.startswith("clients/") and name.endswith("/client.json"))
    if len(members) > MOST_CLIENTS:
        raise BadInputError(f"{where} holds {len(members)} clients; {MOST_CLIENTS} are allowed.")
    return members


def _client_in(archive: OpenArchive, member: str) -> tuple[Rows, dict[str, bytes]]:
    """One client's rows and files. Raises BadInputError."""
    rows = checked_rows(archive.read(member), member, archive.about["tables_version"])
    held = archive.about["files"]
    wanted = {sha256: held[sha256] for sha256 in file_names(rows) if sha256 in held}
    return rows, {sha256: archive.read(name) for sha256, name in wanted.items()}


def _take_client(store: Store, archive: OpenArchive, member: str, handed: Handed) -> None:
    rows, files = _client_in(archive, member)
    try:
        new = put_client(store, rows, files, member)
    except EstimatorError as problem:
        handed.left_alone.append(str(problem))
        return
    handed.clients += new
    handed.known += not new
    handed.files += len(files) if new else 0


_READ_ME = """Everything that a salon keeps of its clients, to be read by any program.

clients/00001/client.json holds every row kept of one client, by table; photos/ beside it the photographs as they are
kept, without place or serial numbers; reports/ the reports. tables/ holds the same for a spreadsheet: clients, visits,
readings, what was mixed, outcomes; tables/clients.csv says whose folder is which. schemas/ describes each JSON file.
SHA256SUMS names the hash of every file (sha256sum -c SHA256SUMS). Times are in UTC, colours are CIELAB for daylight D65
and the 2 degree observer, intervals hold nine times in ten.

This file is as private as the records, and is not encrypted.
"""
