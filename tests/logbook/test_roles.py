"""What a device's database role can and cannot do, tried on a real PostgreSQL."""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, text
from sqlalchemy.engine import URL
from sqlalchemy.exc import DBAPIError

from tests.logbook.data import checked, day, defect, inbox_row, record
from tests.logbook.pg import Cluster
from tests.logbook.test_sync import walked
from voice.errors import SetupError
from voice.logbook.closing import end_overlong, still_open
from voice.logbook.database import depot_url, initialize, open_engine, open_local, read_url, reading, upgrade, writing
from voice.logbook.depot import absorb
from voice.logbook.kinds import Base
from voice.logbook.roles import close, grant, quoted, revoke, script
from voice.logbook.store import import_records
from voice.logbook.sync import open_defects, sync

pytestmark = pytest.mark.postgres
HORN = defect("horn#not-working", "halt")


@pytest.fixture
def depot(pg_engine: Engine) -> Iterator[Engine]:
    """A depot with open defects on two vehicles."""
    with writing(pg_engine) as session:
        batch = [checked(record(f"r{n}", day(n), vehicle=n, defects=[HORN])) for n in (1, 2)]
        import_records(session, batch, ["local", "local"])
    yield pg_engine
    # Roles belong to the whole server, not to the test's database.
    with pg_engine.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
        names = connection.scalars(
            text("SELECT rolname FROM pg_roles WHERE rolname ~ '^(cab|front|gladhand_de)'")
        ).all()
        for name in sorted(names):
            connection.execute(text(f'DROP OWNED BY "{name}"'))
            connection.execute(text(f'DROP ROLE "{name}"'))


@pytest.fixture
def device(depot: Engine, tmp_path: Path) -> Iterator[Engine]:
    """Logged in as a device that may read unit-0001."""
    grant(depot, "cab-one", ["unit-0001"], tmp_path / "cab-one.url")
    engine = open_engine(read_url(tmp_path / "cab-one.url"))
    yield engine
    engine.dispose()


def refused(engine: Engine, statement: str, **values: object) -> str:
    with pytest.raises(DBAPIError) as error, engine.begin() as connection:
        connection.execute(text(statement), values)
    return str(error.value.orig)


def test_reads_open_defects_of_its_own_vehicles_only(device: Engine, depot: Engine) -> None:
    with device.connect() as connection:
        assert connection.scalars(text("SELECT vehicle FROM device_open_defects")).all() == ["unit-0001-tractor"]
        granted = set(connection.scalars(text("SELECT vehicle FROM device_vehicles")))
        assert granted == {"unit-0001-tractor", "unit-0001-trailer"}
        # Not even through a function of its own that the view might call first: the view is a security barrier.
        assert connection.scalars(
            text("SELECT vehicle FROM device_open_defects WHERE vehicle LIKE 'unit%' OR vehicle = 'unit-0002'")
        ).all() == ["unit-0001-tractor"]
    grant(depot, "cab-one", ["unit-0002"])
    with device.connect() as connection:
        assert connection.scalars(text("SELECT vehicle FROM device_open_defects")).all() == ["unit-0002-tractor"]


def test_touches_no_table(device: Engine) -> None:
    for table in [*Base.metadata.tables, "alembic_version"]:
        assert "permission denied" in refused(device, f"SELECT * FROM {table}")
        assert "permission denied" in refused(device, f"DELETE FROM {table}")
        if table != "inbox":
            assert "permission denied" in refused(device, f"INSERT INTO {table} DEFAULT VALUES")
    for statement in (
        "UPDATE inbox SET body = ''",
        "TRUNCATE inbox",
        "UPDATE defect SET closed = now()",
        "UPDATE device_open_defects SET level = 0",
        "DELETE FROM device_receipts",
        "INSERT INTO device_vehicles VALUES ('unit-0002')",
        "DROP TABLE inbox",
        "ALTER TABLE inbox DISABLE ROW LEVEL SECURITY",
        "CREATE TABLE mine (a int)",
        "CREATE ROLE another",
        'GRANT gladhand_device TO "cab-one" WITH ADMIN OPTION',
        "SET ROLE postgres",
        "SELECT pg_read_file('/etc/passwd')",
        "COPY (SELECT 1) TO PROGRAM 'true'",
    ):
        answer = refused(device, statement)
        assert "permission denied" in answer or "must " in answer or "cannot" in answer, (statement, answer)


def test_hands_in_as_itself_only(device: Engine, depot: Engine) -> None:
    good = {"sha": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", "body": b""}  # FIPS 180-4, empty
    insert = "INSERT INTO inbox (sha256, kind, body) VALUES (:sha, 'record', :body)"
    with device.begin() as connection:
        connection.execute(text(insert), good)
    with depot.connect() as connection:
        assert connection.scalar(text("SELECT device FROM inbox")) == "cab-one"
    as_other = "INSERT INTO inbox (device, sha256, kind, body) VALUES ('cab-two', :sha, 'record', :body)"
    assert "permission denied" in refused(device, as_other, **good)
    done = "INSERT INTO inbox (sha256, kind, body, verdict) VALUES (:sha, 'record', :body, 'imported')"
    assert "permission denied" in refused(device, done, **good)
    large = bytes(8 * 1024 * 1024 + 1)
    assert "ck_inbox_sha256" in refused(device, insert, sha="0" * 64, body=b"else")
    assert "ck_inbox_kind" in refused(device, insert.replace("'record'", "'other'"), **good)
    assert "ck_inbox_size" in refused(device, insert, sha=hashlib.sha256(large).hexdigest(), body=large)


def test_row_security_holds_even_if_someone_grants_the_column(device: Engine, depot: Engine) -> None:
    with depot.begin() as connection:
        connection.execute(text("GRANT INSERT ON inbox TO gladhand_device"))
    empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    statement = f"INSERT INTO inbox (device, sha256, kind, body) VALUES ('cab-two', '{empty}', 'record', '')"
    assert "row-level security" in refused(device, statement)


# --- bounds -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE TEMP TABLE mine (a int)",
        "SELECT lo_create(0)",
        "SELECT lo_from_bytea(0, 'x')",
        "SELECT pg_logical_emit_message(false, 'x', repeat('x', 1000))",
        "SELECT pg_advisory_lock(1)",
        "SELECT pg_export_snapshot()",
        "SELECT reltuples FROM pg_class",
        "SELECT * FROM pg_class",
        "SELECT n_live_tup FROM pg_stat_all_tables",
        "SELECT * FROM pg_stat_activity",
        "SELECT pg_stat_get_live_tuples('inbox'::regclass)",
        "SELECT pg_relation_size('inbox')",
        "SELECT pg_database_size(current_database())",
        "SET temp_file_limit = -1",
    ],
)
def test_has_nothing_that_postgresql_gives_to_everybody(device: Engine, statement: str) -> None:
    assert "permission denied" in refused(device, statement)


def test_what_the_owner_could_do_it_still_can(device: Engine, depot: Engine) -> None:
    assert device.url.username == "cab-one"
    with depot.connect() as connection:
        for statement in ("CREATE TEMP TABLE mine (a int)", "SELECT reltuples FROM pg_class", "SELECT lo_create(0)"):
            connection.execute(text(statement))


def test_an_explained_query_tells_nothing_of_the_rows_of_others(device: Engine, depot: Engine) -> None:
    with writing(depot) as session:
        session.add_all(inbox_row(str(number).encode(), device="cab-two") for number in range(1733))
    with device.connect() as connection:
        for view in ("device_receipts", "device_vehicles", "device_open_defects"):
            plan = "\n".join(connection.scalars(text(f"EXPLAIN (ANALYZE, VERBOSE) SELECT * FROM {view}")))
            assert "1733" not in plan, plan
            assert "inbox" not in plan, plan


def bodies(count: int, size: int) -> str:
    """An insert of so many rows at once."""
    return (
        "INSERT INTO inbox (sha256, kind, body) SELECT encode(sha256(made.body), 'hex'), 'record', made.body FROM"
        f" (SELECT decode(lpad(to_hex(n), {2 * size}, '0'), 'hex') AS body FROM generate_series(1, {count}) n) made"
    )


def test_the_inbox_holds_so_many_rows_and_bytes_of_a_device_and_those_of_others_go_on(
    device: Engine, depot: Engine, tmp_path: Path
) -> None:
    assert "its inbox is full (2000 rows" in refused(device, bodies(2001, 4))
    assert "its inbox is full (33 rows" in refused(device, bodies(60, 2_000_000))
    with device.begin() as connection:
        connection.execute(text(bodies(2000, 4)))
    assert "its inbox is full" in refused(device, bodies(1, 5))
    grant(depot, "cab-two", [], tmp_path / "cab-two.url")
    other = open_engine(read_url(tmp_path / "cab-two.url"))
    with other.begin() as connection:
        connection.execute(text(bodies(1, 4)))
    other.dispose()
    # What the depot has taken in makes room; junk that it set aside does not.
    with depot.begin() as connection:
        connection.execute(text("UPDATE inbox SET done = now(), verdict = 'set-aside' WHERE device = 'cab-one'"))
    assert "its inbox is full" in refused(device, bodies(1, 5))
    with depot.begin() as connection:
        connection.execute(text("UPDATE inbox SET verdict = 'imported', body = '' WHERE device = 'cab-one'"))
    with device.begin() as connection:
        connection.execute(text(bodies(2000, 6)))
    with depot.begin() as connection:
        connection.execute(text("UPDATE inbox SET done = now(), verdict = 'imported', body = ''"))
    assert "it handed in 4000 rows in 24 hours" in refused(device, bodies(1, 7))


def test_a_sync_into_a_full_inbox_says_so_loses_nothing_and_still_takes_back(
    device: Engine, depot: Engine, tmp_path: Path
) -> None:
    home = tmp_path / "one"
    walked(home, record("mine", day(5)))
    with device.begin() as connection:
        connection.execute(text(bodies(2000, 4)))
    local = open_local(home)
    with pytest.raises(SetupError, match=r"takes nothing more from this device for now.*Nothing is lost"):
        sync(home, local, device)
    with reading(local) as session:
        assert [life.defect for life in open_defects(session, "unit-0001")] == [HORN.key]
    with depot.begin() as connection:
        connection.execute(text("DELETE FROM inbox"))
    assert sync(home, local, device).sent == 1
    local.dispose()


def test_what_is_left_open_is_said(device: Engine, depot: Engine, tmp_path: Path) -> None:
    assert device.url.username == "cab-one"
    told = grant(depot, "cab-one", ["unit-0001"])
    assert len(told) == 1
    assert "other databases of this server: " in told[0]
    assert "postgres" in told[0]
    # An owner who is no superuser may not close all of it, and is told what is left.
    with depot.begin() as connection:
        for statement in ("GRANT SELECT ON pg_class TO PUBLIC", "GRANT EXECUTE ON FUNCTION lo_create(oid) TO PUBLIC"):
            connection.execute(text(statement))
    with reading(depot) as session:
        assert any("large objects" in sentence for sentence in still_open(session, "cab-one"))


def test_a_device_does_not_get_into_another_depot_of_the_same_server(
    device: Engine, depot: Engine, new_database: Callable[[], URL], tmp_path: Path
) -> None:
    second = open_engine(new_database())
    grant(second, "cab-two", [], tmp_path / "cab-two.url")
    there = open_engine(device.url.set(database=second.url.database))
    with pytest.raises(DBAPIError, match="permission denied for database"), there.connect():
        pass
    with second.begin() as connection:  # its rights, before the roles can go
        connection.execute(text('DROP OWNED BY "cab-two", gladhand_device'))
    second.dispose()


def test_transactions_that_last_too_long_are_ended(
    device: Engine, depot: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voice.logbook.closing.LONGEST", "0 seconds")
    with device.connect() as connection:
        connection.execute(text("SET statement_timeout = 0"))
        end_overlong(depot)
        with pytest.raises(DBAPIError, match="terminating connection"):
            connection.execute(text("SELECT 1"))
    with depot.connect() as connection:
        assert connection.scalar(text("SELECT 1")) == 1


def test_a_depot_of_an_earlier_version_is_closed_too_and_its_devices_stay_in(
    device: Engine, depot: Engine, tmp_path: Path
) -> None:
    device.dispose()
    with depot.begin() as connection:  # as it was before
        connection.execute(text(f"GRANT CONNECT, TEMPORARY ON DATABASE {depot.url.database} TO PUBLIC"))
        connection.execute(text(f'REVOKE CONNECT ON DATABASE {depot.url.database} FROM "cab-one"'))
        connection.execute(text("GRANT SELECT ON pg_class TO PUBLIC"))
    upgrade(depot, "0002")
    initialize(depot)
    close(depot)
    assert "permission denied" in refused(device, "CREATE TEMP TABLE mine (a int)")
    assert "permission denied" in refused(device, "SELECT reltuples FROM pg_class")
    with device.connect() as connection:
        assert connection.scalars(text("SELECT vehicle FROM device_open_defects")).all() == ["unit-0001-tractor"]


def test_sees_its_own_receipts_only(device: Engine, depot: Engine, tmp_path: Path) -> None:
    grant(depot, "cab-two", ["unit-0002"], tmp_path / "cab-two.url")
    other = open_engine(read_url(tmp_path / "cab-two.url"))
    for engine, name, vehicle in ((device, "one", 1), (other, "two", 2)):
        home = tmp_path / name
        walked(home, record(f"{name}-r", day(5), vehicle=vehicle))
        report = sync(home, open_local(home), engine)
        assert (report.sent, report.vehicles[0], report.open_defects) == (1, f"unit-000{vehicle}-tractor", 1)
    absorb(depot, {})
    for engine in (device, other):
        with engine.connect() as connection:
            assert connection.scalar(text("SELECT count(*) FROM device_receipts")) == 1
    other.dispose()


def test_a_revoked_device_gets_in_no_more(device: Engine, depot: Engine) -> None:
    revoke(depot, "cab-one")
    device.dispose()
    with pytest.raises(DBAPIError), device.connect():
        pass


def test_the_password_is_in_the_devices_file_and_nowhere_else(
    device: Engine, server: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The server here logs every statement it is given."""
    file = tmp_path / "cab-one.url"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    password = read_url(file).password
    assert password is not None
    assert len(password) >= 40
    log = server.log.read_text()
    assert 'ALTER ROLE "cab-one" PASSWORD' in log
    assert password not in log
    assert password not in repr(device.url)
    # The device's side: the same file as its depot.url, refused as soon as others may read it.
    monkeypatch.delenv("GLADHAND_LOGBOOK_URL", raising=False)
    (tmp_path / "depot.url").write_bytes(file.read_bytes())
    (tmp_path / "depot.url").chmod(0o644)
    with pytest.raises(SetupError, match="others may read it") as open_to_all:
        depot_url(tmp_path)
    assert password not in str(open_to_all.value)
    (tmp_path / "depot.url").chmod(0o600)
    found = depot_url(tmp_path)
    assert found is not None
    assert found.password == password


def test_a_file_that_is_there_is_not_overwritten_and_nothing_changes(depot: Engine, tmp_path: Path) -> None:
    file = tmp_path / "taken.url"
    file.write_text("something")
    with pytest.raises(SetupError, match="new file"):
        grant(depot, "cab-three", [], file)
    assert file.read_text() == "something"
    with depot.connect() as connection:
        assert connection.scalar(text("SELECT count(*) FROM pg_roles WHERE rolname = 'cab-three'")) == 0


def test_the_script_does_the_same(depot: Engine, new_database: Callable[[], URL]) -> None:
    for vehicle in ("unit-0001", "it's; DROP TABLE inbox"):
        with depot.begin() as connection:
            connection.exec_driver_sql(script("cab-four", [vehicle]).replace("BEGIN;", "").replace("COMMIT;", ""))
        with depot.connect() as connection:
            assert connection.scalars(text("SELECT vehicle FROM device_vehicle")).all() == [vehicle]
            may = "SELECT has_table_privilege('cab-four', 'device_open_defects', 'SELECT')"
            assert connection.scalar(text(may)) is True
            assert connection.scalar(text("SELECT has_table_privilege('cab-four', 'record', 'SELECT')")) is False


@pytest.mark.parametrize("name", ["Robert'); DROP TABLE inbox;--", "postgres", "gladhand_device", "", "a" * 64, 'x"y'])
def test_odd_names_are_refused(name: str) -> None:
    with pytest.raises(SetupError, match="device's name"):
        quoted(name)
