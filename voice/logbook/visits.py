"""The inspections of one unit, with what they were made together with, and which stretches of them were quick."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from statistics import median

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from voice.logbook.schema import ReadingRow, RecordRow, RecordUnitRow, SeriesRow, VehicleRow
from voice.logbook.wording import words
from voice.measure.level import Level


@dataclass(frozen=True, slots=True)
class Stretch:
    """One section of one walk.

    usual: median seconds of this section on the same route, None with too few walks.
    """

    id: str
    title: str
    seconds: float
    entries: int
    usual: float | None = None
    rushed: bool = False


@dataclass(frozen=True, slots=True)
class Inspection:
    """One inspection.

    kind: the title of its kind, or its id; None where the record does not say.
    odometer: the unit's own, miles.
    level, defects: of this unit alone.
    seconds: of inspecting, as the report has it; from start to end where no section says how long it took. None if it
        has no end.
    beside: names of the other units that were inspected with it.
    removed: its text was pruned.
    """

    id: str
    route: str
    kind: str | None
    at: datetime
    driver: str | None
    odometer: float | None
    level: Level
    defects: int
    seconds: float | None
    stretches: tuple[Stretch, ...]
    removed: bool
    beside: tuple[str, ...] = ()

    @property
    def rushed(self) -> tuple[Stretch, ...]:
        return tuple(stretch for stretch in self.stretches if stretch.rushed)


def visits_of(session: Session, unit: int, *, latest: int | None = None) -> tuple[Inspection, ...]:
    """The inspections that a unit was part of, oldest first.

    unit: its key.
    latest: only so many.
    """
    query = (
        select(RecordRow, RecordUnitRow.level, RecordUnitRow.defects)
        .join(RecordUnitRow, RecordUnitRow.record == RecordRow.key)
        .where(RecordUnitRow.vehicle == unit)
        .order_by(RecordRow.started.desc(), RecordRow.id.desc())
    )
    records = session.execute(query if latest is None else query.limit(latest)).all()
    beside = _beside(session, unit, None if latest is None else [row.key for row, _, _ in records])
    read = _read_behind(session, unit) if any(row.vehicle != unit for row, _, _ in records) else {}
    made = []
    for row, level, defects in reversed(records):
        odometer = row.odometer if row.vehicle == unit else read.get(row.key)
        made.append(_visit(row, odometer, Level(level), defects, beside.get(row.key, ())))
    return tuple(_with_usual(made))


def _read_behind(session: Session, unit: int) -> dict[int, float]:
    """By record, the hubodometer of a trailer: it stands with each of its readings, and a record without has none."""
    query = (
        select(ReadingRow.record, func.max(ReadingRow.odometer))
        .join(SeriesRow, SeriesRow.key == ReadingRow.series)
        .where(SeriesRow.vehicle == unit)
        .group_by(ReadingRow.record)
    )
    return {record: odometer for record, odometer in session.execute(query) if odometer is not None}


def _beside(session: Session, unit: int, records: Sequence[int] | None) -> dict[int, tuple[str, ...]]:
    """By record, the names of the units that were inspected together with this one.

    records: only of these.
    """
    own = select(RecordUnitRow.record).where(RecordUnitRow.vehicle == unit) if records is None else records
    found: dict[int, tuple[str, ...]] = {}
    for record, name in session.execute(
        select(RecordUnitRow.record, VehicleRow.name)
        .join(VehicleRow, VehicleRow.key == RecordUnitRow.vehicle)
        .where(RecordUnitRow.record.in_(own), RecordUnitRow.vehicle != unit)
        .order_by(VehicleRow.name)
    ):
        found[record] = (*found.get(record, ()), name)
    return found


def _visit(row: RecordRow, odometer: float | None, level: Level, defects: int, beside: tuple[str, ...]) -> Inspection:
    stretches = tuple(Stretch(*section) for section in row.sections)
    worked = sum(stretch.seconds for stretch in stretches)
    seconds = None if row.ended is None else worked or (row.ended - row.started).total_seconds()
    return Inspection(
        row.id, row.route, row.kind_title or row.kind, row.ended or row.started, row.driver, odometer, level, defects,
        seconds, stretches, row.pruned is not None, beside,
    )  # fmt: skip


def _with_usual(visits: Sequence[Inspection]) -> list[Inspection]:
    """The usual time of each section, by route, and which sections were walked much faster than that."""
    rule = words().rushed
    times: dict[tuple[str, str], list[float]] = defaultdict(list)
    for visit in visits:
        for stretch in visit.stretches:
            if stretch.entries:
                times[visit.route, stretch.id].append(stretch.seconds)
    usual = {key: median(seconds) for key, seconds in times.items() if len(seconds) >= rule.least}

    def judged(visit: Inspection, stretch: Stretch) -> Stretch:
        usually = usual.get((visit.route, stretch.id))
        if usually is None or not stretch.entries:
            return stretch
        fast = stretch.seconds < rule.share * usually and stretch.seconds < rule.seconds * stretch.entries
        return replace(stretch, usual=usually, rushed=fast)

    return [replace(visit, stretches=tuple(judged(visit, stretch) for stretch in visit.stretches)) for visit in visits]
