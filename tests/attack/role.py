"""SQL that a device's role may try at its depot, made from a grammar."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import Engine, text

from tests.attack.run import Case
from tests.logbook.data import checked, day, defect, record
from tests.logbook.pg import binaries, cluster, new_depot
from voice.logbook.database import open_engine, read_url, writing
from voice.logbook.kinds import Base
from voice.logbook.roles import grant
from voice.logbook.store import import_records

ABOUT = "SQL of a device's role: it reads its views, puts rows of its own into the inbox, within its quota, and no more"
SHARE = 60
OTHERS = 17_389  # rows of others in several tables: the number itself must not be told
SECRET = "zircon"  # stands in every text of others

_TABLES = (*Base.metadata.tables, "alembic_version")
_VIEWS = ("device_depot", "device_vehicles", "device_receipts", "device_open_defects")
_CATALOGS = [
    "pg_class",
    "pg_authid",
    "pg_shadow",
    "pg_user_mapping",
    "pg_largeobject",
    "pg_statistic",
    "pg_stats",
    "pg_settings",
    "pg_stat_activity",
    "pg_stat_all_tables",
    "pg_stat_user_tables",
    "pg_statio_all_tables",
    "pg_stat_database",
    "pg_locks",
    "pg_file_settings",
    "pg_hba_file_rules",
    "pg_roles",
    "pg_database",
    "pg_proc",
    "pg_views",
    "pg_tables",
    "pg_policies",
    "information_schema.tables",
    "information_schema.columns",
    "pg_stat_progress_vacuum",
    "pg_prepared_xacts",
    "pg_cursors",
    "pg_stat_statements",
    "pg_stat_xact_all_tables",
    "pg_subscription",
    "pg_replication_slots",
    "pg_backend_memory_contexts",
]
_COLUMNS = """
*
count(*)
1
device
vehicle
body
sha256
reason
id
profile
defect
reltuples
relname, relpages
n_live_tup
xmin
ctid
tableoid::regclass
string_agg(t::text, ',')
to_jsonb(t)
row_to_json(t)
rolpassword
query
max(title)
lower(reason)
""".strip().splitlines()
_WHERES = f"""


WHERE true
WHERE device = 'cab-two'
WHERE t::text LIKE '%{SECRET[:-1]}_%'
WHERE vehicle LIKE 'unit%' OR 1 / (length(vehicle) - 17) = 1
WHERE EXISTS (SELECT FROM record)
WHERE (SELECT count(*) FROM fact) > 0
FOR UPDATE
LIMIT 5
ORDER BY 1
TABLESAMPLE SYSTEM (100)
UNION ALL SELECT NULL FROM inbox
""".splitlines()
_VALUES = """
0
1
-1
2200000
'x'
'inbox'
'inbox'::regclass
'record'
'/etc/passwd'
NULL
true
current_user
'postgres'
''::bytea
array[1]
'cab-two'
pg_backend_pid()
now()
'{}'::jsonb
'SELECT * FROM record'
'public'
'depot'
random()
'inbox'::text
(SELECT oid FROM pg_roles LIMIT 1)
""".strip().splitlines()
_SETTINGS = [
    "statement_timeout",
    "work_mem",
    "temp_file_limit",
    "role",
    "session_authorization",
    "row_security",
    "search_path",
    "session_replication_role",
    "default_transaction_read_only",
    "log_statement",
    "temp_tablespaces",
    "lo_compat_privileges",
    "allow_system_table_mods",
    "idle_in_transaction_session_timeout",
    "is_superuser",
    "max_stack_depth",
    "shared_preload_libraries",
]
_FIXED = """
CREATE TEMP TABLE t (a int)
CREATE TABLE t (a int)
CREATE SCHEMA s
CREATE SCHEMA AUTHORIZATION postgres
CREATE FUNCTION f() RETURNS int LANGUAGE sql AS 'SELECT 1'
CREATE ROLE r SUPERUSER
CREATE DATABASE d
CREATE EXTENSION plpgsql
CREATE EXTENSION dblink
CREATE EXTENSION file_fdw
CREATE TEMP VIEW v AS SELECT 1
CREATE VIEW v AS SELECT * FROM inbox
CREATE OR REPLACE VIEW device_vehicles AS SELECT 'x'::text AS vehicle
CREATE TRIGGER t BEFORE INSERT ON inbox EXECUTE FUNCTION inbox_quota()
DROP TRIGGER inbox_quota ON inbox
CREATE POLICY p ON inbox USING (true)
DROP POLICY inbox_own ON inbox
DROP TABLE inbox CASCADE
CREATE TYPE t AS (a int)
ALTER TABLE inbox DISABLE ROW LEVEL SECURITY
ALTER TABLE inbox DISABLE TRIGGER ALL
ALTER TABLE inbox OWNER TO "cab-one"
ALTER ROLE "cab-one" SUPERUSER
ALTER ROLE "cab-one" BYPASSRLS
ALTER ROLE "cab-one" CONNECTION LIMIT -1
ALTER ROLE "cab-two" PASSWORD 'x'
ALTER ROLE gladhand_device LOGIN
ALTER SYSTEM SET fsync = off
CHECKPOINT
ALTER FUNCTION inbox_quota() SECURITY INVOKER
ALTER VIEW device_receipts SET (security_barrier = false)
ALTER DATABASE depot SET row_security = off
GRANT SELECT ON record TO "cab-one"
GRANT gladhand_device TO PUBLIC
GRANT postgres TO "cab-one"
REVOKE ALL ON inbox FROM postgres
SET ROLE postgres
RESET ALL
DISCARD ALL
SET SESSION AUTHORIZATION postgres
VACUUM FULL inbox
ANALYZE
REINDEX TABLE inbox
CLUSTER
LOAD 'x'
COPY (SELECT 1) TO PROGRAM 'id'
COPY inbox TO '/tmp/x'
COPY inbox FROM '/etc/passwd'
COPY (SELECT 1) TO '/tmp/x'
DO $$ BEGIN PERFORM count(*) FROM record; END $$
DO $$ BEGIN EXECUTE 'CREATE TABLE t (a int)'; END $$
LISTEN x
PREPARE TRANSACTION 'x'
SELECT 1 INTO t
SELECT * INTO TEMP t FROM device_vehicles
SECURITY LABEL ON TABLE inbox IS 'x'
COMMENT ON TABLE inbox IS 'x'
LOCK TABLE inbox
LOCK TABLE inbox IN SHARE ROW EXCLUSIVE MODE
LOCK TABLE record
LOCK TABLE device_open_defects
CREATE PUBLICATION p
CREATE SERVER s FOREIGN DATA WRAPPER f
IMPORT FOREIGN SCHEMA x FROM SERVER y INTO z
CREATE EVENT TRIGGER e ON ddl_command_start EXECUTE FUNCTION f()
DROP OWNED BY postgres
REASSIGN OWNED BY postgres TO "cab-one"
CREATE OPERATOR = (PROCEDURE = texteq)
CREATE CAST (text AS int) WITHOUT FUNCTION
CREATE RULE r AS ON SELECT TO device_vehicles DO INSTEAD SELECT 'x'::text
CREATE STATISTICS s ON device, kind FROM inbox
CREATE INDEX ON inbox (reason)
TRUNCATE inbox
MERGE INTO inbox USING device_vehicles ON true WHEN MATCHED THEN DELETE
""".strip().splitlines()
_OBJECTS = [
    "pg_class",
    "pg_proc",
    "pg_namespace",
    "pg_largeobject_metadata",
    "pg_roles",
    "pg_database",
    "pg_type",
    "pg_policy",
    "pg_trigger",
    "pg_auth_members",
    "pg_extension",
]
# Called with anything they end or hold up the session itself, or write what no rollback takes back, as any role may.
_LEFT_OUT = (
    "'^pg_sleep|^pg_terminate_backend|^pg_cancel_backend|^pg_log_backend|^repeat$|^generate_series|^nextval|^setval'"
)


class _Device:
    """A device's session at a depot with rows of others; every case is a statement or a few."""

    def __init__(self, owner: Engine, conninfo: str) -> None:
        self.owner, self.conninfo = owner, conninfo
        self.before = self._state()
        with owner.connect() as connection:
            self.functions = connection.scalars(
                text("SELECT DISTINCT proname FROM pg_proc WHERE pronamespace = 'pg_catalog'::regnamespace"
                     f" AND prokind = 'f' AND proname !~ {_LEFT_OUT} ORDER BY 1")
            ).all()  # fmt: skip
        self.session = self._login()

    def _login(self) -> psycopg.Connection[tuple[object, ...]]:
        session = psycopg.connect(self.conninfo, autocommit=True)
        session.execute("SET statement_timeout = '5s'")
        return session

    def _state(self) -> dict[str, object]:
        """What a device must not change: the rows of all tables but its own in the inbox, and what there is."""
        asked = {table: f"SELECT md5(string_agg(t::text, '' ORDER BY t::text)) FROM {table} t" for table in _TABLES}
        asked["inbox"] = asked["inbox"] + " WHERE device <> 'cab-one'"
        for catalog in _OBJECTS:
            asked[catalog] = f"SELECT count(*) FROM {catalog}"
        asked["rights"] = "SELECT md5(string_agg(c.relname || c.relacl::text, '' ORDER BY c.oid)) FROM pg_class c"
        with self.owner.connect() as connection:
            return {name: connection.scalar(text(query)) for name, query in asked.items()}

    def tried(self, number: int, rng: random.Random) -> str | None:
        statements = [self._statement(rng) for _ in range(rng.randint(1, 4))]
        told: list[str] = []
        try:
            if self.session.closed:
                self.session = self._login()
            whole = rng.random() < 0.3
            if whole:
                self.session.execute("BEGIN")
            for statement in statements:
                told += self._run(statement)
            if whole:
                self.session.execute(rng.choice(["COMMIT", "ROLLBACK"]))
            self.session.execute("ROLLBACK")
        except psycopg.Error:
            self.session.close()
        text_told = "\n".join(told)
        for leak in (SECRET, str(OTHERS)):
            if leak in text_told:
                return f"told {leak!r}: {statements}: {text_told[:300]}"
        if number % 20 == 19 and (now := self._state()) != self.before:
            changed = [name for name in now if now[name] != self.before[name]]
            self.before = now
            return f"changed {changed} with one of the last 20 cases, of which this is {statements}"
        return self._beyond_quota()

    def _run(self, statement: str) -> list[str]:
        try:
            with self.session.transaction(), self.session.cursor() as cursor:
                if statement.startswith("COPY") and "STDOUT" in statement:
                    with cursor.copy(statement.encode()) as copy:
                        return [bytes(part).decode(errors="replace") for part in copy]
                cursor.execute(statement.encode())
                return [str(row) for row in cursor.fetchmany(2000)] if cursor.description else []
        except psycopg.Error as error:
            return [str(error).replace(statement, "").partition("LINE 1:")[0]]  # it repeats what was asked

    def _beyond_quota(self) -> str | None:
        with self.owner.begin() as connection:
            rows, size = connection.execute(
                text("SELECT count(*), coalesce(sum(octet_length(body)), 0) FROM inbox WHERE device = 'cab-one'")
            ).one()
            if rows > 1500:  # room for the next
                connection.execute(text("DELETE FROM inbox WHERE device = 'cab-one'"))
        return f"the inbox holds {rows} rows, {size} bytes" if rows > 2000 or size > 64 * 1024 * 1024 else None

    def _statement(self, rng: random.Random) -> str:
        ways: list[Callable[[random.Random], str]] = [
            self._select, self._select, self._write, self._insert, self._call, self._call, self._set, self._explain,
            self._copy, lambda rng: rng.choice(_FIXED), lambda rng: rng.choice(_FIXED),
        ]  # fmt: skip
        return rng.choice(ways)(rng)

    def _relation(self, rng: random.Random) -> str:
        return rng.choice(rng.choice([_TABLES, _VIEWS, _VIEWS, _CATALOGS]))

    def _select(self, rng: random.Random) -> str:
        other = f", {self._relation(rng)} o" if rng.random() < 0.2 else ""
        return f"SELECT {rng.choice(_COLUMNS)} FROM {self._relation(rng)} t{other} {rng.choice(_WHERES)}"

    def _explain(self, rng: random.Random) -> str:
        options = rng.choice(["", "(ANALYZE) ", "(ANALYZE, BUFFERS, VERBOSE) ", "(FORMAT JSON) "])
        return f"EXPLAIN {options}{rng.choice([self._select, self._write, self._insert])(rng)}"

    def _copy(self, rng: random.Random) -> str:
        return rng.choice(
            [f"COPY {rng.choice(_TABLES)} TO STDOUT", f"COPY ({self._select(rng)}) TO STDOUT",
             "COPY device_receipts TO STDOUT"]
        )  # fmt: skip

    def _write(self, rng: random.Random) -> str:
        relation = self._relation(rng)
        return rng.choice(
            [f"DELETE FROM {relation}", f"TRUNCATE {relation}", f"DROP TABLE {relation}", f"DROP VIEW {relation}",
             f"UPDATE {relation} SET {rng.choice(['device', 'body', 'level', 'title'])} = {rng.choice(_VALUES)}",
             f"INSERT INTO {relation} DEFAULT VALUES", f"INSERT INTO {relation} SELECT * FROM {self._relation(rng)}",
             f"ALTER TABLE {relation} ADD COLUMN x int", f"GRANT ALL ON {relation} TO PUBLIC"]
        )  # fmt: skip

    def _insert(self, rng: random.Random) -> str:
        count, size = rng.choice([(1, 10), (3, 1000), (700, 20), (2500, 5), (50, 1_900_000), (2, 2_200_000)])
        made = (
            f"(SELECT decode(lpad(to_hex(n + {rng.randrange(10**9)}), {2 * size}, '0'), 'hex') AS body"
            f" FROM generate_series(1, {count}) n) t"
        )
        columns, values = rng.choice(
            [("sha256, kind, body", "encode(sha256(body), 'hex'), 'record', body"),
             ("sha256, kind, body", "encode(sha256(body), 'hex'), 'repair', body"),
             ("sha256, kind, body", "'x', 'record', body"),
             ("device, sha256, kind, body", "'cab-two', encode(sha256(body), 'hex'), 'record', body"),
             ("sha256, kind, body, received", "encode(sha256(body), 'hex'), 'record', body, '1999-01-01'"),
             ("sha256, kind, body, done", "encode(sha256(body), 'hex'), 'record', body, now()")]
        )  # fmt: skip
        end = rng.choice(
            ["", "", "", " ON CONFLICT DO NOTHING", " RETURNING device", " RETURNING *",
             " ON CONFLICT (device, sha256) DO UPDATE SET body = ''"]
        )  # fmt: skip
        return f"INSERT INTO inbox ({columns}) SELECT {values} FROM {made}{end}"

    def _call(self, rng: random.Random) -> str:
        arguments = ", ".join(rng.choice(_VALUES) for _ in range(rng.choice([0, 1, 1, 2, 2, 3])))
        name = rng.choice(self.functions)
        return rng.choice(
            [f"SELECT pg_catalog.{name}({arguments})", f"SELECT * FROM pg_catalog.{name}({arguments}) LIMIT 50"]
        )

    def _set(self, rng: random.Random) -> str:
        value = rng.choice(["0", "-1", "on", "off", "postgres", "1000"])
        return f"SET {rng.choice(['', 'LOCAL ', 'SESSION '])}{rng.choice(_SETTINGS)} = {value}"


def _fill(owner: Engine) -> None:
    """Rows of others, with the secret in every text, and statistics of them."""
    horn = defect(f"{SECRET}#not-working", "halt")
    with writing(owner) as session:
        batch = [checked(record(f"{SECRET}-{n}", day(n), vehicle=2, defects=[horn], driver=SECRET)) for n in range(3)]
        import_records(session, batch, [SECRET] * 3)
    with owner.begin() as connection:
        for statement in (
            "ALTER TABLE inbox DISABLE TRIGGER inbox_quota",
            "INSERT INTO device_vehicle SELECT 'cab-two', '{s}-' || n FROM generate_series(1, {n}) n",
            "INSERT INTO inbox (device, sha256, kind, body, done, verdict, reason)"
            " SELECT 'cab-two', '{s}-' || n, 'record', '{s}', now(), 'imported', '{s}' FROM generate_series(1, {n}) n",
            "INSERT INTO fact (vehicle, defect, source, kind, at, title)"
            " SELECT key, '{s}-' || n, 'record:{s}', 'found', now(), '{s}' FROM generate_series(1, {n}) n, vehicle",
            "ALTER TABLE inbox ENABLE TRIGGER inbox_quota",
        ):
            connection.execute(text(statement.format(s=SECRET, n=OTHERS)))
    with owner.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
        connection.execute(text("VACUUM ANALYZE"))


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    if binaries() is None:
        pytest.skip("PostgreSQL is not installed (apt install postgresql)")
    with cluster(fsync="off", log_statement="'none'", autovacuum="off") as server:
        owner = open_engine(new_depot(server, "depot"))
        grant(owner, "cab-two", ["unit-0002"], folder / "cab-two.url")
        grant(owner, "cab-one", ["unit-0001"], folder / "cab-one.url")
        _fill(owner)
        url = read_url(folder / "cab-one.url").set(drivername="postgresql")
        device = _Device(owner, url.render_as_string(hide_password=False))
        yield device.tried
        device.session.close()
        owner.dispose()
