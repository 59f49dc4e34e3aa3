"""A device and its depot, also when either is killed in the middle."""

from __future__ import annotations

import hashlib
import random
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, func, select, text
from sqlalchemy.engine import URL

from tests.logbook.data import as_bytes, day, defect, record, repair, start_command, still
from tests.logbook.pg import Cluster, binaries, cluster, new_depot
from voice.errors import SetupError
from voice.logbook.database import open_engine, open_local, reading, writing
from voice.logbook.depot import absorb, unpack
from voice.logbook.for_walk import open_defects as carried
from voice.logbook.lookup import open_lives
from voice.logbook.schema import DeviceVehicleRow, FactRow, InboxRow, RecordRow
from voice.logbook.sync import open_defects, sync
from voice.record.device import device_key, trusted_keys
from voice.record.model import InspectionRecord
from voice.record.repairs import certify

HORN = defect("horn#not-working", "halt")
LAMP = defect("lamp@left#out")
JUNK = hashlib.sha256(b"junk").hexdigest()


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "device"


def walked(home: Path, made: InspectionRecord) -> None:
    folder = home / "sessions" / made.id
    folder.mkdir(parents=True)
    (folder / "record.json").write_bytes(as_bytes(made))


def allow(depot: Engine, vehicle: str = "unit-0001", device: str = "postgres") -> None:
    """The tests' device is the owner itself; the rights of a real one are tested in test_roles."""
    with writing(depot) as session:
        session.add(DeviceVehicleRow(device=device, vehicle=vehicle))


def keys(local: Engine, vehicle: str = "unit-0001") -> list[str]:
    with reading(local) as session:
        return [life.defect for life in open_defects(session, vehicle)]


def test_hands_in_once_and_takes_back_what_others_found(engine: Engine, home: Path, tmp_path: Path) -> None:
    allow(engine)
    walked(home, record("r1", day(0), defects=[HORN]))
    local = open_local(home)
    report = sync(home, local, engine)
    assert (report.sent, report.known, report.waiting) == (1, 0, 1)
    assert report.vehicles == ("unit-0001-tractor", "unit-0001-trailer")
    assert [outcome.verdict for outcome in absorb(engine, {})] == ["imported"]

    other = tmp_path / "other"
    walked(other, record("r2", day(1), defects=[LAMP]))
    sync(other, open_local(other), engine)
    absorb(engine, {})

    report = sync(home, local, engine)
    assert (report.sent, report.known, report.waiting, report.open_defects) == (0, 1, 0, 2)
    assert keys(local) == [HORN.key, LAMP.key]
    assert [found.key for found in carried(home, "unit-0001")] == [HORN.key, LAMP.key]
    assert keys(local, "unit-0002") == []


def test_what_is_certified_at_the_depot_is_closed_on_the_device(engine: Engine, home: Path) -> None:
    from voice.logbook.store import import_repairs

    allow(engine)
    walked(home, record("r1", day(0), defects=[HORN]))
    local = open_local(home)
    sync(home, local, engine)
    assert keys(local) == [HORN.key]  # handed in, not yet looked at there: in doubt it stays open
    absorb(engine, {})
    sync(home, local, engine)
    assert keys(local) == [HORN.key]
    with writing(engine) as session:
        import_repairs(session, [repair(HORN.key, day(1))], ["shop"])
    sync(home, local, engine)
    assert keys(local) == []
    walked(home, record("r3", day(3), defects=[HORN]))
    sync(home, local, engine)
    assert keys(local) == [HORN.key]


@pytest.mark.parametrize("how", ["found", "carried"])
def test_seen_by_another_after_its_certification_here_it_is_open_here_after_a_sync(
    engine: Engine, home: Path, tmp_path: Path, how: str
) -> None:
    """Certified on this device and closed; later another device sees it. The depot's word is newer than ours."""
    allow(engine)
    first = record("r1", day(0), defects=[HORN])
    walked(home, first)
    certify(home, repair(HORN.key, day(1)))
    local = open_local(home)
    sync(home, local, engine)
    absorb(engine, {})
    sync(home, local, engine)
    assert keys(local) == []
    assert carried(home, "unit-0001") == []
    other = tmp_path / "other"
    seen = {"defects": [HORN]} if how == "found" else {"carried": [still(HORN, first)]}
    walked(other, record("r2", day(2), **seen))
    sync(other, open_local(other), engine)
    absorb(engine, {})
    sync(home, local, engine)
    assert keys(local) == [HORN.key]
    assert [found.key for found in carried(home, "unit-0001")] == [HORN.key]


def test_a_certification_given_on_the_device_reaches_the_depot(engine: Engine, home: Path) -> None:
    allow(engine)
    walked(home, record("r1", day(0), defects=[HORN]))
    local = open_local(home)
    sync(home, local, engine)
    absorb(engine, {})
    sync(home, local, engine)
    certify(home, repair(HORN.key, day(1)))
    sync(home, local, engine)
    assert keys(local) == []  # known here at once, though the depot has not looked at it
    assert [outcome.verdict for outcome in absorb(engine, {})] == ["imported"]
    with reading(engine) as session:
        assert open_lives(session, "unit-0001") == []


def test_unsigned_walks_stay_and_broken_ones_are_set_aside(engine: Engine, home: Path) -> None:
    walked(home, record("r1", day(0)))
    walked(home, record("r2", day(1), signed=False))
    walked(home, record("r3", day(2)))
    file = home / "sessions/r3/record.json"
    file.write_bytes(file.read_bytes().replace(b"A. Sample", b"Z. Sample"))
    report = sync(home, open_local(home), engine)
    assert (report.sent, report.unsigned) == (1, 1)
    assert [(what, "altered" in reason) for what, reason in report.refused] == [("r3/record.json", True)]
    assert file.exists()
    assert len(list((home / "set-aside").glob("*.json"))) == 1


def test_the_depot_refuses_forged_and_damaged_ones_keeps_them_and_tells_the_device(
    engine: Engine, home: Path, tmp_path: Path
) -> None:
    depot_home = tmp_path / "depot"
    (depot_home / "trusted").mkdir(parents=True)
    known = device_key(tmp_path / "known")
    (depot_home / "trusted/known.pub").write_bytes((tmp_path / "known/device.pub").read_bytes())
    walked(home, record("r1", day(0), defects=[HORN]))
    walked(home, known.sign(record("r2", day(1))))
    (home / "trusted").mkdir()
    local = open_local(home)
    sync(home, local, engine)
    with writing(engine) as session:
        session.add(InboxRow(device="postgres", sha256=JUNK, kind="record", body=b"junk", received=day(0)))
    verdicts = sorted(outcome.verdict for outcome in absorb(engine, trusted_keys(depot_home)))
    assert verdicts == ["imported", "set-aside", "set-aside"]
    with reading(engine) as session:
        kept = session.scalars(select(InboxRow).where(InboxRow.verdict == "set-aside")).all()
        forged, junk = sorted(kept, key=lambda row: row.sha256 == JUNK)
        assert "damaged" in (junk.reason or "")
        assert "forged" in (forged.reason or "")
        assert unpack(forged.body, "r1") == (home / "sessions/r1/record.json").read_bytes()
    report = sync(home, local, engine)
    assert [what for what, _ in report.refused] == ["record:r1"]


def test_an_archive_that_grows_without_end_is_refused() -> None:
    import zlib

    from voice.errors import RecordError
    from voice.logbook.columns import RECORD_BYTES

    with pytest.raises(RecordError, match="too large"):
        unpack(zlib.compress(bytes(RECORD_BYTES + 1)), "x")
    with pytest.raises(RecordError, match="cut short"):
        unpack(zlib.compress(b"{}" * 100)[:-3], "x")


def test_a_depot_restored_from_an_old_copy_gets_everything_again(new_engine: Callable[[], Engine], home: Path) -> None:
    depot = new_engine()
    walked(home, record("r1", day(0)))
    local = open_local(home)
    sync(home, local, depot)
    with writing(depot) as session:
        session.execute(text("DELETE FROM inbox"))
    assert sync(home, local, depot).sent == 0
    assert sync(home, local, depot, everything=True).sent == 1
    assert sync(home, local, new_engine()).sent == 1  # another depot has another identity


def test_no_depot_is_one_clear_sentence_and_loses_nothing(engine: Engine, home: Path, tmp_path: Path) -> None:
    walked(home, record("r1", day(0), defects=[HORN]))
    local = open_local(home)
    gone = open_engine(URL.create("postgresql+psycopg", "d", "secret", "127.0.0.1", 1, "depot"))
    with pytest.raises(SetupError, match="cannot be reached"):
        sync(home, local, gone)
    assert keys(local) == [HORN.key]
    assert sync(home, local, engine).sent == 1


# --- killed in the middle ---------------------------------------------------------------------------------------------

RECORDS = 160


@pytest.fixture(scope="module")
def crash_server() -> Iterator[Cluster]:
    """A server of its own to kill, with the disk's guarantees on."""
    if binaries() is None:
        pytest.skip("PostgreSQL is not installed (apt install postgresql)")
    with cluster() as running:
        yield running


def week(home: Path) -> None:
    """What a device has after some time offline: walks with a defect that is seen again and again."""
    first = record("w0", day(0), defects=[HORN])
    walked(home, first)
    for number in range(1, RECORDS):
        walked(home, record(f"w{number}", day(number), carried=[still(HORN, first)]))


def start_sync(home: Path, url: URL) -> subprocess.Popen[bytes]:
    return start_command(home, url, "sync")


def sync_to_the_end(home: Path, url: URL) -> None:
    process = start_sync(home, url)
    _, errors = process.communicate()
    assert process.returncode == 0, errors.decode()


def nothing_lost_or_doubled(depot: Engine) -> None:
    absorb(depot, {})
    with reading(depot) as session:
        assert session.scalar(select(func.count()).select_from(RecordRow)) == RECORDS
        assert session.scalar(select(func.count()).select_from(InboxRow)) == RECORDS
        assert session.scalar(select(func.count()).select_from(FactRow)) == RECORDS
        (life,) = open_lives(session, "unit-0001")
        assert life.times == RECORDS
        damaged = session.scalar(select(func.count()).select_from(InboxRow).where(InboxRow.verdict != "imported"))
        assert damaged == 0


def kills(server: Cluster, home: Path, url: URL, rng: random.Random, *, kill_server: bool) -> int:
    """Start a sync and kill it, or the server, around one of its confirmations. Returns 1 if it was still running."""
    process = start_sync(home, url)
    assert process.stdout is not None
    assert process.stderr is not None
    for _ in range(rng.randrange(4)):
        process.stdout.readline()  # "20 handed in" ...
    time.sleep(rng.choice([0.0, rng.uniform(0, 0.02), rng.uniform(0, 1.5)]))
    alive = process.poll() is None
    if kill_server:
        server.kill()
        process.communicate(timeout=60)
        server.start()
    else:
        process.send_signal(signal.SIGKILL)
        process.communicate()
    return int(alive)


@pytest.mark.postgres
@pytest.mark.slow
@pytest.mark.parametrize("kill_server", [False, True], ids=["device", "server"])
def test_killed_in_the_middle_nothing_is_lost_or_doubled(
    crash_server: Cluster, tmp_path: Path, kill_server: bool
) -> None:
    """A few here; tests/benchmarks/logbook/kill.py does it a hundred times and more."""
    url = new_depot(crash_server, f"kill_{'server' if kill_server else 'device'}")
    home = tmp_path / "device"
    week(home)
    rng = random.Random(1)
    for _ in range(4):
        kills(crash_server, home, url, rng, kill_server=kill_server)
    sync_to_the_end(home, url)
    depot = open_engine(url)
    nothing_lost_or_doubled(depot)
    depot.dispose()


@pytest.mark.postgres
def test_two_devices_and_two_depots_hands_at_once(new_database: Callable[[], URL], tmp_path: Path) -> None:
    """Two devices sync while two programs empty the inbox."""
    import threading

    url = new_database()
    homes = [tmp_path / "one", tmp_path / "two"]
    for number, home in enumerate(homes):
        for index in range(25):
            walked(home, record(f"d{number}-{index}", day(index + number / 2), defects=[HORN] if index % 5 else []))
    failures: list[BaseException] = []

    def run(action: Callable[[Engine], object]) -> None:
        mine = open_engine(url)
        try:
            action(mine)
        except BaseException as error:
            failures.append(error)
        finally:
            mine.dispose()

    actions: list[Callable[[Engine], object]] = [
        lambda depot: sync(homes[0], open_local(homes[0]), depot),
        lambda depot: sync(homes[1], open_local(homes[1]), depot),
        lambda depot: [absorb(depot, {}) for _ in range(10)],
        lambda depot: [absorb(depot, {}) for _ in range(10)],
    ]
    threads = [threading.Thread(target=run, args=(action,)) for action in actions]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    depot = open_engine(url)
    absorb(depot, {})
    with reading(depot) as session:
        assert session.scalar(select(func.count()).select_from(RecordRow)) == 50
        (life,) = open_lives(session, "unit-0001")
        assert life.times == 40
    depot.dispose()
