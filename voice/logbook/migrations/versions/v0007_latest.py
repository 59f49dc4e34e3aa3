"""A unit's records by an index that has them in order, so that how many and which is the last is told by it alone."""

from __future__ import annotations

from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index(op.f("ix_record_unit_vehicle_record"), "record_unit", ["vehicle", "record"])
    op.drop_index(op.f("ix_record_unit_vehicle"), "record_unit")


def downgrade() -> None:
    op.create_index(op.f("ix_record_unit_vehicle"), "record_unit", ["vehicle"])
    op.drop_index(op.f("ix_record_unit_vehicle_record"), "record_unit")
