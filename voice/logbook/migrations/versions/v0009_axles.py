"""What is kept of a trailer calls its axles so, as is done from now on: "axle one" becomes "trailer axle one".

Keys and places stay as they are.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

AT_ONCE = 500  # trailers
AXLE, TRAILERS_AXLE = "axle ", "trailer axle "

_vehicle = sa.table("vehicle", sa.column("key"), sa.column("id"), sa.column("profile", sa.JSON()))
_TEXTS = (
    ("series", "spoken", "key"),
    ("fact", "title", "key"),
    ("defect", "title", "key"),
    ("pulled_defect", "title", "id"),
)


def upgrade() -> None:
    _reword(AXLE, TRAILERS_AXLE)


def downgrade() -> None:
    _reword(TRAILERS_AXLE, AXLE)


def _reword(old: str, new: str) -> None:
    """In the place, which begins the text or stands after a comma."""
    bind = op.get_bind()
    trailers = [row for row in bind.execute(sa.select(_vehicle)) if row.profile.get("kind") == "trailer"]
    for table, name, by in _TEXTS:
        rows = sa.table(table, sa.column("vehicle"), sa.column(name))
        text = rows.c[name]
        for at in range(0, len(trailers), AT_ONCE):
            change = sa.update(rows).where(
                rows.c.vehicle.in_([getattr(row, by) for row in trailers[at : at + AT_ONCE]])
            )
            after = change.where(text.contains(f", {old}"))
            bind.execute(after.values({name: sa.func.replace(text, f", {old}", f", {new}")}))
            first = change.where(text.startswith(old))
            bind.execute(first.values({name: new + sa.func.substr(text, len(old) + 1)}))
