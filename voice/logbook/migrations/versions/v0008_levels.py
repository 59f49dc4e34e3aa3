"""The level of a record, and of each of its units, counts what still stood from an earlier report; old rows did not.

Worked out from the records' texts as an import does it, a batch at a time, and only ever raised: nothing was counted
before that is not counted now. A record whose text was pruned or cannot be read keeps the level it has.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa
from alembic import op
from pydantic import ValidationError

from voice.record.by_unit import shares, whole_level
from voice.record.model import InspectionRecord

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

BATCH = 500  # texts at once, each some 10 kB packed
# Most records have nothing in any of these lists: looked for first, since reading them takes ten times as long.
_MORE = re.compile(rb'"(?:carried|against|watch)"\s*:\s*\[\s*[^\]\s]')

_record = sa.table("record", sa.column("key"), sa.column("level"))
_record_unit = sa.table("record_unit", sa.column("record"), sa.column("vehicle"), sa.column("level"))
_vehicle = sa.table("vehicle", sa.column("key"), sa.column("id"))
_document = sa.table("document", sa.column("record"), sa.column("body", sa.LargeBinary()))


def upgrade() -> None:
    bind = op.get_bind()
    query = sa.select(_document.c.record, _document.c.body).order_by(_document.c.record).limit(BATCH)
    of: sa.BindParameter[int] = sa.bindparam("of")
    to: sa.BindParameter[int] = sa.bindparam("to")
    unit = sa.select(_vehicle.c.key).where(_vehicle.c.id == sa.bindparam("unit")).scalar_subquery()
    whole = _record.update().where(_record.c.key == of, _record.c.level < to).values(level=to)
    each = _record_unit.update().where(
        _record_unit.c.record == of, _record_unit.c.vehicle == unit, _record_unit.c.level < to
    )
    last = -1
    while texts := bind.execute(query.where(_document.c.record > last)).all():
        last = texts[-1].record
        levels = [level for key, body in texts for level in _levels(key, body)]
        for statement, rows in (
            (whole, [row for row in levels if "unit" not in row]),
            (each.values(level=to), [row for row in levels if "unit" in row]),
        ):
            if rows:
                bind.execute(statement, rows)


def _levels(key: int, body: bytes) -> Iterator[dict[str, Any]]:
    """The level of the record, and then of each unit."""
    try:
        text = zlib.decompress(body)
        record = InspectionRecord.model_validate_json(text) if _MORE.search(text) else None
    except (zlib.error, ValidationError):
        record = None
    if record is not None:
        parts = shares(record)
        yield {"of": key, "to": int(max(whole_level(record), *(part.level for part in parts)))}
        for part in parts:
            yield {"of": key, "to": int(part.level), "unit": part.part.id}


def downgrade() -> None:
    """The levels are right; the version before would read them as well."""
