"""All that one unit's page shows: history, lives of defects with what was said of them, and where findings are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from voice.desk.data.certifying import pending
from voice.desk.data.outlook import limits_now
from voice.desk.data.photos import Photos, photos_at
from voice.desk.data.recordings import Said, said_at
from voice.desk.data.reported import Documents, Reported, reported_of
from voice.desk.data.wears import Mark, mark_of, wears_of
from voice.desk.page import Desk
from voice.logbook.history import History
from voice.logbook.lookup import all_lives
from voice.logbook.schema import CertificationRow, FactRow
from voice.logbook.trends import uneven_pairs
from voice.logbook.visits import visits_of
from voice.logbook.walked import profile_of
from voice.measure.level import Level
from voice.record.diagram import Diagram, Found, draw
from voice.record.lives import Fact, Life, lives
from voice.record.repairs import Repair, repair_fact, repair_sha256
from voice.route.model import Place

MOST_TOLD = 20  # open defects whose records are looked into, for figures and the driver's words
MOST_SIGNED = 50  # certifications and withdrawals that are listed
LAST = 15  # inspections that are shown


@dataclass(frozen=True, slots=True)
class Given:
    """A certification that closed a life.

    sha256: what its withdrawal names it by.
    """

    sha256: str
    remark: str


@dataclass(frozen=True, slots=True)
class Signed:
    """A certification, or its withdrawal, that was ever signed for a defect.

    title: the defect's; verdict: "repaired", "repair-unnecessary", "withdrawn".
    waits: to be taken in at the depot.
    """

    defect: str
    title: str
    verdict: str
    name: str
    at: datetime
    remark: str
    waits: bool


@dataclass(frozen=True, slots=True)
class Defect:
    """One life of a defect, as the page shows it.

    number: in the drawing; 0 for one that is closed.
    said: the driver's words in the record that found it.
    reported: what the last record that found it says; of those that are open.
    photos: of those that are open.
    waits: whether its last entry waits to be taken in at the depot.
    """

    life: Life
    number: int
    said: tuple[Said, ...]
    given: Given | None
    waits: bool
    reported: Reported | None = None
    photos: Photos | None = None


@dataclass(frozen=True, slots=True)
class UnitPage:
    """All of it.

    history: with the latest inspections; its own lives are those of the logbook, while open and closed count what
        waits, too.
    count: of all inspections.
    signed: the latest certifications and withdrawals, newest first.
    """

    history: History
    count: int
    open: tuple[Defect, ...]
    closed: tuple[Defect, ...]
    signed: tuple[Signed, ...]
    drawing: Diagram | None


def _history(desk: Desk, session: Session, mark: Mark) -> History:
    """With the latest inspections only."""
    unit = mark.unit
    wears = tuple(wears_of(desk.store, session, mark, limits_now(desk.home)))
    visits = visits_of(session, mark.key, latest=LAST)
    lives_of = tuple(all_lives(session, unit))
    return History(unit, mark.name, profile_of(session, unit), visits, lives_of, wears, tuple(uneven_pairs(wears)))


def unit_page(desk: Desk, session: Session, unit: str, *, words: bool) -> UnitPage:
    """words: also what the driver said at each open defect, and photos. Raises RefusedError for an unknown unit."""
    mark = mark_of(session, unit, limits_now(desk.home))
    history = _history(desk, session, mark)
    waiting = [repair for repair in pending(desk, session) if repair.vehicle == unit]
    facts = _facts(session, mark.key, waiting)
    waits = {repair.certification.key for repair in waiting}
    every = [life for life in history.lives if life.defect not in waits]
    for defect in waits:
        every += lives(facts[defect])
    rows = session.scalars(select(CertificationRow).where(CertificationRow.vehicle == mark.key)).all()
    remarks = {row.sha256: row.remark for row in rows}
    remarks |= {repair_sha256(repair): repair.certification.remark for repair in waiting}
    opened = sorted(
        (life for life in every if life.closed is None), key=lambda life: (-life.level, life.opened, life.defect)
    )
    closed = sorted(
        (life for life in every if life.closed is not None), key=lambda life: life.closed or life.seen, reverse=True
    )
    documents = Documents(session)
    told = opened[:MOST_TOLD]
    said = (
        {life.defect: tuple(said_at(desk, documents.content(life.first), unit, life.defect)) for life in told}
        if words
        else {}
    )
    photos = {life.defect: photos_at(desk, documents, unit, life, facts[life.defect]) for life in told if words}
    reported = {life.defect: reported_of(documents, unit, life, facts[life.defect]) for life in told}
    shown = tuple(
        Defect(
            life,
            number,
            said.get(life.defect, ()),
            None,
            life.defect in waits,
            reported.get(life.defect),
            photos.get(life.defect),
        )
        for number, life in enumerate(opened, start=1)
    )
    done = tuple(
        Defect(life, 0, (), _given(life, facts[life.defect], remarks), life.defect in waits) for life in closed
    )
    return UnitPage(history, mark.records, shown, done, _signed(every, rows, waiting), _drawing(history, shown))


def _facts(session: Session, unit: int, waiting: Iterable[Repair]) -> dict[str, list[Fact]]:
    found: dict[str, list[Fact]] = defaultdict(list)
    columns = (FactRow.defect, FactRow.kind, FactRow.source, FactRow.at, FactRow.title, FactRow.level, FactRow.by)
    for defect, kind, source, at, title, level, by in session.execute(select(*columns).where(FactRow.vehicle == unit)):
        known = None if level is None else Level(level)
        found[defect].append(Fact(defect, kind, source, at, title, known, by))  # type: ignore[arg-type]
    for repair in waiting:
        found[repair.certification.key].append(repair_fact(repair, repair_sha256(repair)))
    return found


def _signed(every: Iterable[Life], rows: Iterable[CertificationRow], waiting: Iterable[Repair]) -> tuple[Signed, ...]:
    titles = {life.defect: life.title for life in every}
    found = [Signed(r.defect, titles.get(r.defect, r.defect), r.verdict, r.name, r.at, r.remark, False) for r in rows]
    for given in (repair.certification for repair in waiting):
        title = titles.get(given.key, given.key)
        found.append(Signed(given.key, title, given.verdict, given.name, given.at, given.remark, True))
    return tuple(sorted(found, key=lambda one: one.at, reverse=True)[:MOST_SIGNED])


def _given(life: Life, facts: Iterable[Fact], remarks: dict[str, str]) -> Given | None:
    """The certification that closed it: of that moment, by that name."""
    for fact in facts:
        if fact.kind.startswith("certified-") and (fact.at, fact.by) == (life.closed, life.by):
            sha256 = fact.source.partition(":")[2]
            return Given(sha256, remarks.get(sha256, ""))
    return None


def place_of(key: str) -> tuple[str, Place]:
    """The item and the place of a defect's key, "tire-tread@left-3-outer#worn"; what is no place is left out."""
    item, _, rest = key.partition("#")[0].partition("@")
    found: dict[str, object] = {}
    for part in rest.split("-"):
        if part.isdecimal() and len(part) <= 2 and int(part) > 0:
            found["axle"] = int(part)
        for axis, names in (("side", ("left", "right")), ("tire", ("outer", "inner"))):
            if part in names:
                found[axis] = part
        if part in ("tractor", "trailer", "truck", "bus"):
            found["unit"] = part
    return item, Place.model_validate(found)


def _drawing(history: History, defects: Iterable[Defect]) -> Diagram | None:
    if history.vehicle is None:
        return None
    found: list[Found] = []
    wheels: dict[Place, Level] = {}
    for defect in defects:
        item, place = place_of(defect.life.defect)
        found.append(Found(defect.number, item, place, defect.life.level.word))
        if place.axle is not None and (place not in wheels or wheels[place] < defect.life.level):
            wheels[place] = defect.life.level
    return draw(history.vehicle, found, {place: level.word for place, level in wheels.items()})
