"""Which kind of inspection each one was, and indexes by which the office finds a driver's and a kind's.

Old rows are filled from their records' texts, a batch at a time. A record that names no kind, one whose text was pruned
and one whose text cannot be read have none. A record never changes, so taken back and done again it is the same.
"""

from __future__ import annotations

import json
import zlib
from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlalchemy.engine import Connection

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

BATCH = 500  # texts at once, each some 10 kB packed
LONGEST = 300  # characters of a name in a record. PostgreSQL indexes at most 2,704 bytes.

_record = sa.table(
    "record", sa.column("key"), sa.column("kind", sa.Text()), sa.column("kind_title", sa.Text()), sa.column("driver")
)
_document = sa.table("document", sa.column("record"), sa.column("body", sa.LargeBinary()))


def upgrade() -> None:
    op.add_column("record", sa.Column("kind", sa.Text(), nullable=True))
    op.add_column("record", sa.Column("kind_title", sa.Text(), nullable=True))
    bind = op.get_bind()
    _fill(bind)
    # No record of today has a longer one; one from before there was a bound must not stop the index.
    long = sa.func.length(_record.c.driver) > LONGEST
    bind.execute(_record.update().where(long).values(driver=sa.func.substr(_record.c.driver, 1, LONGEST)))
    op.create_index(op.f("ix_record_driver_started"), "record", ["driver", "started"])
    op.create_index(op.f("ix_record_kind_started"), "record", ["kind", "started"])


def _fill(bind: Connection) -> None:
    query = sa.select(_document.c.record, _document.c.body).order_by(_document.c.record).limit(BATCH)
    into = (
        _record.update()
        .where(_record.c.key == sa.bindparam("of"))
        .values(kind=sa.bindparam("its_kind"), kind_title=sa.bindparam("its_title"))
    )
    last = -1
    while texts := bind.execute(query.where(_document.c.record > last)).all():
        last = texts[-1].record
        if rows := [{"of": key, **said} for key, body in texts if (said := _kind(body))]:
            bind.execute(into, rows)


def _kind(body: bytes) -> dict[str, Any]:
    """What a record's text says of its kind; empty if it says nothing."""
    try:
        text = zlib.decompress(body)
        # Most records are from before there were kinds: looked for first, since reading them takes ten times as long.
        content = json.loads(text) if b'"kind_title"' in text else {}
    except (zlib.error, ValueError, RecursionError):
        return {}
    kind, title = (content.get(name) for name in ("kind", "kind_title")) if isinstance(content, dict) else ("", "")
    if not isinstance(kind, str) or not 0 < len(kind) <= LONGEST:
        return {}
    return {"its_kind": kind, "its_title": title if isinstance(title, str) and title else None}


def downgrade() -> None:
    op.drop_index(op.f("ix_record_kind_started"), "record")
    op.drop_index(op.f("ix_record_driver_started"), "record")
    op.drop_column("record", "kind_title")
    op.drop_column("record", "kind")
