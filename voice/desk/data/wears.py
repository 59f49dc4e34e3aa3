"""The wear of one unit without working it out for each page: the fits are kept in the desk's file, the points are few.

A fit of all series takes some 100 ms of processor time, and reading all values as much again. So what was fitted is
kept until something of the unit changes, and of the values only the latest are read, as many as are drawn.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from pydantic import TypeAdapter, ValidationError
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from voice.desk.data.units import key_of
from voice.desk.store import Store
from voice.judge.limit import LimitSet
from voice.logbook.bounds import Bound
from voice.logbook.schema import FactRow, ReadingRow, RecordUnitRow, SeriesRow
from voice.logbook.trends import Series, Wear, series_from, vehicle_wear
from voice.logbook.wear import NoReach, Reach, Sample, Trend
from voice.record.model import FindingRecord

POINTS = 40  # of each series: as many as a plot shows


@dataclass(frozen=True, slots=True)
class _Fit:
    """What was worked out of one series.

    ahead: counted from the moment it was kept.
    limits, told: of the last reading, as in Wear.
    """

    series: tuple[str, str, str, str]
    trend: Trend | None
    bound: Bound | None
    ahead: Reach | NoReach | None
    limits: tuple[FindingRecord, ...] = ()
    told: int = 0


_FITS: TypeAdapter[list[_Fit]] = TypeAdapter(list[_Fit])


def mark_of(session: Session, unit: str, limits: LimitSet) -> tuple[str, int]:
    """A text that is another as soon as anything of the unit or the limits is, and how many records are about it.

    Raises RefusedError for a unit that is not known.
    """
    key = key_of(session, unit)
    records = select(func.count(), func.max(RecordUnitRow.record)).where(RecordUnitRow.vehicle == key)
    count, last = session.execute(records).one()
    facts = session.scalar(select(func.count()).select_from(FactRow).where(FactRow.vehicle == key))
    return f"{count} {last} {facts} {limits_mark(limits)}", count


def limits_mark(limits: LimitSet) -> str:
    # The number in front: of the way the fits are worked out, so that those kept by an earlier version are made anew.
    return "3 " + " ".join(layer.sha256[:16] for layer in limits.layers)


def wears_of(store: Store, session: Session, unit: str, limits: LimitSet, mark: str) -> list[Wear]:
    """Each series of the unit, its latest points with the fit through all of them. Forecasts count from now."""
    series = latest_series(session, unit)
    with store.reading() as connection:
        row = connection.execute("SELECT mark, at, body FROM wear WHERE unit = ?", (unit,)).fetchone()
    now = datetime.now(UTC)
    if row is not None and row[0] == mark:
        try:
            fits = {fit.series: fit for fit in _FITS.validate_json(zlib.decompress(row[2]))}
        except (ValidationError, zlib.error):
            fits = {}
        names = [(each.item, each.place, each.quantity, each.name) for each in series]
        if set(names) == set(fits):
            gone = (now - datetime.fromisoformat(row[1])).total_seconds() / 86_400
            return [_wear(each, fits[name], gone) for each, name in zip(series, names, strict=True)]
    wears = vehicle_wear(session, unit, limits, now)
    keep(store, unit, mark, now, wears)
    return [replace(w, series=replace(w.series, points=w.series.points[-POINTS:])) for w in wears]


def keep(store: Store, unit: str, mark: str, now: datetime, wears: Sequence[Wear]) -> None:
    """now: what the forecasts count from."""
    fits = [_Fit((w.series.item, w.series.place, w.series.quantity, w.series.name), w.trend, w.bound, w.ahead, w.limits,
                 w.told) for w in wears]  # fmt: skip
    row = (unit, mark, now.isoformat(), zlib.compress(_FITS.dump_json(fits), 3))
    with store.writing(sure=False) as connection:
        connection.execute("INSERT OR REPLACE INTO wear VALUES (?, ?, ?, ?)", row)


def _wear(series: Series, fit: _Fit, gone: float) -> Wear:
    """gone: days since the fit was kept."""
    ahead = fit.ahead
    if isinstance(ahead, Reach):
        days = (ahead.days - gone, ahead.days_soonest - gone, ahead.days_latest - gone)
        ahead = replace(ahead, days=days[0], days_soonest=days[1], days_latest=days[2])
    return Wear(series, fit.trend, fit.bound, ahead, fit.limits, fit.told)


def latest_series(session: Session, unit: str) -> list[Series]:
    """All series of a unit, each with its latest readings in order of time."""
    rows = session.scalars(
        select(SeriesRow)
        .where(SeriesRow.vehicle == key_of(session, unit))
        .order_by(SeriesRow.item, SeriesRow.place, SeriesRow.quantity, SeriesRow.name)
    ).all()
    back = func.row_number().over(
        partition_by=ReadingRow.series, order_by=(ReadingRow.at.desc(), ReadingRow.nth.desc())
    )
    numbered = (
        select(ReadingRow.series, ReadingRow.at, ReadingRow.odometer, ReadingRow.value, back.label("back"))
        .where(ReadingRow.series.in_([row.key for row in rows]))
        .subquery()
    )
    points: dict[int, list[Sample]] = {row.key: [] for row in rows}
    query = select(numbered).where(numbered.c.back <= POINTS).order_by(numbered.c.series, numbered.c.back.desc())
    for key, at, odometer, value, _ in session.execute(query):
        points[key].append(Sample(at, odometer, value))
    return [series_from(row, points[row.key]) for row in rows]
