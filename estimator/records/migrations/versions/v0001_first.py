"""The first tables: clients, consents, visits with all that belongs to them, changes and versions."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision, down_revision = "0001", None

UTC_TIME = sa.DateTime(timezone=True)
FOLDED = sa.String(collation="BINARY").with_variant(sa.String(collation="C"), "postgresql")
JSON = sa.JSON().with_variant(postgresql.JSONB(), "postgresql")


def upgrade() -> None:
    op.create_table(
        "change",
        sa.Column("sequence", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at_utc", UTC_TIME, nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("what", sa.String(length=80), nullable=False),
        sa.Column("undoes", sa.Integer(), nullable=True),
        sa.Column("undone", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["undoes"], ["change.sequence"], name=op.f("fk_change_undoes_change")),
        sa.PrimaryKeyConstraint("sequence", name=op.f("pk_change")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "client",
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("code_folded", FOLDED, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("contact", sa.Text(), nullable=False),
        sa.Column("demo", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_client")),
        sa.UniqueConstraint("code_folded", name=op.f("uq_client_code_folded")),
    )
    op.create_table(
        "erasure",
        sa.Column("at_utc", UTC_TIME, nullable=False),
        sa.Column("client_id", sa.String(length=32), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("files", sa.Integer(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_erasure")),
    )
    op.create_table(
        "consent",
        sa.Column("client_id", sa.String(length=32), nullable=False),
        sa.Column("scope", sa.String(length=40), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("given_on", sa.Date(), nullable=False),
        sa.Column("how", sa.Text(), nullable=False),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.Column("withdrawn_how", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["client_id"], ["client.id"], name=op.f("fk_consent_client_id_client")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consent")),
    )
    op.create_index(op.f("ix_consent_client_id"), "consent", ["client_id"], unique=False)
    op.create_table(
        "consultation",
        sa.Column("client_id", sa.String(length=32), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("facts", JSON, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["client_id"], ["client.id"], name=op.f("fk_consultation_client_id_client")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consultation")),
    )
    op.create_index(op.f("ix_consultation_client_id"), "consultation", ["client_id"], unique=False)
    op.create_table(
        "version",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("change_sequence", sa.Integer(), nullable=False),
        sa.Column("table", sa.String(length=40), nullable=False),
        sa.Column("row_id", sa.String(length=32), nullable=False),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.Column("before", JSON, nullable=True),
        sa.ForeignKeyConstraint(
            ["change_sequence"], ["change.sequence"], name=op.f("fk_version_change_sequence_change")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_version")),
        sa.UniqueConstraint("row_id", "row_version", name=op.f("uq_version_row_id_row_version")),
    )
    op.create_index(op.f("ix_version_change_sequence"), "version", ["change_sequence"], unique=False)
    op.create_index(op.f("ix_version_row_id"), "version", ["row_id"], unique=False)
    op.create_table(
        "visit",
        sa.Column("client_id", sa.String(length=32), nullable=False),
        sa.Column("consultation_id", sa.String(length=32), nullable=True),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("salon", sa.Text(), nullable=False),
        sa.Column("demo", sa.Boolean(), nullable=False),
        sa.Column("care_verdict", sa.String(length=20), nullable=False),
        sa.Column("health_kept", sa.Boolean(), nullable=False),
        sa.Column("program_version", sa.String(length=40), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["client_id"], ["client.id"], name=op.f("fk_visit_client_id_client")),
        sa.ForeignKeyConstraint(
            ["consultation_id"], ["consultation.id"], name=op.f("fk_visit_consultation_id_consultation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit")),
        sa.UniqueConstraint("key", name=op.f("uq_visit_key")),
    )
    op.create_index(op.f("ix_visit_client_id"), "visit", ["client_id"], unique=False)
    op.create_index(op.f("ix_visit_consultation_id"), "visit", ["consultation_id"], unique=False)
    op.create_index(op.f("ix_visit_day_id"), "visit", ["day", "id"], unique=False)
    op.create_table(
        "answer",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=80), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("when", sa.Date(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("strength_volume", sa.Double(), nullable=True),
        sa.Column("where", sa.Text(), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_answer_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_answer")),
    )
    op.create_index(op.f("ix_answer_visit_id"), "answer", ["visit_id"], unique=False)
    op.create_table(
        "clock_event",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("at_utc", UTC_TIME, nullable=False),
        sa.Column("content", JSON, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_clock_event_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clock_event")),
    )
    op.create_index(op.f("ix_clock_event_visit_id"), "clock_event", ["visit_id"], unique=False)
    op.create_table(
        "document",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("ending", sa.String(length=8), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_document_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document")),
    )
    op.create_index(op.f("ix_document_sha256"), "document", ["sha256"], unique=False)
    op.create_index(op.f("ix_document_visit_id"), "document", ["visit_id"], unique=False)
    op.create_table(
        "finding",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("about", sa.String(length=20), nullable=False),
        sa.Column("code", sa.String(length=80), nullable=False),
        sa.Column("weight", sa.String(length=20), nullable=False),
        sa.Column("where", sa.Text(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("remedy", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_finding_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_finding")),
    )
    op.create_index(op.f("ix_finding_visit_id"), "finding", ["visit_id"], unique=False)
    op.create_table(
        "mixed",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("bowl_number", sa.Integer(), nullable=False),
        sa.Column("zones", JSON, nullable=False),
        sa.Column("shade_grams", JSON, nullable=False),
        sa.Column("developer_grams", sa.Double(), nullable=False),
        sa.Column("developer_volume", sa.Double(), nullable=False),
        sa.Column("minutes", sa.Double(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_mixed_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mixed")),
    )
    op.create_index(op.f("ix_mixed_visit_id"), "mixed", ["visit_id"], unique=False)
    op.create_table(
        "note",
        sa.Column("client_id", sa.String(length=32), nullable=False),
        sa.Column("visit_id", sa.String(length=32), nullable=True),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["client_id"], ["client.id"], name=op.f("fk_note_client_id_client")),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_note_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_note")),
    )
    op.create_index(op.f("ix_note_client_id"), "note", ["client_id"], unique=False)
    op.create_index(op.f("ix_note_visit_id"), "note", ["visit_id"], unique=False)
    op.create_table(
        "outcome",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("told", sa.Text(), nullable=False),
        sa.Column("content", JSON, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_outcome_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outcome")),
    )
    op.create_index(op.f("ix_outcome_visit_id"), "outcome", ["visit_id"], unique=False)
    op.create_table(
        "photo",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("side", sa.String(length=20), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("original_sha256", sa.String(length=64), nullable=False),
        sa.Column("thumbnail_sha256", sa.String(length=64), nullable=False),
        sa.Column("ending", sa.String(length=8), nullable=False),
        sa.Column("width_px", sa.Integer(), nullable=False),
        sa.Column("height_px", sa.Integer(), nullable=False),
        sa.Column("verdict", sa.String(length=20), nullable=False),
        sa.Column("verified", sa.Boolean(), nullable=False),
        sa.Column("method", sa.Text(), nullable=False),
        sa.Column("held_out_de2000", sa.Double(), nullable=True),
        sa.Column("pipeline_version", sa.Integer(), nullable=False),
        sa.Column("steps", JSON, nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_photo_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
    )
    op.create_index(op.f("ix_photo_original_sha256"), "photo", ["original_sha256"], unique=False)
    op.create_index(op.f("ix_photo_sha256"), "photo", ["sha256"], unique=False)
    op.create_index(op.f("ix_photo_thumbnail_sha256"), "photo", ["thumbnail_sha256"], unique=False)
    op.create_index(op.f("ix_photo_visit_id"), "photo", ["visit_id"], unique=False)
    op.create_table(
        "plan",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("shelf", sa.Text(), nullable=False),
        sa.Column("content", JSON, nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_plan_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plan")),
    )
    op.create_index(op.f("ix_plan_visit_id"), "plan", ["visit_id"], unique=False)
    op.create_table(
        "quote",
        sa.Column("client_id", sa.String(length=32), nullable=False),
        sa.Column("visit_id", sa.String(length=32), nullable=True),
        sa.Column("seen_on", sa.Date(), nullable=False),
        sa.Column("visits_low", sa.Integer(), nullable=False),
        sa.Column("visits_high", sa.Integer(), nullable=False),
        sa.Column("hours_low", sa.Double(), nullable=False),
        sa.Column("hours_high", sa.Double(), nullable=False),
        sa.Column("price_low", sa.Double(), nullable=False),
        sa.Column("price_high", sa.Double(), nullable=False),
        sa.Column("currency", sa.String(length=8), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["client_id"], ["client.id"], name=op.f("fk_quote_client_id_client")),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_quote_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quote")),
    )
    op.create_index(op.f("ix_quote_client_id"), "quote", ["client_id"], unique=False)
    op.create_index(op.f("ix_quote_visit_id"), "quote", ["visit_id"], unique=False)
    op.create_table(
        "zone",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("setting", sa.String(length=20), nullable=False),
        sa.Column("strand_pattern", sa.String(length=20), nullable=False),
        sa.Column("hair", JSON, nullable=False),
        sa.Column("target", JSON, nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_zone_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_zone")),
    )
    op.create_index(op.f("ix_zone_visit_id"), "zone", ["visit_id"], unique=False)
    op.create_table(
        "reading",
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.Column("zone_id", sa.String(length=32), nullable=False),
        sa.Column("side", sa.String(length=20), nullable=False),
        sa.Column("photos", JSON, nullable=False),
        sa.Column("lab_l", sa.Double(), nullable=False),
        sa.Column("lab_a", sa.Double(), nullable=False),
        sa.Column("lab_b", sa.Double(), nullable=False),
        sa.Column("covariance", JSON, nullable=False),
        sa.Column("shared_covariance", JSON, nullable=False),
        sa.Column("spread_lab", JSON, nullable=False),
        sa.Column("profile", JSON, nullable=False),
        sa.Column("level", sa.Double(), nullable=False),
        sa.Column("level_low", sa.Double(), nullable=False),
        sa.Column("level_high", sa.Double(), nullable=False),
        sa.Column("level_beyond", sa.String(length=40), nullable=False),
        sa.Column("scale", sa.Text(), nullable=False),
        sa.Column("warmth", JSON, nullable=False),
        sa.Column("stage", sa.String(length=40), nullable=False),
        sa.Column("pixels", sa.Integer(), nullable=False),
        sa.Column("verified", sa.Boolean(), nullable=False),
        sa.Column("proposed", sa.Boolean(), nullable=False),
        sa.Column("verdict", sa.String(length=20), nullable=False),
        sa.Column("basis", JSON, nullable=False),
        sa.Column("pipeline_version", sa.Integer(), nullable=False),
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_reading_visit_id_visit")),
        sa.ForeignKeyConstraint(["zone_id"], ["zone.id"], name=op.f("fk_reading_zone_id_zone")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
    )
    op.create_index(op.f("ix_reading_visit_id"), "reading", ["visit_id"], unique=False)
    op.create_index(op.f("ix_reading_zone_id"), "reading", ["zone_id"], unique=False)
