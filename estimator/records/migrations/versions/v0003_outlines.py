"""Where the zones lie in each photograph."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision, down_revision = "0003", "0002"

JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


def upgrade() -> None:
    # Visits that are there were kept without: their zones have names and no outlines.
    op.add_column("photo", sa.Column("outlines", JSON, server_default="{}", nullable=False))
