"""Times in SQLite in one form. PostgreSQL has a type for them, and nothing changes there.

SQLite compares times as text. Until now some columns had whole seconds without their fraction ("06:00:00"), which
stands before the same moment with one ("06:00:00.000000"): pruning took a record that ended at the very cut-off for
older.
"""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_COLUMNS = {
    "record": ("started", "ended", "imported"),
    "reading": ("at",),
    "defect": ("opened", "seen", "said_repaired", "closed"),
    "inbox": ("received",),
    "identity": ("made",),
}


def upgrade() -> None:
    if op.get_bind().dialect.name != "sqlite":
        return
    for table, columns in _COLUMNS.items():
        for column in columns:
            op.execute(f"UPDATE {table} SET {column} = {column} || '.000000' WHERE length({column}) = 19")  # noqa: S608


def downgrade() -> None:
    """Both forms can be read by every version."""
