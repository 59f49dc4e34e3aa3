"""When wear reaches a limit, for all units: worked out unit by unit as records come in, and kept in the desk's file.

A unit takes some 100 ms, so a page could not do it for a fleet. What is kept is the day the limit is reached, not how
many days are left: that is counted from today whenever it is shown.
"""

from __future__ import annotations

import gc
import json
import os
import signal
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

from sqlalchemy import select

from voice.desk.data.wears import limits_mark, mark_of, wears_of
from voice.desk.page import Desk
from voice.desk.store import Store
from voice.errors import GladhandError, tell
from voice.judge.limit import LimitSet
from voice.judge.load import limits_of
from voice.logbook.access import opened
from voice.logbook.database import reading
from voice.logbook.schema import RecordRow, RecordUnitRow, VehicleRow
from voice.logbook.trends import place_words
from voice.logbook.wear import Reach
from voice.measure.telling import quantity_name

FURTHEST = timedelta(days=90)
BACK = 100  # records looked at once more: of two that came in at once the later number may be seen first
EACH = 10.0  # seconds between two looks


@dataclass(frozen=True, slots=True)
class Ahead:
    """A limit that is reached soon.

    what: the position and what is measured there.
    limit: in print.
    reached: by the rate seen so far; where it is reached already, the day of the last reading.
    """

    what: str
    limit: str
    reached: datetime
    beyond: bool = False

    def days(self, now: datetime) -> int:
        """Whole days from now; 0: today or before."""
        return max(0, round((self.reached - now).total_seconds() / 86_400))


@lru_cache(maxsize=4)
def _limits(home: Path, _minute: str) -> LimitSet:
    return limits_of(home, datetime.now(UTC).astimezone().date())


def limits_now(home: Path) -> LimitSet:
    """The limits in force today; a file that was changed counts within a minute."""
    return _limits(home, f"{datetime.now(UTC):%Y%m%d%H%M}")


def ahead_of_all(store: Store, now: datetime, within: timedelta) -> dict[str, tuple[Ahead, ...]]:
    """By unit, the soonest first: what is reached within so long, or is reached already."""
    with store.reading() as connection:
        rows = connection.execute("SELECT unit, ahead FROM forecast WHERE ahead <> '[]'").fetchall()
    last = now + within
    found = {unit: tuple(each for each in _read(text) if each.reached <= last) for unit, text in rows}
    return {unit: soon for unit, soon in found.items() if soon}


@lru_cache(maxsize=10_000)  # with each record that comes in all are asked for, and one or two are others
def _read(text: str) -> tuple[Ahead, ...]:
    every = [Ahead(e["what"], e["limit"], datetime.fromisoformat(e["reached"]), e["beyond"]) for e in json.loads(text)]
    return tuple(sorted(every, key=lambda each: each.reached))


def work_out(desk: Desk, ended: Callable[[], bool] = lambda: False) -> int:
    """The forecasts of all units that have new records, or of all if the limits changed. Returns how many units.

    ended: asked after each unit; True: no more.
    """
    limits = limits_now(desk.home)
    mark = limits_mark(limits)
    with desk.store.reading() as connection:
        kept = dict(connection.execute("SELECT name, value FROM kept").fetchall())
    since = int(kept.get("forecast-records", 0)) if kept.get("forecast-limits") == mark else 0
    with reading(desk.engine) as session:
        last = session.scalar(select(RecordRow.key).order_by(RecordRow.key.desc()).limit(1)) or 0
        if last == since:
            return 0
        query = select(VehicleRow.id)
        if since:
            query = query.join(RecordUnitRow, RecordUnitRow.vehicle == VehicleRow.key)
            query = query.where(RecordUnitRow.record > since - BACK)
        units = list(session.scalars(query.distinct()))
    for unit in units:
        _work_out(desk, unit, limits)
        if ended():
            return 0
    with desk.store.writing(sure=False) as connection:
        connection.executemany(
            "INSERT OR REPLACE INTO kept VALUES (?, ?)", [("forecast-records", str(last)), ("forecast-limits", mark)]
        )
    return len(units)


def _work_out(desk: Desk, unit: str, limits: LimitSet) -> None:
    now = datetime.now(UTC)
    with reading(desk.engine) as session:
        wears = wears_of(desk.store, session, mark_of(session, unit, limits), limits)
    found = []
    for wear in wears:
        if wear.bound is None or wear.trend is None:
            continue
        what = f"{place_words(wear)}: {quantity_name(wear.series.quantity)}"
        if wear.ahead == "beyond":
            found.append(Ahead(what, wear.bound.printed, wear.trend.until, True))
        elif isinstance(wear.ahead, Reach):
            found.append(Ahead(what, wear.bound.printed, now + timedelta(days=min(wear.ahead.days, 36_500))))
    soon = [asdict(each) | {"reached": each.reached.isoformat()} for each in found
            if each.reached <= now + FURTHEST]  # fmt: skip
    with desk.store.writing(sure=False) as connection:
        connection.execute("INSERT OR REPLACE INTO forecast VALUES (?, ?)", (unit, json.dumps(soon)))


class Outlook:
    """Works forecasts out beside the pages, until the block ends.

    In a process of its own: in a thread of this one each page would wait for the interpreter.
    """

    def __init__(self, desk: Desk) -> None:
        context = get_context("spawn")  # a copy of this process would share its database connections
        self._ours, self._theirs = context.Pipe()
        self._process = context.Process(
            target=_beside, args=(self._theirs, desk.home, desk.depot), name="outlook", daemon=True
        )

    def __enter__(self) -> Outlook:
        self._process.start()
        self._theirs.close()
        return self

    def __exit__(self, *_: object) -> None:
        self._ours.close()  # which the other side sees, however this process ends
        self._process.join()


def _beside(pages: Connection, home: Path, depot: bool) -> None:
    """pages: its other end is closed when the desk is."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C ends the desk, and that ends this
    if hasattr(os, "nice"):
        os.nice(10)  # pages come first
    # A unit is thousands of readings that are gone at once: to look for cycles among them is a tenth of the work.
    gc.set_threshold(50_000, *gc.get_threshold()[1:])
    told = ""
    while not _closed(pages, 0):
        try:
            with closing(Store(home)) as store, opened(home, lambda _: None, depot=depot, fill=False) as engine:
                while not _closed(pages, 0):
                    work_out(Desk(home, store, engine, depot), lambda: _closed(pages, 0))
                    told = ""
                    _closed(pages, EACH)
        except GladhandError as error:
            if str(error) != told:  # once, not every ten seconds
                tell(error)
            told = str(error)
            _closed(pages, EACH)


def _closed(pages: Connection, within: float) -> bool:
    """Whether the other end is, or becomes so within so many seconds."""
    try:
        return pages.poll(within)
    except OSError:  # as Windows says it
        return True
