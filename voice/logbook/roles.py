"""Rights of a device in the depot's PostgreSQL: hand in, read its vehicles' open defects, and no more.

One group role, gladhand_device, holds the rights; each device is a login role in it. A device may insert three columns
of the inbox (whose it is comes from the server, and row-level security checks it) and read four views that show rows of
its own. It has no right on any table. How much it may hand in is bounded by a trigger (migration 0003). What PostgreSQL
gives to everybody is taken away in voice.logbook.closing.
"""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Sequence
from pathlib import Path

from sqlalchemy import Engine, Executable, delete, insert
from sqlalchemy.dialects import postgresql
from sqlalchemy.engine import URL
from sqlalchemy.orm import Session

from voice.errors import SetupError
from voice.logbook.closing import GROUP, closing_sql, permitted, still_open
from voice.logbook.database import reading, writing
from voice.logbook.insert import insert_new
from voice.logbook.schema import DeviceVehicleRow

VIEWS = ("device_depot", "device_vehicles", "device_receipts", "device_open_defects")
DESK = "gladhand_desk"
DESK_READS = (
    "alembic_version", "identity", "vehicle", "combination", "record", "record_unit", "document", "series", "reading",
    "fact", "defect", "certification",
)  # fmt: skip
_NAME = re.compile(r"[a-z][a-z0-9_-]{0,62}")


def group_sql() -> list[str]:
    """The group role and its rights. Safe to repeat."""
    return [
        f"DO $$ BEGIN CREATE ROLE {GROUP} NOLOGIN; EXCEPTION WHEN duplicate_object THEN NULL; END $$",
        *rights_sql(),
    ]


def rights_sql() -> list[str]:
    """The rights of the group, which is there. Safe to repeat."""
    return [
        f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {GROUP}",
        f"REVOKE ALL ON ALL SEQUENCES IN SCHEMA public FROM {GROUP}",
        f"REVOKE CREATE ON SCHEMA public FROM PUBLIC, {GROUP}",
        f"GRANT USAGE ON SCHEMA public TO {GROUP}",
        f"GRANT INSERT (sha256, kind, body) ON inbox TO {GROUP}",
        f"GRANT SELECT ON {', '.join(VIEWS)} TO {GROUP}",
        *(f"GRANT EXECUTE ON FUNCTION {view}_rows() TO {GROUP}" for view in VIEWS[1:]),
        *closing_sql(),
    ]


def device_sql(device: str, verifier: str | None = None, *, group: str = GROUP) -> list[str]:
    """A device's login role.

    verifier: the password as SCRAM verifier, so that the server never sees the password.
    group: whose rights it gets.
    """
    name = quoted(device)
    attributes = "LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS CONNECTION LIMIT 5"
    made = [
        f"DO $$ BEGIN CREATE ROLE {name} {attributes}; EXCEPTION WHEN duplicate_object THEN NULL; END $$",
        f"ALTER ROLE {name} {attributes}",
        f"GRANT {group} TO {name}",
        f"ALTER ROLE {name} SET statement_timeout = '60s'",
        f"ALTER ROLE {name} SET idle_in_transaction_session_timeout = '60s'",
        permitted(f"ALTER ROLE {name} SET temp_file_limit = '64MB'"),  # a superuser's to set, and to change
        permitted(f"EXECUTE 'GRANT CONNECT ON DATABASE ' || this || ' TO {name}'"),
    ]
    return made if verifier is None else [*made, f"ALTER ROLE {name} PASSWORD '{verifier}'"]


def quoted(device: str) -> str:
    """The role's name for SQL. Raises SetupError for one that is not plain."""
    if not _NAME.fullmatch(device) or device in ("postgres", "public", GROUP, DESK):
        raise SetupError(f"'{device}' cannot be a device's name.", "Use small letters, digits, - and _, up to 63.")
    return f'"{device}"'


def script(device: str, vehicles: Sequence[str]) -> str:
    """The whole as SQL for an administrator to read and run; the password is set apart, with \\password in psql."""
    dialect = postgresql.dialect()  # type: ignore[no-untyped-call]

    def literal(statement: Executable) -> str:
        return str(statement.compile(dialect=dialect, compile_kwargs={"literal_binds": True}))  # type: ignore[attr-defined]

    given = [literal(delete(DeviceVehicleRow).where(DeviceVehicleRow.device == device))]
    for vehicle in sorted(set(vehicles)):
        given.append(literal(insert(DeviceVehicleRow).values(device=device, vehicle=vehicle)))
    statements = ["BEGIN", *group_sql(), *device_sql(device), *given, "COMMIT"]
    return "".join(f"{statement};\n" for statement in statements) + f"-- then: \\password {device}\n"


def close(depot: Engine) -> None:
    """Give the group its rights anew, where there is one: for a depot made by an earlier version."""
    if depot.name != "postgresql":
        return
    with writing(depot) as session:
        ask = session.connection().exec_driver_sql
        if ask(f"SELECT FROM pg_roles WHERE rolname = '{GROUP}'").first() is not None:
            for statement in rights_sql():
                ask(statement)


def grant(depot: Engine, device: str, vehicles: Sequence[str], credentials: Path | None = None) -> list[str]:
    """Make or change a device's role, and say which vehicles it may read. Returns what is still open to it.

    credentials: a new file (mode 0600) that gets the URL with a fresh random password, to be carried to the device as
    its depot.url. Without it the password stays as it is. Raises SetupError.
    """
    _only_postgresql(depot)
    quoted(device)
    password = secrets.token_urlsafe(32) if credentials is not None else None
    with writing(depot) as session:
        verifier = None if password is None else _verifier(session, device, password)
        for statement in (*group_sql(), *device_sql(device, verifier)):
            session.connection().exec_driver_sql(statement)
        session.execute(delete(DeviceVehicleRow).where(DeviceVehicleRow.device == device))
        insert_new(session, DeviceVehicleRow, [{"device": device, "vehicle": name} for name in sorted(set(vehicles))])
        if credentials is not None:
            # Before the commit: a password nobody has is worse than a file with one that is not in force.
            _write(credentials, depot.url.set(username=device, password=password))
    with reading(depot) as session:
        return still_open(session, device)


def grant_desk(depot: Engine, name: str, credentials: Path) -> None:
    """Make or change a desk's role: it may read what the pages show and put certifications into the inbox, no more.

    credentials: as in grant. Raises SetupError.
    """
    _only_postgresql(depot)
    quoted(name)
    password = secrets.token_urlsafe(32)
    with writing(depot) as session:
        verifier = _verifier(session, name, password)
        several = f"ALTER ROLE {quoted(name)} CONNECTION LIMIT 20"  # many readers at once
        for statement in (*group_sql(), *desk_sql(), *device_sql(name, verifier, group=DESK), several):
            session.connection().exec_driver_sql(statement)
        _write(credentials, depot.url.set(username=name, password=password))


def desk_sql() -> list[str]:
    """The group role of desks and its rights. Safe to repeat.

    The rows it may read are all of the logbook's tables but those of devices: what a device handed in and is not taken
    in, what it may see, what it has sent.
    """
    return [
        f"DO $$ BEGIN CREATE ROLE {DESK} NOLOGIN; EXCEPTION WHEN duplicate_object THEN NULL; END $$",
        f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {DESK}",
        f"GRANT USAGE ON SCHEMA public TO {DESK}",
        f"GRANT SELECT ON {', '.join(DESK_READS)} TO {DESK}",
        f"GRANT INSERT (sha256, kind, body) ON inbox TO {DESK}",
    ]


def _only_postgresql(depot: Engine) -> None:
    if depot.name != "postgresql":
        raise SetupError("Only PostgreSQL knows such rights.", "A SQLite logbook belongs to whoever has the file.")


def _verifier(session: Session, role: str, password: str) -> str:
    """The password as SCRAM verifier."""
    driver = session.connection().connection.driver_connection
    assert driver is not None  # noqa: S101
    return bytes(driver.pgconn.encrypt_password(password.encode(), role.encode(), b"scram-sha-256")).decode("ascii")


def _write(file: Path, url: URL) -> None:
    text = url.set(drivername="postgresql").render_as_string(hide_password=False)
    try:
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as error:
        raise SetupError(f"{file} cannot be made: {error.strerror}.", "Give the name of a new file.") from error
    with os.fdopen(handle, "w", encoding="utf-8") as out:
        out.write(text + "\n")


def revoke(depot: Engine, device: str, *, group: str = GROUP) -> None:
    """Take a device's rights, or a desk's: it can no longer log in. What it handed in stays. Raises SetupError."""
    name = quoted(device)
    with writing(depot) as session:
        session.connection().exec_driver_sql(f"ALTER ROLE {name} NOLOGIN PASSWORD NULL")
        session.connection().exec_driver_sql(f"REVOKE {group} FROM {name}")
        session.execute(delete(DeviceVehicleRow).where(DeviceVehicleRow.device == device))
