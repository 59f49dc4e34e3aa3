"""Takes from devices what PostgreSQL gives to every role: temporary tables, large objects, databases, statistics.

All of it is done in the depot's database only, as far as whoever runs it may: most of it takes a superuser once, and
`still_open` says what is left. What no right can bound:

- A role may change its own session's settings: lift its statement_timeout, raise work_mem. So the depot ends devices'
  transactions that last too long each time it looks into the inbox (`end_overlong`).
- Processor time and memory of a statement that reads nothing (generate_series), NOTIFY, and what an insert that is
  rolled back leaves on the disk until the next vacuum. The connection limit and temp_file_limit bound them loosely.
- Everybody can read the names of databases, roles, tables, columns and functions, and how much is written to the log.
- Other databases of the same server: their CONNECT is their owners' to take from PUBLIC, or a line in pg_hba.conf does
  it for all at once.
"""

from __future__ import annotations

from contextlib import suppress
from typing import Final

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from voice.errors import SetupError
from voice.logbook.database import writing

GROUP: Final = "gladhand_device"
LONGEST: Final = "10 minutes"  # of a device's transaction; a sync's take seconds

# Functions that PostgreSQL lets everybody call, and that write without bound (large objects, messages into the log),
# hold what others wait for (advisory locks, snapshots), or tell how much others have (statistics, sizes).
CLOSED: Final = (
    "^(lo_.*|loread|lowrite|pg_logical_emit_message|pg_notify|pg_export_snapshot|pg_(try_)?advisory_.*"
    "|pg_stat_get_.*|pg_(total_)?relation_size|pg_(table|indexes|database|tablespace)_size)$"
)
_FUNCTIONS = f"""
FOR one IN SELECT p.oid::regprocedure AS name FROM pg_proc p
    WHERE p.pronamespace = 'pg_catalog'::regnamespace AND p.proname ~ '{CLOSED}' AND super
LOOP
    EXECUTE 'GRANT EXECUTE ON FUNCTION ' || one.name || ' TO pg_monitor, ' || owner;
    EXECUTE 'REVOKE EXECUTE ON FUNCTION ' || one.name || ' FROM PUBLIC';
END LOOP"""  # noqa: S608 - constants of this module
# How many rows a table has stands in pg_class: everybody may read its other columns only.
_COUNTS = """
FOR one IN SELECT string_agg(quote_ident(attname), ', ') AS names FROM pg_attribute
    WHERE attrelid = 'pg_catalog.pg_class'::regclass AND attnum > 0 AND NOT attisdropped AND super
    AND attname NOT IN ('reltuples', 'relpages', 'relallvisible', 'relallfrozen') HAVING count(*) > 0
LOOP
    EXECUTE 'GRANT SELECT ON pg_catalog.pg_class TO pg_monitor, ' || owner;
    REVOKE SELECT ON pg_catalog.pg_class FROM PUBLIC;
    EXECUTE 'GRANT SELECT (' || one.names || ') ON pg_catalog.pg_class TO PUBLIC';
END LOOP"""
# A depot of an earlier version has devices that came in as everybody did.
_DATABASE = f"""
EXECUTE 'GRANT CONNECT, TEMPORARY ON DATABASE ' || this || ' TO CURRENT_USER, ' || owner;
FOR one IN SELECT quote_ident(device) AS name FROM (SELECT device FROM device_vehicle UNION SELECT device FROM inbox) d
    WHERE EXISTS (SELECT FROM pg_roles WHERE rolname = device AND pg_has_role(device, '{GROUP}', 'MEMBER'))
LOOP
    EXECUTE 'GRANT CONNECT ON DATABASE ' || this || ' TO ' || one.name;
END LOOP;
EXECUTE 'REVOKE CONNECT, TEMPORARY ON DATABASE ' || this || ' FROM PUBLIC'"""  # noqa: S608


def closing_sql() -> list[str]:
    """Takes it from PUBLIC. Safe to repeat; what the role that runs it may not do is passed over.

    The owner of the logbook and pg_monitor keep what they had.
    """
    return [permitted(_DATABASE), permitted(_FUNCTIONS), permitted(_COUNTS)]


def permitted(body: str) -> str:
    """A block that does nothing where it may not.

    body: PL/pgSQL, in which stand: one, for loops; owner, of the inbox, quoted; this, the database, quoted; super,
        whether a superuser runs it.
    """
    return f"""DO $$
DECLARE
    one record;
    owner text := (SELECT quote_ident(pg_get_userbyid(relowner)) FROM pg_class WHERE oid = 'inbox'::regclass);
    this text := quote_ident(current_database());
    super boolean := (SELECT rolsuper FROM pg_roles WHERE rolname = current_user);
BEGIN
    {body.strip()};
EXCEPTION WHEN insufficient_privilege THEN NULL;
END $$"""  # noqa: S608 - constants, and a role's quoted name


def still_open(session: Session, device: str) -> list[str]:
    """What a device could do beyond its task, since whoever granted it may not take it from PUBLIC. A sentence each."""
    ask = session.connection().exec_driver_sql
    found = []
    others = ask(
        "SELECT datname FROM pg_database WHERE datallowconn AND datname <> current_database()"
        " AND has_database_privilege(%s, oid, 'CONNECT') ORDER BY datname",
        (device,),
    ).scalars()
    if names := ", ".join(others):
        found.append(
            f"It may connect to other databases of this server: {names}. REVOKE CONNECT ON DATABASE ... FROM PUBLIC "
            f"for each, or let pg_hba.conf reject +{GROUP} for all but this one."
        )
    if ask("SELECT has_database_privilege(%s, current_database(), 'TEMPORARY')", (device,)).scalar_one():
        found.append("It may make temporary tables. Have this command run by the owner of the database.")
    functions = ask(
        "SELECT count(*) FROM pg_proc WHERE pronamespace = 'pg_catalog'::regnamespace AND proname ~ %s"
        " AND has_function_privilege(%s, oid, 'EXECUTE')",
        (CLOSED, device),
    ).scalar_one()
    if functions or ask("SELECT has_column_privilege(%s, 'pg_class', 'reltuples', 'SELECT')", (device,)).scalar_one():
        found.append("It may make large objects and read row counts. Have this command run by a superuser once.")
    return found


def end_overlong(depot: Engine) -> None:
    """End devices' transactions older than LONGEST, which a device's own settings cannot prevent. If it may."""
    if depot.name != "postgresql":
        return
    statement = f"""SELECT pg_terminate_backend(pid) FROM pg_stat_activity
        WHERE datname = current_database() AND xact_start < now() - interval '{LONGEST}' AND usename IN (
            SELECT device.rolname FROM pg_auth_members m JOIN pg_roles device ON device.oid = m.member
            JOIN pg_roles whole ON whole.oid = m.roleid WHERE whole.rolname = '{GROUP}')"""  # noqa: S608
    with suppress(SetupError), writing(depot) as session:
        session.connection().exec_driver_sql(statement)
