"""Fills a logbook with many made-up inspections at once, by the databases' bulk ways and not through the import.

Each vehicle is one unit with the five axles of a combination, so that figures compare with those of before there were
units, and 59 series: 21 readings at every walk (tire pressures, timed checks) and 38
more (tread, lining, stroke) at every seventh, 26 on average. Rows go in as they would arrive in time: day after day
over all vehicles, so a vehicle's rows lie scattered; the last walks are of yesterday, so that forecasts are of today.
Records' full texts are left out (see RESULTS.md).
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Engine, insert, text

from tests.logbook.invented import Wearing, profile, truck
from voice.logbook.database import writing
from voice.logbook.schema import DefectRow, FactRow, SeriesRow, VehicleRow
from voice.measure.level import Level
from voice.record.lives import Fact, lives

DAYS = 250
START = datetime.now(UTC).replace(hour=6, minute=0, second=0, microsecond=0) - timedelta(days=DAYS)
_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)  # of PostgreSQL's binary times
RARE = ("tire-tread", "lining-thickness", "pushrod-stroke")
_ABOUT = ("record", "vehicle", "level", "defects")
FAULTS = (
    "horn#not-working",
    "wipers#worn",
    "headlamp#lamp-out",
    "mud-flap#missing",
    "air-lines#chafed",
    "fuel-tank#leaking",
)
_ROW = np.dtype(
    [("n", ">i2")]
    + [
        field
        for name, kind, size in (
            ("series", ">i8", 8), ("record", ">i8", 8), ("nth", ">i2", 2), ("at", ">i8", 8), ("odometer", ">f8", 8),
            ("value", ">f8", 8),
        )
        for field in ((f"{name}_size", ">i4"), (name, kind))
    ]
)  # fmt: skip
_SIZES = {"series": 8, "record": 8, "nth": 2, "at": 8, "odometer": 8, "value": 8}


@contextmanager
def without_key(engine: Engine) -> Iterator[None]:
    """On PostgreSQL, the readings' key is made anew after the block at once: several times as fast as row by row."""
    if engine.name != "postgresql":
        yield
        return
    with engine.begin() as connection:
        connection.execute(text("ALTER TABLE reading DROP CONSTRAINT pk_reading"))
    yield
    with engine.begin() as connection:
        connection.execute(text("SET LOCAL maintenance_work_mem = '1GB'"))
        connection.execute(text("ALTER TABLE reading ADD CONSTRAINT pk_reading PRIMARY KEY (series, record, nth)"))
    with engine.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
        connection.execute(text("VACUUM ANALYZE"))
        connection.execute(text("CHECKPOINT"))


def fill(engine: Engine, first: int, count: int, seed: int = 0) -> int:
    """Vehicles first ... first + count - 1 with DAYS walks each. Returns the number of readings."""
    rng = np.random.default_rng([seed, first])
    vehicles = range(first, first + count)
    base = first * 10_000_000  # leaves room below for what is imported between two fillings
    with writing(engine) as session:
        session.execute(
            insert(VehicleRow),
            [
                {"key": base + n, "id": f"bulk-{n}", "name": f"bulk {n}", "profile_at": START,
                 "profile": {**profile(n).model_dump(mode="json"), "id": f"bulk-{n}"}}
                for n in vehicles
            ],
        )  # fmt: skip
    pattern = truck(1).wearing
    width = len(pattern)
    with writing(engine) as session:
        for start in range(0, count, 500):
            session.execute(
                insert(SeriesRow),
                [_series(base, n, slot, wearing, width) for n in vehicles[start : start + 500]
                 for slot, wearing in enumerate(pattern)],
            )  # fmt: skip
    odometer = rng.uniform(50_000, 400_000, count)
    a_day = rng.uniform(250, 550, count)
    fresh = np.array([w.fresh for w in pattern])
    room = np.array([abs(w.fresh - w.until) if w.rate else 1.0 for w in pattern])
    rate = np.array([w.rate for w in pattern]) * rng.uniform(0.6, 1.5, (count, width))
    worn = rng.uniform(0, 1, (count, width)) * room
    step = np.array([float(w.step) for w in pattern])
    noise = np.array([w.noise for w in pattern])
    often = np.array([w.item not in RARE for w in pattern])
    total = 0
    rows = _Writer(engine)
    for day in range(DAYS):
        at = START + timedelta(days=day)
        record_keys = np.array([base + (n - 1) * DAYS + day + 1 for n in vehicles])
        miles = odometer + a_day * day
        rows.records(base, record_keys, vehicles, at, miles, rng)
        taken = often if day % 7 else np.ones(width, dtype=bool)
        wear = (worn + np.abs(rate) * (a_day * day)[:, None]) % room
        values = fresh + np.sign(rate) * wear + rng.normal(0, 1, (count, width)) * noise
        values = np.maximum(0, np.round(values / step) * step)[:, taken]
        series = base + ((np.array(vehicles) - 1) * width)[:, None] + np.flatnonzero(taken)[None, :] + 1
        many = int(taken.sum())
        rows.readings(series.ravel(), np.repeat(record_keys, many), at, np.repeat(miles, many), values.ravel())
        total += count * many
    rows.close()
    _defects(engine, base, vehicles, seed)
    return total


def _series(base: int, vehicle: int, slot: int, wearing: Wearing, width: int) -> dict[str, object]:
    item, _, place = wearing.id.partition("@")
    return {
        "key": base + (vehicle - 1) * width + slot + 1, "vehicle": base + vehicle, "item": item, "place": place,
        "quantity": wearing.quantity, "name": "", "unit": wearing.unit, "title": item, "spoken": wearing.spoken,
        "position": wearing.place.model_dump(exclude_none=True),
    }  # fmt: skip


class _Writer:
    """Records and readings, by COPY in binary form or by SQLite's executemany, all in one transaction."""

    def __init__(self, engine: Engine) -> None:
        self.postgres = engine.name == "postgresql"
        self.connection = engine.execution_options(writing=True).connect()
        self.raw = self.connection.connection.cursor()
        if self.postgres:
            self.raw.execute("SET LOCAL session_replication_role = replica")  # what is made here need not be looked up
        else:
            self.raw.execute("BEGIN IMMEDIATE")

    def records(
        self, base: int, keys: NDArray[np.int64], vehicles: range, at: datetime, miles: NDArray[np.float64],
        rng: np.random.Generator,
    ) -> None:  # fmt: skip
        sections = [
            ["cab", "In the cab", 61.0, 9],
            ["left", "Left side", 243.5, 32],
            ["right", "Right side", 231.0, 32],
        ]
        columns = (
            "key", "id", "sha256", "vehicle", "route", "driver", "device", "started", "ended", "odometer", "level",
            "defects", "sections",
        )  # fmt: skip
        rows = []
        for key, vehicle, mile in zip(keys.tolist(), vehicles, miles.tolist(), strict=True):
            started = at + timedelta(minutes=float(rng.uniform(0, 90)))
            rows.append(
                (key, f"{at:%Y%m%d}-{vehicle}", f"{key:064x}", base + vehicle, "invented", "A. Sample",
                 f"cab-{vehicle % 97}", started, started + timedelta(minutes=14), mile, 0, 0, json.dumps(sections))
            )  # fmt: skip
        about = [(row[0], row[3], 0, 0) for row in rows]
        if self.postgres:
            for table, names, filled in (("record", columns, rows), ("record_unit", _ABOUT, about)):
                with self.raw.copy(f"COPY {table} ({', '.join(names)}) FROM STDIN") as copy:
                    for row in filled:
                        copy.write_row(row)
        else:
            rows = [(*row[:7], *(str(when.replace(tzinfo=None)) for when in row[7:9]), *row[9:]) for row in rows]
            marks = ", ".join("?" * (len(columns) + 1))
            now = str(START.replace(tzinfo=None))
            self.raw.executemany(
                f"INSERT INTO record ({', '.join(columns)}, imported) VALUES ({marks})", [(*row, now) for row in rows]
            )
            self.raw.executemany(f"INSERT INTO record_unit ({', '.join(_ABOUT)}) VALUES (?, ?, ?, ?)", about)

    def readings(
        self, series: NDArray[np.int64], records: NDArray[np.int64], at: datetime, miles: NDArray[np.float64],
        values: NDArray[np.float64],
    ) -> None:  # fmt: skip
        if not self.postgres:
            when = str(at.replace(tzinfo=None))
            self.raw.executemany(
                "INSERT INTO reading (series, record, nth, at, odometer, value) VALUES (?, ?, 0, ?, ?, ?)",
                [(s, r, when, m, v) for s, r, m, v in zip(
                    series.tolist(), records.tolist(), miles.tolist(), values.tolist(), strict=True
                )],
            )  # fmt: skip
            return
        rows = np.zeros(series.size, dtype=_ROW)
        rows["n"] = 6
        for name, size in _SIZES.items():
            rows[f"{name}_size"] = size
        rows["series"], rows["record"], rows["odometer"], rows["value"] = series, records, miles, values
        rows["at"] = int((at - _EPOCH).total_seconds() * 1_000_000)
        statement = "COPY reading (series, record, nth, at, odometer, value) FROM STDIN (FORMAT BINARY)"
        with self.raw.copy(statement) as copy:
            copy.write(b"PGCOPY\n\xff\r\n\x00" + bytes(8) + rows.tobytes() + b"\xff\xff")

    def close(self) -> None:
        self.connection.connection.driver_connection.commit()  # type: ignore[union-attr]
        self.connection.close()


def _histories(vehicle: int, rng: random.Random) -> Iterator[tuple[list[Fact], str]]:
    """Defects of one vehicle: found, seen again on some days, certified; the last ones are still open."""
    for fault in FAULTS:
        day, said = 0, []
        while (day := day + int(rng.expovariate(1 / 75)) + 1) < DAYS:
            for later in range(rng.randint(1, 5)):
                if day + later < DAYS:
                    at = START + timedelta(days=day + later, hours=1)
                    kind = "still-there" if later else "found"
                    source = f"record:{at:%Y%m%d}-{vehicle}"
                    level = None if later else Level(rng.choice((1, 2, 2, 3)))
                    said.append(Fact(fault, kind, source, at, fault.replace("#", ": "), level, "A. Sample"))  # type: ignore[arg-type]
            day += later
            if day < DAYS - 3:
                at = START + timedelta(days=day, hours=14)
                source = f"certification:{vehicle}-{fault}-{day}"
                said.append(Fact(fault, "certified-repaired", source, at, "", None, "M. Mechanic"))
        if said:
            yield said, fault


def _defects(engine: Engine, base: int, vehicles: range, seed: int) -> None:
    rng = random.Random(f"{seed}/{vehicles.start}")
    facts: list[dict[str, object]] = []
    rows: list[dict[str, object]] = []
    for vehicle in vehicles:
        for said, _ in _histories(vehicle, rng):
            facts += [
                {"vehicle": base + vehicle, "defect": f.defect, "source": f.source, "kind": f.kind, "at": f.at,
                 "level": None if f.level is None else int(f.level), "title": f.title, "by": f.by}
                for f in said
            ]  # fmt: skip
            for life in lives(said):
                row = {name: getattr(life, name) for name in life.__slots__ if name != "said"}
                rows.append({**row, "vehicle": base + vehicle, "level": int(life.level)})
    from voice.logbook.insert import insert_many

    with writing(engine) as session:
        insert_many(session, FactRow, facts)
        insert_many(session, DefectRow, rows)
