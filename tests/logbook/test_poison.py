"""One bad thing never stops the rest: rows that are correctly signed and still cannot be stored, and broken files."""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, select, text
from typer.testing import CliRunner

from tests.logbook.data import (
    as_bytes,
    checked,
    content_of,
    day,
    defect,
    inbox_row,
    record,
    repair,
    signed_bytes,
    signed_line,
    tread,
)
from voice.cli import app
from voice.errors import RecordError, SetupError
from voice.logbook.database import open_local, reading, writing
from voice.logbook.depot import absorb, depot_keys, look_again
from voice.logbook.for_walk import LogbookError, open_defects, outlook
from voice.logbook.importer import import_home
from voice.logbook.lookup import open_lives
from voice.logbook.rows import check_record
from voice.logbook.schema import InboxRow, RecordRow
from voice.logbook.sync import sync
from voice.record.device import DeviceKey, device_key
from voice.record.repairs import certify

HORN = defect("horn#not-working", "halt")
Content = dict[str, Any]


def _set(*path: Any) -> Callable[[Any], Callable[[Content], None]]:
    def to(value: Any) -> Callable[[Content], None]:
        def change(content: Content) -> None:
            inner: Any = content
            for step in path[:-1]:
                inner = inner[step]
            inner[path[-1]] = value

        return change

    return to


_DEFECT = ("entries", 0, "defects", 0)
_READING = ("entries", 1, "readings", 0)
POISONS: dict[str, Callable[[Content], None]] = {
    "no zone": _set("ended")("2026-03-02T06:00:00"),
    "before UTC": _set("started")("0001-01-01T00:00:00+14:00"),
    "after UTC": _set("ended")("9999-12-31T23:59:59-14:00"),
    "the year 9000": _set("ended")("9000-01-01T00:00:00Z"),
    "NUL in the driver": _set("driver")("A.\0Sample"),
    "NUL in the vehicle": _set("vehicle", "name")("unit\0"),
    "NUL in a key": _set(*_DEFECT, "key")("horn\0#not-working"),
    "NUL in a title": _set(*_DEFECT, "title")("\0"),
    "two megabytes of key": _set(*_DEFECT, "key")("k" * 2_000_000),
    "three kilobytes of key": _set(*_DEFECT, "key")("".join(map(chr, range(300, 1800)))),
    "long vehicle": _set("vehicle", "id")("v" * 3_000_000),
    "long id": _set("id")("r" * 100_000),
    "one by nothing": _set(*_READING, "value")("1/0"),
    "no number": _set(*_READING, "value")("nan"),
    "a hundred million digits": _set(*_READING, "value")("1e99999999"),
    "five thousand digits": _set(*_READING, "value")("9" * 5000),
    "a huge decimal": _set(*_READING, "decimal")(1e308),
    "infinity": _set(*_READING, "decimal")(float("inf")),
    "half a character": _set("driver")("\ud800"),
    "too many defects": lambda content: content["entries"][0].update(defects=content["entries"][0]["defects"] * 40_000),
    "deep": _set("route")(json.loads("[" * 500 + "]" * 500)),
    "other type": _set("entries")(None),
    "certified in no zone": _set("certifications")(
        [{"key": HORN.key, "verdict": "repaired", "name": "M.", "at": "2026-03-02T06:00:00", "remark": ""}]
    ),
    "certified with NUL": _set("certifications")(
        [{"key": HORN.key, "verdict": "repaired", "name": "M.\0", "at": "2026-03-02T06:00:00Z", "remark": ""}]
    ),
}


@pytest.fixture
def key(tmp_path: Path) -> DeviceKey:
    return device_key(tmp_path / "cab")


def poisoned(change: Callable[[Content], None], key: DeviceKey) -> bytes:
    made = record("bad", day(0), defects=[HORN], readings=[tread("9/32")], odometer=100)
    content = content_of(made)
    change(content)
    return signed_bytes(content, key)


def ids(engine: Engine) -> list[str]:
    with reading(engine) as session:
        return sorted(session.scalars(select(RecordRow.id)))


def hand_in(engine: Engine, *rows: InboxRow) -> None:
    with writing(engine) as session:
        session.add_all(rows)


def good(id: str, at: float, key: DeviceKey) -> bytes:
    return zlib.compress(as_bytes(key.sign(record(id, day(at)))))


@pytest.mark.parametrize("name", POISONS)
def test_a_signed_record_that_no_table_can_hold_is_refused_in_one_sentence(name: str, key: DeviceKey) -> None:
    with pytest.raises(RecordError) as refused:
        check_record(poisoned(POISONS[name], key), "bad", {key.name: key.public})
    assert "Traceback" not in str(refused.value)
    assert len(str(refused.value)) < 600


def test_poisoned_rows_are_set_aside_and_those_after_them_come_in(engine: Engine, key: DeviceKey) -> None:
    hand_in(engine, inbox_row(good("r1", 0, key), device="other", received=day(0)))
    for number, change in enumerate(POISONS.values()):
        body = zlib.compress(poisoned(change, key))
        if len(body) <= 2 * 1024 * 1024:
            hand_in(engine, inbox_row(body, received=day(1 + number)))
    told = {"key": HORN.key, "verdict": "repaired", "name": "M.", "at": "0001-01-01T00:00:00+14:00", "remark": ""}
    line = {"previous": "0" * 64, "vehicle": "unit\0", "record": "r1", "certification": told}
    hand_in(
        engine,
        inbox_row(zlib.compress(signed_line(line, key)), kind="repair", received=day(90)),
        inbox_row(zlib.compress(bytes(64 * 1024 * 1024)), received=day(91)),
        inbox_row(b"junk", received=day(92)),
        inbox_row(good("r2", 1, key), device="other", received=day(99)),
    )
    outcomes = absorb(engine, {key.name: key.public})
    assert [outcome.what for outcome in outcomes if outcome.verdict != "set-aside"] == ["r1", "r2"]
    assert ids(engine) == ["r1", "r2"]
    assert absorb(engine, {key.name: key.public}) == []


def refuse(engine: Engine, id: str) -> None:
    """The database itself refuses this record, for a reason this program knows nothing of."""
    with engine.begin() as connection:
        if engine.name == "sqlite":
            connection.execute(
                text(f"CREATE TRIGGER odd BEFORE INSERT ON record WHEN NEW.id = '{id}' "
                     "BEGIN SELECT RAISE(ABORT, 'not this one'); END")
            )  # fmt: skip
        else:
            connection.execute(
                text("CREATE FUNCTION odd() RETURNS trigger LANGUAGE plpgsql AS "
                     "$$ BEGIN RAISE EXCEPTION 'not this one'; END $$")
            )  # fmt: skip
            connection.execute(
                text(f"CREATE TRIGGER odd BEFORE INSERT ON record FOR EACH ROW WHEN (NEW.id = '{id}') "
                     "EXECUTE FUNCTION odd()")
            )  # fmt: skip


def test_whatever_the_database_says_of_one_row_stays_with_it(engine: Engine, key: DeviceKey) -> None:
    refuse(engine, "r2")
    hand_in(engine, *(inbox_row(good(f"r{n}", n, key), received=day(n)) for n in (1, 2, 3)))
    outcomes = absorb(engine, {key.name: key.public})
    assert [outcome.verdict for outcome in outcomes] == ["imported", "set-aside", "imported"]
    assert "not this one" in outcomes[1].reason
    assert ids(engine) == ["r1", "r3"]
    with reading(engine) as session:
        assert open_lives(session, "unit-0001") == []
    with engine.begin() as connection:
        connection.execute(text("DROP TRIGGER odd" + (" ON record" if engine.name == "postgresql" else "")))
    assert look_again(engine) == 1
    assert [outcome.verdict for outcome in absorb(engine, {key.name: key.public})] == ["imported"]


def test_of_the_devices_own_records_too(tmp_path: Path) -> None:
    home = tmp_path / "home"
    for number in (1, 2, 3):
        save(home, f"r{number}", as_bytes(record(f"r{number}", day(number))))
    local = open_local(home)
    refuse(local, "r2")
    told = {outcome.what: outcome.verdict for outcome in import_home(local, home)}
    assert told == {"r1": "imported", "r2": "set-aside", "r3": "imported"}
    assert ids(local) == ["r1", "r3"]
    local.dispose()


def test_a_depot_that_trusts_nobody_takes_nothing_in_and_loses_nothing(tmp_path: Path, key: DeviceKey) -> None:
    home = tmp_path / "depot"
    with pytest.raises(SetupError, match="trusts no device"):
        depot_keys(home)
    (home / "trusted").mkdir(parents=True)
    (home / "trusted/cab.pub").write_bytes((tmp_path / "cab/device.pub").read_bytes())
    assert depot_keys(home) == {key.name: key.public}


# --- files ------------------------------------------------------------------------------------------------------------


def save(home: Path, id: str, body: bytes) -> Path:
    folder = home / "sessions" / id
    folder.mkdir(parents=True)
    (folder / "record.json").write_bytes(body)
    return folder / "record.json"


def test_damaged_files_are_said_and_left_and_the_others_handed_in(engine: Engine, tmp_path: Path) -> None:
    home = tmp_path / "home"
    save(home, "r1", as_bytes(record("r1", day(1))))
    save(home, "r2", as_bytes(record("r2", day(2))).replace(b"unit", b"un\xffit"))
    save(home, "r3", b"[" * 100_000)
    (home / "sessions/r4").mkdir()
    (home / "sessions/r4/record.json").mkdir()  # not even a file
    save(home, "r5", as_bytes(record("r5", day(5))))
    save(home, "r6", as_bytes(record("r6", day(5))).replace(b"A. Sample", b"x" * 5_000_000))
    certify(home, repair(HORN.key, day(3)))
    (home / "repairs.jsonl").write_bytes((home / "repairs.jsonl").read_bytes().replace(b"Mechanic", b"Machinic"))
    report = sync(home, open_local(home), engine)
    assert report.sent == 2
    assert sorted(what for what, _ in report.refused) == [
        "r2/record.json", "r3/record.json", "r4/record.json", "r6/record.json", "repairs.jsonl",
    ]  # fmt: skip


def test_a_session_folder_counts_as_one_record_and_a_file_named_twice_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("GLADHAND_LOGBOOK_URL", raising=False)
    file = save(tmp_path / "other", "r1", as_bytes(record("r1", day(1))))
    for name in ("plan.json", "limits.json", "snapshot.json"):
        (file.parent / name).write_text("{}")
    (file.parent / "journal.jsonl").write_text("")
    asked = ["logbook", "import", str(file), str(file.parent), "--home", str(tmp_path / "home")]
    told = CliRunner().invoke(app, asked, catch_exceptions=False)
    assert told.output == "inspections: 1 imported, 0 known already, 0 set aside\n"


# --- the walk's own logbook -------------------------------------------------------------------------------------------


@pytest.fixture
def carried(tmp_path: Path) -> Path:
    save(tmp_path, "r1", as_bytes(record("r1", day(1), defects=[HORN])))
    local = open_local(tmp_path)
    import_home(local, tmp_path)
    local.dispose()
    assert [found.key for found in open_defects(tmp_path, "unit-0001")] == [HORN.key]
    return tmp_path


def test_a_logbook_that_is_no_database_is_one_sentence(carried: Path) -> None:
    for old in carried.glob("logbook.sqlite*"):
        old.unlink()
    (carried / "logbook.sqlite").write_bytes(b"no database" * 1000)
    for ask in (open_defects, outlook):
        with pytest.raises(LogbookError, match=r"damaged.*Move it away"):
            ask(carried, "unit-0001")


def test_a_logbook_damaged_in_the_middle_is_one_sentence(carried: Path) -> None:
    file = carried / "logbook.sqlite"
    body = bytearray(file.read_bytes())
    assert len(body) > 8192
    for start in range(4096, len(body)):
        body[start] = 0xA5
    file.write_bytes(body)
    with pytest.raises(LogbookError):
        open_defects(carried, "unit-0001")


def test_a_profile_that_is_not_json_is_one_sentence(carried: Path) -> None:
    with sqlite3.connect(carried / "logbook.sqlite") as database:
        database.execute("UPDATE vehicle SET profile = '{'")
    with pytest.raises(LogbookError, match="cannot be read"):
        outlook(carried, "unit-0001-tractor")


def test_a_locked_logbook_is_one_sentence(carried: Path) -> None:
    other = sqlite3.connect(carried / "logbook.sqlite", isolation_level=None)
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    other.execute("UPDATE record SET route = 'x'")
    save(carried, "r2", as_bytes(record("r2", day(2))))  # something to bring in
    with pytest.raises(LogbookError, match="Another program is writing"):
        open_defects(carried, "unit-0001")
    other.close()


def test_checked_records_of_the_generator_fit() -> None:
    assert checked(record("r", day(0), defects=[HORN], readings=[tread("9/32")], odometer=5)).odometer == 5
