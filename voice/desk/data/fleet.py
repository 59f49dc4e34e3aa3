"""All units at a glance: what is open, overdue, foretold. Worked out once for each version of the logbook."""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import NamedTuple

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from voice.desk.data.certifying import pending
from voice.desk.data.outlook import BACK, Ahead, ahead_of_all
from voice.desk.page import Desk
from voice.logbook.database import reading
from voice.logbook.schema import DefectRow, RecordRow, RecordUnitRow, VehicleRow
from voice.measure.level import Level
from voice.record.repairs import Withdrawal

FORTNIGHT = timedelta(days=14)
UNSEEN = timedelta(days=7)  # since the last inspection. No source: a unit that stands still needs none.


class Open(NamedTuple):
    """An open defect.

    driven: whether the unit was inspected again since, so it seems to have been driven without the certification that
        49 CFR 396.11(a)(3)(i) asks for before it is driven again.
    """

    defect: str
    title: str
    level: Level
    opened: datetime
    said_repaired: bool
    driven: bool


@dataclass(frozen=True)
class Unit:
    """A unit and what is to be known of it today.

    last: when it was last inspected, None if it never was.
    open: the worst and oldest first.
    ahead: limits that wear reaches within two weeks, or has reached.
    """

    id: str
    name: str
    last: datetime | None
    open: tuple[Open, ...] = ()
    ahead: tuple[Ahead, ...] = ()
    unseen: bool = False

    @cached_property
    def level(self) -> Level:
        return max((defect.level for defect in self.open), default=Level.WITHIN)

    @cached_property
    def driven(self) -> tuple[Open, ...]:
        return tuple(defect for defect in self.open if defect.driven)


@dataclass(frozen=True)
class Fleet:
    """All units; each list is made once, as the pages of many readers ask for it several times.

    units: those with open defects first, by the worst of these, then by the oldest; the others by id.
    """

    version: str
    made: datetime
    units: tuple[Unit, ...]

    @cached_property
    def by_id(self) -> list[Unit]:
        return sorted(self.units, key=lambda unit: unit.id)

    @cached_property
    def open(self) -> list[Unit]:
        return [unit for unit in self.units if unit.open]

    @cached_property
    def driven(self) -> list[Unit]:
        return [unit for unit in self.open if unit.driven]

    @cached_property
    def unseen(self) -> list[Unit]:
        """The longest unseen first."""
        never = datetime.fromtimestamp(0, UTC)
        return sorted((unit for unit in self.units if unit.unseen), key=lambda unit: (unit.last or never, unit.id))

    @cached_property
    def wearing(self) -> list[Unit]:
        return sorted((unit for unit in self.units if unit.ahead), key=lambda unit: (unit.ahead[0].reached, unit.id))


_one = threading.Lock()
_kept: dict[str, Fleet] = {}  # by the logbook's address
_seen: dict[str, tuple[int, dict[int, datetime]]] = {}  # likewise: the last record looked at, and by unit when
_LONGEST = timedelta(minutes=5)  # what is overdue changes with the clock, too


def fleet(desk: Desk, version: str) -> Fleet:
    """As of this version of the logbook. Many readers at once share one answer."""
    with _one:
        known = _kept.get(str(desk.engine.url))
        now = datetime.now(UTC)
        if known is None or known.version != version or now - known.made > _LONGEST:
            with reading(desk.engine) as session:
                known = _kept[str(desk.engine.url)] = Fleet(version, now, tuple(_units(desk, session, now)))
        return known


def _units(desk: Desk, session: Session, now: datetime) -> Sequence[Unit]:
    rows = session.execute(select(VehicleRow.key, VehicleRow.id, VehicleRow.name)).all()
    lasts = _last_seen(desk, session)
    found: dict[int, list[Open]] = defaultdict(list)
    query = select(
        DefectRow.vehicle, DefectRow.defect, DefectRow.title, DefectRow.level, DefectRow.opened, DefectRow.said_repaired
    ).where(DefectRow.closed.is_(None))
    for vehicle, defect, title, level, opened, said in session.execute(query):
        # A record's defects are found when it ends, so one that began later is another walk.
        driven = level >= Level.REPAIR and vehicle in lasts and lasts[vehicle] > opened
        found[vehicle].append(Open(defect, title, Level(level), opened, said is not None, driven))
    given = {
        (repair.vehicle, repair.certification.key)
        for repair in pending(desk, session)
        if not isinstance(repair.certification, Withdrawal)
    }
    ahead = ahead_of_all(desk.store, now, FORTNIGHT)
    units = []
    for key, id, name in rows:
        at = lasts.get(key)
        waiting = [each for each in found.get(key, ()) if (id, each.defect) not in given]
        waiting.sort(key=lambda each: (-each.level, each.opened, each.defect))
        unseen = at is None or now - at > UNSEEN
        units.append(Unit(id, name, at, tuple(waiting), ahead.get(id, ()), unseen))
    return sorted(units, key=lambda unit: (not unit.open, -unit.level, _oldest(unit), unit.id))


def _last_seen(desk: Desk, session: Session) -> dict[int, datetime]:
    """When each unit was last inspected, by its key. To ask it of all records takes seconds at a million: once, then of
    the new ones."""
    address = str(desk.engine.url)
    since, known = _seen.get(address, (0, {}))
    query = (
        select(RecordUnitRow.vehicle, func.max(RecordRow.started), func.max(RecordRow.key))
        .join(RecordRow, RecordRow.key == RecordUnitRow.record)
        .group_by(RecordUnitRow.vehicle)
    )
    if since:
        query = query.where(RecordUnitRow.record > since - BACK)
    for vehicle, started, record in session.execute(query):
        known[vehicle] = max(started, known.get(vehicle, started))
        since = max(since, record)
    _seen[address] = (since, known)
    return known


def _oldest(unit: Unit) -> datetime:
    return min((each.opened for each in unit.open), default=datetime.fromtimestamp(0, UTC))
