"""The tables of the first version."""

import sqlalchemy as sa
from alembic import op

from voice.logbook.kinds import Key, Moment

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_TABLES = (
    "identity",
    "vehicle",
    "record",
    "document",
    "series",
    "reading",
    "certification",
    "fact",
    "defect",
    "inbox",
    "device_vehicle",
    "sent",
    "pulled_vehicle",
    "pulled_defect",
)


def upgrade() -> None:
    op.create_table(
        "device_vehicle",
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("vehicle", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("device", "vehicle", name=op.f("pk_device_vehicle")),
    )
    op.create_table(
        "identity",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("made", Moment(timezone=True), server_default=sa.func.now(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_identity")),
    )
    op.create_table(
        "inbox",
        sa.Column("device", sa.Text(), server_default=sa.text("'local'"), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("received", Moment(timezone=True), server_default=sa.func.now(), nullable=False),
        sa.Column("done", Moment(timezone=True), nullable=True),
        sa.Column("verdict", sa.Text(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("device", "sha256", name=op.f("pk_inbox")),
    )
    op.create_index(
        "ix_inbox_waiting",
        "inbox",
        ["received"],
        unique=False,
        postgresql_where=sa.text("done IS NULL"),
        sqlite_where=sa.text("done IS NULL"),
    )
    op.create_table(
        "pulled_defect",
        sa.Column("vehicle", sa.Text(), nullable=False),
        sa.Column("defect", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("level", sa.SmallInteger(), nullable=False),
        sa.Column("opened", Moment(timezone=True), nullable=False),
        sa.Column("seen", Moment(timezone=True), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("vehicle", "defect", name=op.f("pk_pulled_defect")),
    )
    op.create_table(
        "pulled_vehicle",
        sa.Column("vehicle", sa.Text(), nullable=False),
        sa.Column("at", Moment(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("vehicle", name=op.f("pk_pulled_vehicle")),
    )
    op.create_table(
        "sent",
        sa.Column("depot", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("at", Moment(timezone=True), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("depot", "sha256", name=op.f("pk_sent")),
    )
    op.create_index(op.f("ix_sent_what"), "sent", ["what"], unique=False)
    op.create_table(
        "vehicle",
        sa.Column("key", Key, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("profile", sa.JSON(), nullable=False),
        sa.Column("profile_at", Moment(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_vehicle")),
        sa.UniqueConstraint("id", name=op.f("uq_vehicle_id")),
    )
    op.create_table(
        "certification",
        sa.Column("key", Key, nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("vehicle", Key, nullable=False),
        sa.Column("defect", sa.Text(), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("at", Moment(timezone=True), nullable=False),
        sa.Column("remark", sa.Text(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["vehicle"], ["vehicle.key"], name=op.f("fk_certification_vehicle")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_certification")),
        sa.UniqueConstraint("sha256", name=op.f("uq_certification_sha256")),
    )
    op.create_index(op.f("ix_certification_vehicle_defect"), "certification", ["vehicle", "defect"], unique=False)
    op.create_table(
        "defect",
        sa.Column("vehicle", Key, autoincrement=False, nullable=False),
        sa.Column("defect", sa.Text(), nullable=False),
        sa.Column("number", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("level", sa.SmallInteger(), nullable=False),
        sa.Column("opened", Moment(timezone=True), nullable=False),
        sa.Column("seen", Moment(timezone=True), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("first", sa.Text(), nullable=False),
        sa.Column("last", sa.Text(), nullable=False),
        sa.Column("said_repaired", Moment(timezone=True), nullable=True),
        sa.Column("closed", Moment(timezone=True), nullable=True),
        sa.Column("verdict", sa.Text(), nullable=True),
        sa.Column("by", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["vehicle"], ["vehicle.key"], name=op.f("fk_defect_vehicle")),
        sa.PrimaryKeyConstraint("vehicle", "defect", "number", name=op.f("pk_defect")),
    )
    op.create_index(
        "ix_defect_open",
        "defect",
        ["vehicle"],
        unique=False,
        postgresql_where=sa.text("closed IS NULL"),
        sqlite_where=sa.text("closed IS NULL"),
    )
    op.create_table(
        "fact",
        sa.Column("vehicle", Key, autoincrement=False, nullable=False),
        sa.Column("defect", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("at", Moment(timezone=True), nullable=False),
        sa.Column("level", sa.SmallInteger(), nullable=True),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["vehicle"], ["vehicle.key"], name=op.f("fk_fact_vehicle")),
        sa.PrimaryKeyConstraint("vehicle", "defect", "source", "kind", name=op.f("pk_fact")),
    )
    op.create_table(
        "record",
        sa.Column("key", Key, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("vehicle", Key, nullable=False),
        sa.Column("route", sa.Text(), nullable=False),
        sa.Column("driver", sa.Text(), nullable=True),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("started", Moment(timezone=True), nullable=False),
        sa.Column("ended", Moment(timezone=True), nullable=True),
        sa.Column("odometer", sa.Double(), nullable=True),
        sa.Column("level", sa.SmallInteger(), nullable=False),
        sa.Column("defects", sa.SmallInteger(), nullable=False),
        sa.Column("sections", sa.JSON(), nullable=False),
        sa.Column("imported", Moment(timezone=True), server_default=sa.func.now(), nullable=False),
        sa.Column("pruned", Moment(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["vehicle"], ["vehicle.key"], name=op.f("fk_record_vehicle")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_record")),
        sa.UniqueConstraint("id", name=op.f("uq_record_id")),
        sa.UniqueConstraint("sha256", name=op.f("uq_record_sha256")),
    )
    op.create_index(op.f("ix_record_started"), "record", ["started"], unique=False)
    op.create_index(op.f("ix_record_vehicle_started"), "record", ["vehicle", "started"], unique=False)
    op.create_table(
        "series",
        sa.Column("key", Key, nullable=False),
        sa.Column("vehicle", Key, nullable=False),
        sa.Column("item", sa.Text(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("quantity", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("spoken", sa.Text(), nullable=False),
        sa.Column("position", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["vehicle"], ["vehicle.key"], name=op.f("fk_series_vehicle")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_series")),
        sa.UniqueConstraint(
            "vehicle", "item", "place", "quantity", "name", name=op.f("uq_series_vehicle_item_place_quantity_name")
        ),
    )
    op.create_table(
        "document",
        sa.Column("record", Key, autoincrement=False, nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["record"], ["record.key"], name=op.f("fk_document_record")),
        sa.PrimaryKeyConstraint("record", name=op.f("pk_document")),
    )
    op.create_table(
        "reading",
        sa.Column("series", Key, autoincrement=False, nullable=False),
        sa.Column("record", Key, autoincrement=False, nullable=False),
        sa.Column("nth", sa.SmallInteger(), autoincrement=False, nullable=False),
        sa.Column("at", Moment(timezone=True), nullable=False),
        sa.Column("odometer", sa.Double(), nullable=True),
        sa.Column("value", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["record"], ["record.key"], name=op.f("fk_reading_record")),
        sa.ForeignKeyConstraint(["series"], ["series.key"], name=op.f("fk_reading_series")),
        sa.PrimaryKeyConstraint("series", "record", "nth", name=op.f("pk_reading")),
    )


def downgrade() -> None:
    for table in reversed(_TABLES):
        op.drop_table(table)
