"""Which rows and files of the records are one client's."""

from sqlalchemy import Table, or_, select, union_all
from sqlalchemy.orm import Session
from sqlalchemy.sql.elements import ColumnElement

from estimator.records import model
from estimator.records.changes import KEPT_TABLES
from estimator.records.model_base import Base
from estimator.records.store import FILE_COLUMNS

RECEIPTS = model.Erasure.__tablename__  # names a client that is no more, and holds nothing of the person


def tables_with_clients() -> list[Table]:
    """Every table that holds something of a client, each after those it leans on."""
    return [table for table in Base.metadata.sorted_tables if of_client(table, "") is not None]


def of_client(table: Table, client_id: str) -> ColumnElement[bool] | None:
    """The condition that a row of `table` is the client's; None for tables that hold nothing of clients."""
    if table.name == RECEIPTS:
        return None
    if table.name == "client":
        return table.c.id == client_id
    if table.name == "version":
        return _version_of(table, client_id)
    if "client_id" in table.c:
        return table.c.client_id == client_id
    if "visit_id" in table.c:
        return table.c.visit_id.in_(select(model.Visit.id).where(model.Visit.client_id == client_id))
    return None


def _version_of(table: Table, client_id: str) -> ColumnElement[bool]:
    kept = [KEPT_TABLES[name].__table__ for name in sorted(KEPT_TABLES)]
    conditions = []
    for each in kept:
        assert isinstance(each, Table)
        mine = of_client(each, client_id)
        assert mine is not None
        conditions.append(table.c.row_id.in_(select(each.c.id).where(mine)))
    return or_(*conditions)


def hashes_of(session: Session, client_id: str) -> set[str]:
    """Names of every file of the client: photographs, thumbnails, reports."""
    visits = select(model.Visit.id).where(model.Visit.client_id == client_id)
    wanted = union_all(*(select(column).where(column.class_.visit_id.in_(visits)) for column in FILE_COLUMNS))
    return {sha256 for sha256 in session.scalars(wanted) if sha256}
