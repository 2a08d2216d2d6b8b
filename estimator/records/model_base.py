"""What every table of the records shares: how times, structures and text are kept, and what a version is."""

from datetime import UTC, datetime
from typing import Any, ClassVar
from uuid import uuid4

from sqlalchemy import JSON, DateTime, MetaData, String
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column
from sqlalchemy.types import TypeDecorator

Json = Any
ID_LENGTH = 32
# Sorted and searched by code point on every database, so that a beginning of a word is one range of the index.
FoldedText = String(collation="BINARY").with_variant(String(collation="C"), "postgresql")


class UtcTime(TypeDecorator[datetime]):
    """A moment in UTC; what comes back knows that it is."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is not None and value.tzinfo is None:
            raise ValueError("A moment without its zone was to be kept.")
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """All tables of the records."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map: ClassVar = {
        Json: JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql"),
        datetime: UtcTime(),
    }


def new_id() -> str:
    """A name that nothing else has and that says nothing: 128 random bits in hexadecimal."""
    return uuid4().hex


class Named:
    """A row with a name of its own that tells nothing of the person."""

    id: Mapped[str] = mapped_column(String(ID_LENGTH), primary_key=True, default=new_id)


class Kept(Named):
    """A row that a person may change. Each version before stays (see `changes`), and two writers never cross.

    version : Counted by the database library; a writer who saw an older one is refused.
    removed : Taken out of sight by an undo; the row itself stays until the client is erased.
    """

    version: Mapped[int]
    removed: Mapped[bool] = mapped_column(default=False)

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:  # noqa: N805 - the library hands over the class
        return {"version_id_col": cls.version}
