"""A logbook of the version before, whose vehicles were combinations, carried over without loss.

earlier/logbook-0004.sql was written by that version: two real walks of the five-axle sample and invented ones of
unit-0001, with certifications (two of them before anybody knew the vehicle), a pruned record, rights and a last sync.
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, MetaData, select, text
from sqlalchemy.engine import URL

from tests.logbook.data import day, downgrade, record
from tests.logbook.invented import profile
from tests.logbook.test_sync import walked
from voice.logbook.database import initialize, open_engine, open_local, parse_url, reading, upgrade, writing
from voice.logbook.for_walk import open_defects
from voice.logbook.history import gather
from voice.logbook.lookup import all_lives, open_lives
from voice.logbook.rows import check_record
from voice.logbook.schema import DocumentRow
from voice.logbook.store import import_records, import_repairs
from voice.logbook.sync import sync
from voice.record.model import Certification, InspectionRecord
from voice.record.repairs import Repair
from voice.route.vehicle import Vehicle

EARLIER = Path(__file__).parent / "earlier" / "logbook-0004.sql"
RIG = "tractor-trailer-five-axle"
TABLES = ("record", "document", "certification", "fact", "defect", "series", "reading", "device_vehicle", "sent")


def rows(engine: Engine, query: str) -> list[tuple[Any, ...]]:
    with engine.connect() as connection:
        return sorted((tuple(row) for row in connection.execute(text(query))), key=repr)


def sqlite_of_before(folder: Path) -> Engine:
    file = folder / "earlier.sqlite"
    with sqlite3.connect(file) as database:
        database.executescript(EARLIER.read_text(encoding="utf-8"))
    return open_engine(parse_url(f"sqlite:///{file}", "test"))


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def earlier(request: pytest.FixtureRequest, tmp_path: Path) -> Engine:
    """The logbook as it was, in the tables of then."""
    before = sqlite_of_before(tmp_path)
    if request.param == "sqlite":
        return before
    make: Callable[[], URL] = request.getfixturevalue("new_database")
    engine = open_engine(make())
    downgrade(engine, "0004")
    known, there = MetaData(), MetaData()
    known.reflect(before, views=False)
    there.reflect(engine, views=False)
    with before.connect() as old, engine.begin() as new:
        for table in there.sorted_tables:
            if table.name in ("identity", "alembic_version"):
                continue
            content = [dict(row) for row in old.execute(select(known.tables[table.name])).mappings()]
            if content:
                new.execute(table.insert(), content)
            if "key" in table.columns and table.name != "document":
                new.execute(
                    text(f"SELECT setval(pg_get_serial_sequence('{table.name}', 'key'), max(key)) FROM {table.name}")
                )
    return engine


def content(engine: Engine) -> dict[str, list[tuple[Any, ...]]]:
    """All that a logbook has of units, without the numbers of its rows."""
    named = "v.id, s.item, s.place, s.quantity, s.name, s.unit, s.title, s.spoken"
    return {
        "series": rows(engine, f"SELECT {named} FROM series s JOIN vehicle v ON v.key = s.vehicle"),
        "readings": rows(
            engine,
            "SELECT v.id, s.item, s.place, r.id, d.nth, d.odometer, d.value FROM reading d JOIN series s"
            " ON s.key = d.series JOIN vehicle v ON v.key = s.vehicle JOIN record r ON r.key = d.record",
        ),
        "facts": rows(
            engine,
            "SELECT v.id, f.defect, f.source, f.kind, f.level, f.title, f.by FROM fact f"
            " JOIN vehicle v ON v.key = f.vehicle WHERE f.kind NOT LIKE 'certified%'",
        ),
        "lives": rows(
            engine,
            "SELECT v.id, d.defect, d.number, d.title, d.level, d.times, d.first, d.last, d.verdict, d.by FROM defect d"
            " JOIN vehicle v ON v.key = d.vehicle",
        ),
        "parts": rows(
            engine,
            "SELECT r.id, v.id, u.level, u.defects FROM record_unit u JOIN record r ON r.key = u.record"
            " JOIN vehicle v ON v.key = u.vehicle",
        ),
    }


def test_nothing_is_lost_and_each_thing_is_its_units(earlier: Engine) -> None:
    counts = {name: len(rows(earlier, f"SELECT * FROM {name}")) for name in TABLES}
    values = Counter(rows(earlier, "SELECT value, at FROM reading"))
    hashes = rows(earlier, "SELECT sha256, verdict, name, remark FROM certification")
    upgrade(earlier)
    assert {name: len(rows(earlier, f"SELECT * FROM {name}")) for name in TABLES} == counts
    assert Counter(rows(earlier, "SELECT value, at FROM reading")) == values
    assert rows(earlier, "SELECT sha256, verdict, name, remark FROM certification") == hashes
    with reading(earlier) as session:
        assert {life.defect for life in all_lives(session, f"{RIG}-tractor")} == {"horn-air#not-working"}
        assert {life.defect: life.closed is None for life in all_lives(session, f"{RIG}-trailer")} == {
            "glad-hands#leaking": True,
            "kingpin-apron#bent": True,
            "tire-tread@left-1-outer#beyond-tread-depth": True,
            "brake-lights#lamp-out": False,
        }
        (worn,) = [life for life in open_lives(session, "unit-0001") if life.defect.startswith("tire")]
        assert (worn.defect, worn.number, worn.first) == ("tire-tread@left-2-outer#worn", 2, "w6")
        assert {life.title for life in open_lives(session, f"{RIG}-trailer")} >= {
            "Tread depth, left side, trailer axle one, outer tire: beyond its limit"
        }
    readings = content(earlier)["readings"]
    trailer = [row for row in readings if row[0] == "unit-0001-trailer"]
    assert {row[2] for row in trailer} == {"left-1-outer", "right-2-inner"}
    assert {row[5] for row in trailer} == {None}
    assert [row[5] for row in readings if row[0] == "unit-0001-tractor"] == [2800.0 * week for week in range(8)]
    assert {row[0] for row in rows(earlier, "SELECT vehicle FROM pulled_vehicle")} == {
        "unit-0001", "unit-0001-tractor", "unit-0001-trailer",
    }  # fmt: skip
    assert rows(earlier, "SELECT vehicle, defect, title FROM pulled_defect") == [
        ("unit-0001-trailer", "tire-tread@right-1-inner#worn", "Tread, right side, trailer axle one, inner tire: worn")
    ]


def test_it_is_as_if_the_records_were_taken_in_today(earlier: Engine, tmp_path: Path) -> None:
    """The same texts imported anew by today's program give the same; but for the one that was pruned."""
    upgrade(earlier)
    fresh = open_local(tmp_path / "fresh")
    with reading(earlier) as session:
        texts = [zlib.decompress(body) for body in session.scalars(select(DocumentRow.body))]
    records = [check_record(body, "record", {}) for body in texts]
    given = rows(
        earlier,
        "SELECT v.id, c.defect, c.verdict, c.name, c.at FROM certification c JOIN vehicle v ON v.key = c.vehicle"
        " WHERE v.id LIKE 'unit-0001%'",
    )
    repairs = [
        Repair(unit, "", Certification.model_validate({"key": key, "verdict": verdict, "name": name, "at": f"{at}Z"}))
        if isinstance(at, str)
        else Repair(unit, "", Certification(key=key, verdict=verdict, name=name, at=at))
        for unit, key, verdict, name, at in given
    ]
    with writing(fresh) as session:
        import_repairs(session, repairs, ["local"] * len(repairs))
        import_records(session, records, ["local"] * len(records))
    migrated, anew = content(earlier), content(fresh)
    pruned = {"w0"}
    assert anew["series"] == migrated["series"]
    assert anew["facts"] == [row for row in migrated["facts"] if row[2] != "record:w0"]
    assert anew["readings"] == [row for row in migrated["readings"] if row[3] not in pruned]
    assert anew["parts"] == [row for row in migrated["parts"] if row[0] not in pruned]
    assert any(InspectionRecord.model_validate_json(record.json()).carried for record in records)
    assert anew["lives"] == migrated["lives"]
    assert _profiles(fresh) == _profiles(earlier)


def _profiles(engine: Engine) -> list[Vehicle]:
    found = rows(engine, "SELECT profile FROM vehicle WHERE id NOT LIKE 'unit-0007%'")
    vehicles = [Vehicle.model_validate(json.loads(each) if isinstance(each, str) else each) for (each,) in found]
    return sorted(vehicles, key=lambda vehicle: vehicle.id)


def test_taken_back_it_is_as_it_was(earlier: Engine) -> None:
    kept = [
        "SELECT * FROM vehicle", "SELECT * FROM series", "SELECT * FROM reading", "SELECT * FROM fact",
        "SELECT * FROM defect", "SELECT * FROM certification", "SELECT * FROM record", "SELECT * FROM pulled_defect",
        "SELECT * FROM pulled_vehicle",
    ]  # fmt: skip
    before = [rows(earlier, query) for query in kept]
    upgrade(earlier, "0007")  # the next puts levels right, and they stay so
    downgrade(earlier, "0004")
    for query, was in zip(kept, before, strict=True):
        assert _plain(rows(earlier, query)) == _plain(was), query


def _plain(found: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """JSON as it is meant: the two databases write it with and without blanks."""
    return [
        tuple(json.loads(each) if isinstance(each, str) and each[:1] in "[{" and each else each for each in row)
        for row in found
    ]


def test_later_certifications_and_records_of_the_combination_find_its_units(tmp_path: Path) -> None:
    engine = sqlite_of_before(tmp_path)
    initialize(engine)
    key = "tire-tread@left-5-outer#worn"
    with reading(engine) as session:
        worn = next(life for life in open_lives(session, "unit-0001-trailer") if life.defect.startswith("tire"))
    given = Certification(key=key, verdict="repaired", name="M. Mechanic", at=worn.seen.replace(hour=20))
    for vehicle, of in (("unit-0001", key), ("unit-0001-trailer", "tire-tread@left-2-outer#worn")):
        with writing(engine) as session:
            import_repairs(session, [Repair(vehicle, "", given.model_copy(update={"key": of}))], ["local"])
        with reading(engine) as session:
            assert not [life for life in open_lives(session, "unit-0001-trailer") if life.defect.startswith("tire")]
    with reading(engine) as session:
        from voice.judge.load import load_limits

        history = gather(session, "unit-0001-trailer", load_limits(), worn.seen)
        assert len(history.visits) == 8
        assert {visit.beside for visit in history.visits} == {("tractor of unit 1",)}
        assert {visit.odometer for visit in history.visits} == {None}
    assert rows(engine, "SELECT DISTINCT vehicle FROM device_vehicles") == [
        ("truck-9",), ("unit-0001-tractor",), ("unit-0001-trailer",),
    ]  # fmt: skip


def test_a_depot_of_before_units_is_understood(tmp_path: Path) -> None:
    """It tells of combinations; this device's walks go by unit."""
    depot = sqlite_of_before(tmp_path)
    home = tmp_path / "device"
    walked(home, record("mine", day(60)))
    report = sync(home, open_local(home), depot)
    assert report.vehicles == ("truck-9", "unit-0001-tractor", "unit-0001-trailer")
    found = {(defect.unit, defect.key) for defect in open_defects(home, profile(1))}
    assert found == {
        ("unit-0001-trailer", "lamps@trailer-left#out"), ("unit-0001-trailer", "tire-tread@left-2-outer#worn"),
    }  # fmt: skip
