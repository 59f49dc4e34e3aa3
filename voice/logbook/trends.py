"""The wear of one vehicle: its series from the database, each with its trend, its limit and what can be foretold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from pint import PintError
from sqlalchemy import DateTime, Row, select, type_coerce
from sqlalchemy.orm import Session

from voice.errors import DataError
from voice.judge.limit import LimitSet
from voice.judge.model import Subject
from voice.judge.reading import judge_reading
from voice.logbook.bounds import Bound, limit_for
from voice.logbook.schema import ReadingRow, SeriesRow, VehicleRow
from voice.logbook.walked import profile_of, walked_as
from voice.logbook.wear import NoReach, Reach, Sample, Trend, counted_from, reach, trend, uneven
from voice.logbook.wording import time_words, words
from voice.measure import Measure
from voice.measure.measure import exact
from voice.measure.telling import System, quantity_name, to_division, told
from voice.record.entry import finding_record
from voice.record.model import FindingRecord
from voice.record.readings import telling
from voice.route.called import on_vehicle_words
from voice.route.model import Place
from voice.route.vehicle import Vehicle

MOST_SAID = 5  # sentences about wear before a walk: more are not listened to. Common practice, no source.
WEARING = frozenset({"tread-depth", "lining-thickness"})  # what left and right, inner and outer should lose alike


@dataclass(frozen=True, slots=True)
class Series:
    """One quantity at one position.

    place: its id ("left-3-outer").
    position: the same, taken apart.
    """

    item: str
    place: str
    quantity: str
    name: str
    unit: str
    title: str
    spoken: str
    position: Place
    points: tuple[Sample, ...]


@dataclass(frozen=True, slots=True)
class Wear:
    """A series with what is known of its future.

    bound: the limit that it runs towards, of those that stand against leaving.
    ahead: the reach, or why there is none; None without a limit.
    limits: the last reading against the limits of today, those first that a report tells (voice.record.readings).
    told: how many of them those are.
    """

    series: Series
    trend: Trend | None
    bound: Bound | None
    ahead: Reach | NoReach | None
    limits: tuple[FindingRecord, ...] = ()
    told: int = 0


@dataclass(frozen=True, slots=True)
class UnevenPair:
    """Two positions that wear differently.

    difference: how much more the first has, in the series' unit.
    """

    more: Wear
    less: Wear
    difference: float


def series_of(session: Session, vehicle: str) -> list[Series]:
    """All series of a vehicle with their readings in order of time."""
    rows = session.execute(
        select(SeriesRow.key, SeriesRow.item, SeriesRow.place, SeriesRow.quantity, SeriesRow.name, SeriesRow.unit,
               SeriesRow.title, SeriesRow.spoken, SeriesRow.position)
        .join(VehicleRow, VehicleRow.key == SeriesRow.vehicle)
        .where(VehicleRow.id == vehicle)
        .order_by(SeriesRow.item, SeriesRow.place, SeriesRow.quantity, SeriesRow.name)
    ).all()  # fmt: skip
    points: dict[int, list[Sample]] = {row.key: [] for row in rows}
    query = (
        select(ReadingRow.series, type_coerce(ReadingRow.at, DateTime()), ReadingRow.odometer, ReadingRow.value)
        .where(ReadingRow.series.in_(points))
        .order_by(ReadingRow.at, ReadingRow.nth)
    )
    # All readings of a walk have one time, and by days there are many: each is brought to UTC once.
    moments: dict[datetime, datetime] = {}
    for key, when, odometer, value in session.execute(query):
        at = moments.get(when)
        if at is None:
            at = moments[when] = when.replace(tzinfo=UTC) if when.tzinfo is None else when.astimezone(UTC)
        points[key].append(Sample(at, odometer, value))
    return [series_from(row, points[row.key]) for row in rows]


def series_from(row: SeriesRow | Row[Any], points: Iterable[Sample]) -> Series:
    return Series(
        row.item, row.place, row.quantity, row.name, row.unit, row.title, row.spoken,
        Place.model_validate(row.position), tuple(points),
    )  # fmt: skip


def wear_of(series: Series, limits: LimitSet, vehicle: Vehicle, now: datetime, axles_ahead: int = 0) -> Wear:
    """The trend of a series and when its limit is reached, in days from now.

    vehicle: what the limits are for: the unit, or the combination that it was walked in last.
    axles_ahead: how many axles of it are ahead of the unit's first.
    """
    found = trend(series.points)
    slope = -1.0 if found is None else found.slope
    place = series.position
    if place.axle is not None:
        place = place.model_copy(update={"axle": place.axle + axles_ahead})
    bound = limit_for(limits, series.quantity, place, vehicle, series.unit, slope)
    ahead = (
        None
        if bound is None or found is None
        else reach(found, bound.value, falling=bound.falling, read=series.points[-1].value)
    )
    if isinstance(ahead, Reach) and found is not None:
        ahead = counted_from(ahead, found, now)
    held = _held(series, limits, Subject(vehicle, series.item, place))
    told_of = telling(held)
    return Wear(series, found, bound, ahead, (*told_of, *(each for each in held if each not in told_of)), len(told_of))


def _held(series: Series, limits: LimitSet, subject: Subject) -> list[FindingRecord]:
    """The last reading of a series against every limit of its quantity that holds there."""
    axle = subject.place.axle
    if not series.points or (axle is not None and axle > len(subject.vehicle.axles)):
        return []
    try:
        measure = Measure(exact(series.points[-1].value), series.unit)
        found = judge_reading(limits, subject, series.quantity, measure)
    except (DataError, PintError):  # a unit of a stranger's record, or none of this quantity
        return []
    return [finding_record(each) for each in found]


def vehicle_wear(session: Session, vehicle: str, limits: LimitSet, now: datetime) -> list[Wear]:
    """Every series of the vehicle. Empty if it is not known here."""
    if (walked := walked_as(session, vehicle)) is None:
        return []
    whole, ahead = walked
    return [wear_of(series, limits, whole, now, ahead) for series in series_of(session, vehicle)]


def uneven_pairs(wears: Sequence[Wear]) -> list[UnevenPair]:
    """Positions of one axle that differ beyond doubt: left and right, inner and outer."""
    found = []
    for one, two in _siblings(wears):
        if one.trend is not None and two.trend is not None and (more := uneven(one.trend, two.trend)) is not None:
            found.append(UnevenPair(one, two, more) if more > 0 else UnevenPair(two, one, -more))
    return found


def _siblings(wears: Sequence[Wear]) -> Iterator[tuple[Wear, Wear]]:
    by_place = {(w.series.item, w.series.quantity, w.series.name, w.series.position): w for w in wears}
    for (item, quantity, name, place), wear in by_place.items():
        if quantity not in WEARING or place.axle is None:
            continue
        if place.side == "left":
            opposite = place.model_copy(update={"side": "right"})
            if (other := by_place.get((item, quantity, name, opposite))) is not None:
                yield wear, other
        if place.tire == "outer":
            beside = place.model_copy(update={"tire": "inner"})
            if (other := by_place.get((item, quantity, name, beside))) is not None:
                yield wear, other


# --- in words ---------------------------------------------------------------------------------------------------------


def place_words(wear: Wear) -> str:
    text = wear.series.spoken or words().wear.whole
    return text[:1].upper() + text[1:] + (f" ({wear.series.name})" if wear.series.name else "")


def value_words(value: float, series: Series, system: System, *, aloud: bool) -> str:
    """A smoothed value."""
    rounded = to_division(value, series.unit, series.quantity)
    return told(rounded, series.unit, quantity=series.quantity, system=system, aloud=aloud)


def last_words(wear: Wear, system: System) -> str:
    """The last reading as its report prints it; nothing where there is none."""
    series = wear.series
    return told(series.points[-1].value, series.unit, quantity=series.quantity, system=system) if series.points else ""


def limit_words(wear: Wear) -> str:
    """The limits that the last reading's report tells; then the one that the forecast is about, if it is another."""
    shown = list(dict.fromkeys(finding.limit_text for finding in wear.limits[: wear.told]))
    ahead = [f.limit_text for f in wear.limits if wear.bound is not None and f.limit == wear.bound.limit]
    return "; ".join((*shown, *(words().table.against.format(limit=text) for text in ahead if text not in shown)))


def source_words(wear: Wear) -> str:
    """Where those limits stand."""
    sources = [finding.source for finding in wear.limits[: wear.told]]
    return "; ".join(dict.fromkeys((*sources, wear.bound.source) if wear.bound else sources))


def wear_sentence(wear: Wear, system: System = "us", *, aloud: bool) -> str | None:
    """What is said of a series: when its limit is reached, or that it is; None where the readings do not tell."""
    if wear.bound is None or wear.trend is None:
        return None
    template = words().wear.spoken if aloud else words().wear.printed
    fields = {
        "place": place_words(wear),
        "quantity": quantity_name(wear.series.quantity),
        "limit": wear.bound.spoken if aloud else wear.bound.printed,
        "source": wear.bound.source,
        "level": value_words(wear.trend.level, wear.series, system, aloud=aloud),
    }
    if isinstance(wear.ahead, Reach):
        if wear.ahead.days <= 0:
            return template.overdue.format(**fields)
        fields["time"] = time_words(wear.ahead.days, aloud=aloud)
        fields["soonest"] = time_words(wear.ahead.days_soonest, aloud=aloud)
        fields["latest"] = time_words(wear.ahead.days_latest, aloud=aloud)
        fields["day"] = str(wear.ahead.day or "")
        return template.reach.format(**fields)
    return template.beyond.format(**fields) if wear.ahead == "beyond" else None


def pair_sentence(pair: UnevenPair, system: System = "us", *, aloud: bool) -> str:
    template = words().wear.spoken.uneven if aloud else words().wear.printed.uneven
    return template.format(
        more=place_words(pair.more),
        less=place_words(pair.less).lower(),
        quantity=quantity_name(pair.more.series.quantity),
        difference=value_words(pair.difference, pair.more.series, system, aloud=aloud),
    )


def soon(wears: Iterable[Wear], within_days: float = 90) -> list[tuple[Wear, Reach]]:
    """Those foretold to reach their limit within so many days, the soonest first."""
    found = [(wear, wear.ahead) for wear in wears if isinstance(wear.ahead, Reach) and wear.ahead.days <= within_days]
    return sorted(found, key=lambda pair: pair[1].days)


def spoken_outlook(
    session: Session,
    vehicle: str,
    limits: LimitSet,
    now: datetime,
    *,
    within_days: float = 90,
    ahead: int = 0,
) -> tuple[str, ...]:
    """What is said aloud of a unit's wear: limits soon reached, then uneven wear. For the start of a walk.

    ahead: how many axles stand before its own on that walk.

    What is at its limit already was told when it was read.
    """
    profile = profile_of(session, vehicle)
    system: System = "us" if profile is None else profile.display_units
    wears = [_behind(wear, ahead) for wear in vehicle_wear(session, vehicle, limits, now)]
    sentences = [wear_sentence(wear, system, aloud=True) for wear, _ in soon(wears, within_days)]
    sentences += [pair_sentence(pair, system, aloud=True) for pair in uneven_pairs(wears)]
    return tuple(sentence for sentence in sentences if sentence)[:MOST_SAID]


def _behind(wear: Wear, ahead: int) -> Wear:
    """The same, with its axle called by its number behind so many others."""
    axle = wear.series.position.axle
    if axle is None or not ahead:
        return wear
    spoken_there = on_vehicle_words(wear.series.spoken, axle, axle + ahead)
    return replace(wear, series=replace(wear.series, spoken=spoken_there))
