"""The wear of one unit without working it out for each page: it is kept in the desk's file, with the points drawn.

To read all values of a unit and fit a line through each series takes some 100 ms of processor time. So it is done once
and kept until something of the unit, or a limit, changes.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from pydantic import ConfigDict, TypeAdapter, ValidationError
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from voice.desk.page import RefusedError
from voice.desk.store import Store
from voice.judge.limit import LimitSet
from voice.logbook.schema import FactRow, RecordUnitRow, VehicleRow
from voice.logbook.trends import Wear, vehicle_wear
from voice.logbook.wear import Reach

POINTS = 40  # of each series: as many as a plot shows
# An interval without end is told in a word: JSON has no number for it.
_WEARS: TypeAdapter[list[Wear]] = TypeAdapter(list[Wear], config=ConfigDict(ser_json_inf_nan="strings"))


@dataclass(frozen=True, slots=True)
class Mark:
    """A unit as it stands in the logbook.

    text: another as soon as anything of the unit or the limits is.
    records: how many are about it.
    """

    unit: str
    key: int
    name: str
    text: str
    records: int


def mark_of(session: Session, unit: str, limits: LimitSet) -> Mark:
    """Raises RefusedError for a unit that is not known."""
    of = RecordUnitRow.vehicle == VehicleRow.key
    row = session.execute(
        select(
            VehicleRow.key,
            VehicleRow.name,
            select(func.count()).select_from(RecordUnitRow).where(of).scalar_subquery(),
            select(func.max(RecordUnitRow.record)).where(of).scalar_subquery(),
            select(func.count()).select_from(FactRow).where(FactRow.vehicle == VehicleRow.key).scalar_subquery(),
        ).where(VehicleRow.id == unit)
    ).one_or_none()
    if row is None:
        raise RefusedError(404, "nothing-here")
    key, name, records, last, facts = row
    return Mark(unit, key, name, f"{records} {last} {facts} {limits_mark(limits)}", records)


def limits_mark(limits: LimitSet) -> str:
    # The number in front: of the way they are worked out and kept, so that an earlier version's are made anew.
    return "3 " + " ".join(layer.sha256[:16] for layer in limits.layers)


def wears_of(store: Store, session: Session, mark: Mark, limits: LimitSet) -> list[Wear]:
    """Each series of the unit: its latest points, with the fit through all of them. Forecasts count from now."""
    with store.reading() as connection:
        query = "SELECT at, body FROM wear WHERE unit = ? AND mark = ?"
        row = connection.execute(query, (mark.unit, mark.text)).fetchone()
    now = datetime.now(UTC)
    if row is not None:
        try:
            kept = _WEARS.validate_json(zlib.decompress(row[1]))
        except (ValidationError, zlib.error):
            kept = []
        gone = (now - datetime.fromisoformat(row[0])).total_seconds() / 86_400
        if kept:
            return [_later(wear, gone) for wear in kept]
    found = vehicle_wear(session, mark.unit, limits, now)
    wears = [replace(wear, series=replace(wear.series, points=wear.series.points[-POINTS:])) for wear in found]
    keep(store, mark, now, wears)
    return wears


def keep(store: Store, mark: Mark, now: datetime, wears: Sequence[Wear]) -> None:
    """now: what the forecasts count from."""
    row = (mark.unit, mark.text, now.isoformat(), zlib.compress(_WEARS.dump_json(list(wears)), 3))
    with store.writing(sure=False) as connection:
        connection.execute("INSERT OR REPLACE INTO wear VALUES (?, ?, ?, ?)", row)


def _later(wear: Wear, gone: float) -> Wear:
    """The same, its forecast counted from so many days later."""
    ahead = wear.ahead
    if not isinstance(ahead, Reach):
        return wear
    days = (ahead.days - gone, ahead.days_soonest - gone, ahead.days_latest - gone)
    return replace(wear, ahead=replace(ahead, days=days[0], days_soonest=days[1], days_latest=days[2]))
