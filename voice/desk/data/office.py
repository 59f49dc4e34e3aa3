"""What the office looks for: inspections by unit, driver, period, level and kind, a page of them at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Row, and_, func, or_, select, union_all
from sqlalchemy.orm import InstrumentedAttribute, Session

from voice.data.fields import MAX_NAME
from voice.logbook.schema import RecordRow, RecordUnitRow, VehicleRow
from voice.measure.level import NAMES, Level, level_of

PAGE = 25  # inspections on a page
FEW = 30  # units or drivers: so many are looked up one by one
USUAL = timedelta(days=92)  # the period that is looked through if none is given: what the rule has kept
NEWEST = (RecordRow.started.desc(), RecordRow.id.desc())
_Named = InstrumentedAttribute[str | None]


@dataclass(frozen=True, slots=True)
class Search:
    """What is looked for; what is empty leaves nothing out.

    unit: part of an id or a name.
    driver: part of a name.
    since, until: the first day and the last.
    level: the least that the worst finding must be.
    kind: part of the kind's title or id; of a record that says none, of its route's.
    after: where the page before ended: the last inspection's begin and id.
    wrong: fields that cannot be what was typed.
    """

    unit: str = ""
    driver: str = ""
    since: date | None = None
    until: date | None = None
    level: Level = Level.WITHIN
    kind: str = ""
    after: tuple[datetime, str] | None = None
    wrong: tuple[str, ...] = ()

    @property
    def backwards(self) -> bool:
        """Whether the last day lies before the first, so that no inspection can fit."""
        return self.since is not None and self.until is not None and self.until < self.since

    @property
    def fields(self) -> dict[str, str]:
        """As a form or an address carries them."""
        return {
            "unit": self.unit,
            "driver": self.driver,
            "since": "" if self.since is None else self.since.isoformat(),
            "until": "" if self.until is None else self.until.isoformat(),
            "level": "" if self.level is Level.WITHIN else self.level.word,
            "kind": self.kind,
        }


@dataclass(frozen=True, slots=True)
class Found:
    """One inspection of a page.

    units: id and name of each unit that it is about, the one at the head first.
    kind: its title; empty where the record does not say.
    kept: whether its text is still there, so that it has a report.
    """

    id: str
    units: tuple[tuple[str, str], ...]
    kind: str
    driver: str | None
    at: datetime
    level: Level
    defects: int
    kept: bool

    @property
    def name(self) -> str:
        return ", ".join(name for _, name in self.units)


@dataclass(frozen=True, slots=True)
class Results:
    """A page of inspections, the newest first.

    older: where the next page goes on; None where there is none.
    """

    rows: tuple[Found, ...] = field(default_factory=tuple)
    older: str | None = None


def read_search(query: Mapping[str, str], today: date) -> Search:
    """From the fields of an address. Without a period the usual one; an empty field for it means all there is."""
    wrong: list[str] = []

    def day(name: str, usual: date | None) -> date | None:
        text = query.get(name)
        if text is None:
            return usual
        try:
            return date.fromisoformat(text.strip()) if text.strip() else None
        except ValueError:
            wrong.append(name)
            return usual

    level = query.get("level", "")
    if level and level not in NAMES:
        wrong.append("level")
    return Search(
        unit=query.get("unit", "").strip()[:MAX_NAME],
        driver=query.get("driver", "").strip()[:MAX_NAME],
        since=day("since", today - USUAL),
        until=day("until", None),
        level=next((level_of(name) for name in NAMES if name == level), Level.WITHIN),
        kind=query.get("kind", "").strip()[:MAX_NAME],
        after=_after(query.get("after", "")),
        wrong=tuple(wrong),
    )


def _after(text: str) -> tuple[datetime, str] | None:
    at, _, id = text.partition("~")
    try:
        return (datetime.fromisoformat(at).astimezone(UTC), id) if id else None
    except ValueError:
        return None


def find(session: Session, search: Search, routes: Mapping[str, str] | None = None) -> Results:
    """The page of inspections that are looked for.

    routes: titles of the routes by id, for inspections that do not say their kind.
    """
    rows = _newest(session, search, routes or {})
    units = _units_of(session, [row.key for row in rows[:PAGE]])
    found = tuple(
        Found(row.id, units.get(row.key, ()), row.kind_title or row.kind or "", row.driver, row.ended or row.started,
              Level(row.level), row.defects, row.pruned is None)
        for row in rows[:PAGE]
    )  # fmt: skip
    last = rows[PAGE - 1] if len(rows) > PAGE else None
    return Results(found, None if last is None else f"{_utc(last.started).isoformat()}~{last.id}")


def _units_of(session: Session, records: list[int]) -> dict[int, tuple[tuple[str, str], ...]]:
    """The units of these inspections, by the key of the record."""
    found: dict[int, tuple[tuple[str, str], ...]] = {}
    for record, unit, name in session.execute(
        select(RecordUnitRow.record, VehicleRow.id, VehicleRow.name)
        .join(VehicleRow, VehicleRow.key == RecordUnitRow.vehicle)
        .join(RecordRow, RecordRow.key == RecordUnitRow.record)
        .where(RecordUnitRow.record.in_(records))
        .order_by(RecordRow.vehicle != RecordUnitRow.vehicle, VehicleRow.name)
    ):
        found[record] = (*found.get(record, ()), (unit, name))
    return found


def _units(session: Session, text: str) -> ColumnElement[bool]:
    """The condition that an inspection is of a unit with this in its id or name.

    Of few units each one's inspections are found by their index; of many it is quicker to go through all from the
    newest on, and the sum keeps the database from taking the index all the same.
    """
    named = or_(*(column.icontains(text, autoescape=True) for column in (VehicleRow.id, VehicleRow.name)))
    keys = session.scalars(select(VehicleRow.key).where(named).limit(FEW + 1)).all()
    if len(keys) <= FEW:
        return RecordRow.key.in_(select(RecordUnitRow.record).where(RecordUnitRow.vehicle.in_(keys)))
    wanted = select(VehicleRow.key).where(named)
    return (
        select(RecordUnitRow.record)
        .where(RecordUnitRow.record == RecordRow.key, (RecordUnitRow.vehicle + 0).in_(wanted))
        .exists()
    )


def _newest(session: Session, search: Search, routes: Mapping[str, str]) -> Sequence[Row[Any]]:
    """The rows of a page and one more.

    The names are looked up first. One that nobody has needs no search, and of few names each one's newest are taken by
    its index; going through all inspections for a rare name takes long.
    """
    query = _query(session, search)
    wanted: list[list[ColumnElement[bool]]] = []
    if search.driver:
        drivers = [name for name in _names(session, RecordRow.driver) if _in(search.driver, name)]
        if len(drivers) > FEW:
            query = query.where(RecordRow.driver.icontains(search.driver, autoescape=True))
        else:
            wanted.append([RecordRow.driver == name for name in drivers])
    if search.kind:
        of_kind = [RecordRow.kind == kind for kind in _kinds(session, search.kind)]
        wanted.append([*of_kind, _without_kind(search.kind, routes)])
    if not all(wanted):
        return ()
    if not wanted:
        return session.execute(query.order_by(*NEWEST).limit(PAGE + 1)).all()
    first, *others = wanted
    for other in others:
        query = query.where(or_(*other))
    each = [query.where(condition).order_by(*NEWEST).limit(PAGE + 1).subquery() for condition in first]
    found = union_all(*map(select, each)).subquery()
    return session.execute(select(found).order_by(found.c.started.desc(), found.c.id.desc()).limit(PAGE + 1)).all()


def _names(session: Session, column: _Named) -> Sequence[str]:
    """Each name of a column once, from one to the next by its index: quick where they are few among many rows."""
    first = select(func.min(column).label("name")).cte(recursive=True)
    after = select(func.min(column)).where(column > first.c.name).scalar_subquery()
    every = first.union_all(select(after).where(first.c.name.is_not(None)))
    return session.scalars(select(every.c.name).where(every.c.name.is_not(None))).all()


def _kinds(session: Session, text: str) -> list[str]:
    """Ids of the kinds with this in their id or in the title that the newest inspection gave them."""
    titles = {
        kind: session.scalar(
            select(RecordRow.kind_title).where(RecordRow.kind == kind).order_by(RecordRow.started.desc()).limit(1)
        )
        for kind in _names(session, RecordRow.kind)
    }
    return [kind for kind, title in titles.items() if _in(text, kind) or _in(text, title or "")]


def _without_kind(text: str, routes: Mapping[str, str]) -> ColumnElement[bool]:
    """The condition that an inspection does not say its kind, and has this in its route's id or title."""
    titled = [id for id, title in routes.items() if _in(text, title)]
    named = or_(RecordRow.route.icontains(text, autoescape=True), RecordRow.route.in_(titled))
    return and_(RecordRow.kind.is_(None), named)


def _in(part: str, name: str) -> bool:
    return part.casefold() in name.casefold()


def _query(session: Session, search: Search) -> Any:  # a Select; how its columns are typed differs between versions
    """What is looked for, but for driver and kind."""
    query: Any = select(
        RecordRow.key, RecordRow.id, RecordRow.kind, RecordRow.kind_title, RecordRow.driver, RecordRow.started,
        RecordRow.ended, RecordRow.level, RecordRow.defects, RecordRow.pruned,
    )  # fmt: skip
    if search.unit:
        query = query.where(_units(session, search.unit))
    if search.since is not None:
        query = query.where(RecordRow.started >= begin_of(search.since))
    if search.until is not None:
        query = query.where(RecordRow.started < begin_of(search.until + timedelta(days=1)))
    if search.level > Level.WITHIN:
        query = query.where(RecordRow.level >= int(search.level))
    if search.after is not None:
        at, id = search.after
        query = query.where(or_(RecordRow.started < at, and_(RecordRow.started == at, RecordRow.id < id)))
    return query


def begin_of(day: date) -> datetime:
    """Midnight by the local clock."""
    return datetime.combine(day, time()).astimezone()


def _utc(at: datetime) -> datetime:
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
