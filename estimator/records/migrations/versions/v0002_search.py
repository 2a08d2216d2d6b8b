"""What visits and clients are found by: marks of a visit, and words of a client's name and code."""

from collections import defaultdict
from itertools import islice
from typing import Any

import sqlalchemy as sa
from alembic import op

from estimator.records.search_keys import visit_tags, words_of

revision, down_revision = "0002", "0001"

FOLDED = sa.String(collation="BINARY").with_variant(sa.String(collation="C"), "postgresql")
AT_ONCE = 1000


def upgrade() -> None:
    word = op.create_table(
        "client_word",
        sa.Column("word", FOLDED, nullable=False),
        sa.Column("client_id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["client_id"], ["client.id"], name=op.f("fk_client_word_client_id_client")),
        sa.PrimaryKeyConstraint("word", "client_id", name=op.f("pk_client_word")),
        sqlite_with_rowid=False,
    )
    op.create_index(op.f("ix_client_word_client_id"), "client_word", ["client_id"], unique=False)
    tag = op.create_table(
        "visit_tag",
        sa.Column("tag", FOLDED, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("visit_id", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_visit_tag_visit_id_visit")),
        sa.PrimaryKeyConstraint("tag", "day", "visit_id", name=op.f("pk_visit_tag")),
        sqlite_with_rowid=False,
    )
    op.create_index(op.f("ix_visit_tag_visit_id"), "visit_tag", ["visit_id"], unique=False)
    _fill(word, _words())
    _fill(tag, _tags())


def _fill(table: sa.Table, rows: list[dict[str, object]]) -> None:
    remaining = iter(rows)
    while some := list(islice(remaining, AT_ONCE)):
        op.bulk_insert(table, some)


def _words() -> list[dict[str, object]]:
    client = sa.table("client", sa.column("id"), sa.column("name"), sa.column("code"))
    rows = op.get_bind().execute(sa.select(client.c.id, client.c.name, client.c.code)).all()
    return [{"word": word, "client_id": row.id} for row in rows for word in sorted(words_of(row.name, row.code))]


def _tags() -> list[dict[str, object]]:
    visit = sa.table("visit", sa.column("id"), sa.column("day", sa.Date))
    readings = _by_visit(sa.table("reading", sa.column("visit_id"), sa.column("level"), sa.column("stage")))
    codes = _by_visit(sa.table("finding", sa.column("visit_id"), sa.column("code")))
    tones = _by_visit(sa.table("zone", sa.column("visit_id"), sa.column("target", sa.JSON)))
    rows = []
    for visit_id, day in op.get_bind().execute(sa.select(visit.c.id, visit.c.day)).all():
        wanted = [target.get("tone", "") for (target,) in tones[visit_id]]
        marks = visit_tags(readings[visit_id], wanted, [code for (code,) in codes[visit_id]])
        rows += [{"tag": mark, "day": day, "visit_id": visit_id} for mark in sorted(marks)]
    return rows


def _by_visit(table: sa.TableClause) -> dict[str, list[tuple[Any, ...]]]:
    found: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    for visit_id, *told in op.get_bind().execute(sa.select(*table.c)):
        found[visit_id].append(tuple(told))
    return found
