"""Rows handed in at a depot: hostile but correctly signed, unsigned, forged, huge, doubled, of the wrong kind."""

from __future__ import annotations

import copy
import json
import random
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, func, select

from tests.attack.run import Case
from tests.logbook.data import (
    DAY0,
    as_bytes,
    certification,
    content_of,
    defect,
    inbox_row,
    record,
    signed_bytes,
    signed_line,
    still,
    tread,
)
from tests.logbook.pg import binaries, cluster, new_depot
from voice.logbook.database import open_engine, reading, writing
from voice.logbook.depot import absorb
from voice.logbook.insert import insert_new
from voice.logbook.schema import InboxRow, RecordRow
from voice.record.device import DeviceKey, device_key

ABOUT = "rows in a depot's inbox: absorb never fails, and others' good rows come in exactly once"
SHARE = 12
HORN = defect("horn#not-working", "halt")

TIMES = (
    "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-03-02T06:00:00", "1969-01-01T00:00:00Z", "", 0,
    "2199-12-31T00:00:00Z", "2026-13-45T00:00:00Z", -1e18, "2026-03-02T06:00:00+23:59",
)  # fmt: skip
TEXTS = (
    "", "\0", "a\0b", "\ud800", "\U0010ffff" * 50, "k" * 300, "é" * 2_000, "k" * 9_000, "k" * 2_000_000, "../x", "\n",
    "'; --", "%s", "{0}", "\u202e", "1/0", "nan", "inf", "1e99999999", "9" * 5_000, "-1/-1", "0x10", "1_000", "٣",
)  # fmt: skip
NUMBERS = (0, -1, 2**31, 2**63, 10**30, 1e308, -1e308, 5e-324, float("inf"), float("nan"), True, 1.5)
# Names of fields that become a column of some table: a change there gets further.
STORED = frozenset(
    [
        "id",
        "name",
        "driver",
        "route",
        "started",
        "ended",
        "at",
        "decimal",
        "value",
        "quantity",
        "key",
        "title",
        "item",
        "step",
        "spoken_place",
        "unit",
        "answer",
        "remark",
        "vehicle",
        "seconds",
    ]
)
OTHERS: tuple[Any, ...] = (None, [], {}, [[]] * 3, {"a": {"b": None}}, json.loads("[" * 300 + "]" * 300))


def _leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    steps = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    yield path
    for step, inner in steps:
        yield from _leaves(inner, (*path, step))


def _changed(content: Any, rng: random.Random) -> None:
    """One place of the content, anywhere, holds something else."""
    paths = [path for path in _leaves(content) if path]
    stored = [path for path in paths if path[-1] in STORED]
    path = rng.choice(stored if rng.random() < 0.6 else paths)
    inner = content
    for step in path[:-1]:
        inner = inner[step]
    old = inner[path[-1]]
    pools: list[tuple[Any, ...]] = [TIMES, TEXTS, NUMBERS, OTHERS]
    if rng.random() < 0.7:  # something of the same kind gets further
        pools = [(*TEXTS, *TIMES)] if isinstance(old, str) else [NUMBERS] if isinstance(old, int | float) else [OTHERS]
    if isinstance(old, list) and old and rng.random() < 0.3:
        inner[path[-1]] = old * rng.choice((2, 200, 20_000 if len(json.dumps(old)) < 600 else 3))
    else:
        inner[path[-1]] = copy.deepcopy(rng.choice(rng.choice(pools)))  # it is changed in its turn


class _Depot:
    """A depot with two devices it trusts and one it does not; cases put rows in its inbox."""

    def __init__(self, engine: Engine, folder: Path) -> None:
        self.engine = engine
        self.cab, self.other, self.stranger = (device_key(folder / name) for name in ("cab", "other", "stranger"))
        self.trusted = {key.name: key.public for key in (self.cab, self.other)}

    def tried(self, number: int, rng: random.Random) -> str | None:
        expected: list[str] = []
        rows: list[InboxRow] = []
        for place in range(rng.randint(3, 8)):
            id = f"c{number}-{place}"
            at = DAY0 + timedelta(minutes=10 * number + place)
            if rng.random() < 0.35:
                made = record(id, at, defects=[HORN], readings=[tread("9/32")], driver="G. Good")
                body = zlib.compress(as_bytes(self.other.sign(made)))
                rows.append(inbox_row(body, device="other", received=at))
                expected.append(id)
                if rng.random() < 0.3:  # handed in by a second device too
                    rows.append(inbox_row(body, device="third", received=at))
            else:
                body, kind = self._hostile(f"bad-{id}", at, rng)
                if len(body) <= 2 * 1024 * 1024:
                    rows.append(inbox_row(body, kind=kind, received=at))
        rng.shuffle(rows)
        with writing(self.engine) as session:
            names = ("device", "sha256", "kind", "body", "received")
            insert_new(session, InboxRow, [{name: getattr(row, name) for name in names} for row in rows])
        absorb(self.engine, self.trusted)
        with reading(self.engine) as session:
            left = session.scalar(select(func.count()).select_from(InboxRow).where(InboxRow.done.is_(None)))
            good = session.scalars(select(RecordRow.id).where(RecordRow.id.in_(expected))).all()
        if left:
            return f"{left} rows still wait"
        if sorted(good) != sorted(expected):
            return f"of {expected} came in {good}"
        return None

    def _hostile(self, id: str, at: Any, rng: random.Random) -> tuple[bytes, str]:
        kind = rng.choice(["record", "record", "record", "repair"])
        key = rng.choice([self.cab, self.cab, self.cab, self.stranger])
        text = self._record(id, at, key, rng) if kind == "record" else self._line(id, at, key, rng)
        ways: list[Callable[[], bytes]] = [
            lambda: zlib.compress(text),
            lambda: zlib.compress(text)[: rng.randint(0, 200)],
            lambda: text,
            lambda: rng.randbytes(rng.randint(0, 3000)),
            lambda: zlib.compress(bytes(rng.choice((5, 200)) * 1024 * 1024)),
            lambda: zlib.compress(text.replace(b'"id"', b'"id": "x", "id"')),
            lambda: zlib.compress(b"\xff\xfe" + text),
            lambda: zlib.compress(text * 2),
        ]
        body = ways[0]() if rng.random() < 0.75 else rng.choice(ways)()
        return body, kind if rng.random() < 0.95 else rng.choice(["record", "repair"])

    def _record(self, id: str, at: Any, key: DeviceKey, rng: random.Random) -> bytes:
        first = record("first", at)
        made = record(
            id, at, defects=[HORN], carried=[still(HORN, first)], readings=[tread("9/32"), tread("8/32")], odometer=100,
            certifications=[certification(HORN.key, at)],
        )  # fmt: skip
        content = content_of(made)
        for _ in range(rng.randint(0, 3)):
            _changed(content, rng)
        return signed_bytes(content, key) if rng.random() < 0.95 else json.dumps(content).encode()

    def _line(self, id: str, at: Any, key: DeviceKey, rng: random.Random) -> bytes:
        content = {
            "previous": "0" * 64,
            "vehicle": "unit-0001",
            "record": id,
            "certification": certification(HORN.key, at).model_dump(mode="json"),
        }
        for _ in range(rng.randint(0, 2)):
            _changed(content, rng)
        return signed_line(content, key)


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    if binaries() is None:
        pytest.skip("PostgreSQL is not installed (apt install postgresql)")
    with cluster(fsync="off", log_statement="'none'") as server:
        engine = open_engine(new_depot(server, "depot"))
        yield _Depot(engine, folder).tried
        engine.dispose()
