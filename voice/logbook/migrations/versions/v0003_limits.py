"""How much a device may hand in, and what its views tell of the rows they leave out. PostgreSQL only, but for an index.

Each view is now over a function with the owner's rights. EXPLAIN ANALYZE on the views of before told how many rows of
others their conditions had removed; of a function it tells nothing.

The trigger counts what the inbox still holds of a device (waiting, or set aside), and what came from it in a day. It
runs with the owner's rights, since a device cannot read the inbox, and leaves the owner's own rows alone. Connections
of one device do not see each other's open transactions: the bounds hold for each of them, of which it has at most five
(voice.logbook.roles).
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

HELD_ROWS, HELD_BYTES = 2_000, 64 * 1024 * 1024  # of one device: waiting, or set aside
DAY_ROWS = 4_000  # of one device in 24 hours
BODY_BYTES = 2 * 1024 * 1024  # of one row, as in voice.logbook.columns

_QUOTA = f"""
CREATE FUNCTION inbox_quota() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    held_rows bigint;
    held_bytes bigint;
    day_rows bigint;
BEGIN
    IF NEW.device = current_user THEN  -- the owner's own
        RETURN NEW;
    END IF;
    SELECT count(*), coalesce(sum(octet_length(body)), 0) INTO held_rows, held_bytes FROM {{schema}}.inbox
        WHERE device = NEW.device AND (done IS NULL OR verdict = 'set-aside');
    SELECT count(*) INTO day_rows FROM {{schema}}.inbox
        WHERE device = NEW.device AND received > now() - interval '24 hours';
    IF held_rows >= {HELD_ROWS} OR held_bytes + octet_length(NEW.body) > {HELD_BYTES} THEN
        RAISE EXCEPTION 'its inbox is full (% rows, % bytes)', held_rows, held_bytes USING ERRCODE = '53400';
    END IF;
    IF day_rows >= {DAY_ROWS} THEN
        RAISE EXCEPTION 'it handed in % rows in 24 hours', day_rows USING ERRCODE = '53400';
    END IF;
    RETURN NEW;
END $$
"""  # noqa: S608 - constants of this module

_VIEWS = {
    "device_vehicles": ("vehicle text", "SELECT dv.vehicle FROM device_vehicle dv WHERE dv.device = session_user"),
    "device_receipts": (
        "sha256 text, kind text, done timestamptz, verdict text, reason text",
        "SELECT i.sha256, i.kind, i.done, i.verdict, i.reason FROM inbox i WHERE i.device = session_user",
    ),
    "device_open_defects": (
        "vehicle text, defect text, title text, level smallint, opened timestamptz, seen timestamptz, record text",
        "SELECT v.id AS vehicle, d.defect, d.title, d.level, d.opened, d.seen, d.last AS record"
        " FROM defect d JOIN vehicle v ON v.key = d.vehicle JOIN device_vehicle dv ON dv.vehicle = v.id"
        " WHERE d.closed IS NULL AND dv.device = session_user",
    ),
}


def upgrade() -> None:
    held = sa.text("done IS NULL OR verdict = 'set-aside'")
    op.create_index("ix_inbox_held", "inbox", ["device"], postgresql_where=held, sqlite_where=held)
    op.create_index("ix_inbox_device_received", "inbox", ["device", "received"])
    if op.get_bind().dialect.name != "postgresql":
        return
    schema = op.get_bind().exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
    for name, (columns, query) in _VIEWS.items():
        op.execute(
            f"CREATE FUNCTION {name}_rows() RETURNS TABLE ({columns}) LANGUAGE sql STABLE SECURITY DEFINER"
            f" SET search_path = {schema}, pg_temp AS $$ {query} $$"
        )
        op.execute(f"REVOKE ALL ON FUNCTION {name}_rows() FROM PUBLIC")
        rows = f"SELECT * FROM {name}_rows()"  # noqa: S608
        op.execute(f"CREATE OR REPLACE VIEW {name} WITH (security_barrier = true) AS {rows}")
    # NOT VALID: a larger row of before stays, and is marked done like any other.
    op.execute("ALTER TABLE inbox DROP CONSTRAINT ck_inbox_size")
    op.execute(
        "ALTER TABLE inbox ADD CONSTRAINT ck_inbox_size"
        f" CHECK (done IS NOT NULL OR octet_length(body) <= {BODY_BYTES}) NOT VALID"
    )
    op.execute(_QUOTA.format(schema=schema))
    op.execute("REVOKE ALL ON FUNCTION inbox_quota() FROM PUBLIC")
    op.execute("CREATE TRIGGER inbox_quota BEFORE INSERT ON inbox FOR EACH ROW EXECUTE FUNCTION inbox_quota()")


def downgrade() -> None:
    op.drop_index("ix_inbox_device_received", "inbox")
    op.drop_index("ix_inbox_held", "inbox")
    if op.get_bind().dialect.name != "postgresql":
        return
    for name, (_, query) in _VIEWS.items():
        text = query.replace("session_user", "current_user")
        op.execute(f"CREATE OR REPLACE VIEW {name} WITH (security_barrier = true) AS {text}")
        op.execute(f"DROP FUNCTION {name}_rows()")
    op.execute("DROP TRIGGER inbox_quota ON inbox")
    op.execute("DROP FUNCTION inbox_quota()")
    op.execute("ALTER TABLE inbox DROP CONSTRAINT ck_inbox_size")
    op.execute("ALTER TABLE inbox ADD CONSTRAINT ck_inbox_size CHECK (octet_length(body) <= 8388608) NOT VALID")
