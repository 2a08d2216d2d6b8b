"""Rows as lines of JSON and back: one form for backups and exports, the same from either database."""

import hashlib
import json
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import JSON, Connection, Date, DateTime, MetaData, Table, insert, select
from sqlalchemy.sql.elements import ColumnElement

from estimator.errors import BadInputError
from estimator.records.model_base import UtcTime

AT_ONCE = 500


def tables_of(connection: Connection) -> list[Table]:
    """The tables as they are in the database, each after those it leans on."""
    found = MetaData()
    found.reflect(connection)
    for column in (column for table in found.tables.values() for column in table.columns):
        if isinstance(column.type, JSON):
            column.type.none_as_null = True  # nothing stays nothing, and does not become the word null
    return [table for table in found.sorted_tables if table.name != "alembic_version"]


def lines_of(connection: Connection, table: Table, where: ColumnElement[bool] | None = None) -> Iterator[bytes]:
    """The rows of a table as JSON, one a line, in the order of their primary key."""
    rows = select(table).order_by(*table.primary_key.columns)
    rows = rows if where is None else rows.where(where)
    for row in connection.execute(rows, execution_options={"yield_per": AT_ONCE}):
        yield as_line({name: _plain(value) for name, value in row._mapping.items()})


def as_line(told: dict[str, Any]) -> bytes:
    """One row as a line."""
    return json.dumps(told, sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def put_lines(connection: Connection, table: Table, lines: Iterable[bytes]) -> int:
    """How many rows were put into the table."""
    count, some = 0, []
    for line in lines:
        some.append(row_of(json.loads(line), table, connection.dialect.name))
        if len(some) == AT_ONCE:
            connection.execute(insert(table), some)
            count, some = count + len(some), []
    if some:
        connection.execute(insert(table), some)
    return count + len(some)


def row_of(told: dict[str, Any], table: Table, dialect: str) -> dict[str, Any]:
    """A row as its table takes it. Raises BadInputError where it has other columns, or other kinds of values."""
    try:
        return {name: _read(value, table.columns[name].type, dialect) for name, value in told.items()}
    except (KeyError, TypeError, ValueError, AttributeError) as problem:
        raise BadInputError(
            f"A row of the table {table.name} is not as this program writes it. Use another copy."
        ) from problem


def _read(value: Any, kind: Any, dialect: str) -> Any:
    if value is None:
        return None
    if isinstance(kind, UtcTime):
        return datetime.fromisoformat(value)
    if isinstance(kind, DateTime):
        moment = datetime.fromisoformat(value)
        return moment.replace(tzinfo=None) if dialect == "sqlite" else moment
    return date.fromisoformat(value) if isinstance(kind, Date) else value


def digest_of(lines: Iterable[bytes]) -> tuple[int, str]:
    """How many rows, and the SHA-256 over all of them."""
    count, digest = 0, hashlib.sha256()
    for line in lines:
        count += 1
        digest.update(line)
    return count, digest.hexdigest()
