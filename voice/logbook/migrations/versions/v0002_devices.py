"""What a device may see and do in the depot's database.

The views show a device its own rows only, and a device gets rights on the views and never on the tables (see
voice.logbook.roles). On SQLite, which knows no users, the views show everything: the file's owner is the only user.
"""

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_VIEWS = {
    "device_depot": "SELECT id FROM identity",
    "device_vehicles": "SELECT dv.vehicle FROM device_vehicle dv WHERE {mine}",
    "device_receipts": "SELECT i.sha256, i.kind, i.done, i.verdict, i.reason FROM inbox i WHERE {own}",
    "device_open_defects": (
        "SELECT v.id AS vehicle, d.defect, d.title, d.level, d.opened, d.seen, d.last AS record"
        " FROM defect d JOIN vehicle v ON v.key = d.vehicle{join} WHERE d.closed IS NULL AND {mine}"
    ),
}


def upgrade() -> None:
    postgres = op.get_bind().dialect.name == "postgresql"
    for name, query in _VIEWS.items():
        if postgres:
            text = query.format(
                mine="dv.device = current_user",
                own="i.device = current_user",
                join=" JOIN device_vehicle dv ON dv.vehicle = v.id",
            )
            op.execute(f"CREATE VIEW {name} WITH (security_barrier = true) AS {text}")
        else:
            op.execute(f"CREATE VIEW {name} AS {query.format(mine='1 = 1', own='1 = 1', join='')}")
    if postgres:
        op.execute("ALTER TABLE inbox ALTER COLUMN device SET DEFAULT current_user")
        op.execute("ALTER TABLE inbox ENABLE ROW LEVEL SECURITY")
        op.execute("CREATE POLICY inbox_own ON inbox FOR INSERT WITH CHECK (device = current_user)")
        # A device cannot claim another's hash to keep that record out, nor fill the disk with one row.
        op.execute(
            "ALTER TABLE inbox ADD CONSTRAINT ck_inbox_sha256"
            " CHECK (done IS NOT NULL OR sha256 = encode(sha256(body), 'hex'))"
        )
        op.execute("ALTER TABLE inbox ADD CONSTRAINT ck_inbox_size CHECK (octet_length(body) <= 8388608)")
        op.execute("ALTER TABLE inbox ADD CONSTRAINT ck_inbox_kind CHECK (kind IN ('record', 'repair'))")


def downgrade() -> None:
    for name in _VIEWS:
        op.execute(f"DROP VIEW {name}")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP POLICY inbox_own ON inbox")
        op.execute("ALTER TABLE inbox DISABLE ROW LEVEL SECURITY")
        for constraint in ("sha256", "size", "kind"):
            op.execute(f"ALTER TABLE inbox DROP CONSTRAINT ck_inbox_{constraint}")
        op.execute("ALTER TABLE inbox ALTER COLUMN device SET DEFAULT 'local'")
