"""What is known of a tractor or a trailer does not depend on what it was coupled to, and goes with it."""

from __future__ import annotations

import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine, select, text
from sqlalchemy.orm import Session

from tests.logbook.coupled import Found, coupled, tractor, trailer, walk
from tests.logbook.data import checked, day
from tests.logbook.test_sync import walked
from voice.judge.load import load_limits
from voice.logbook.database import initialize, open_engine, open_local, parse_url, read_url, reading, writing
from voice.logbook.depot import absorb
from voice.logbook.for_walk import open_defects as for_walk
from voice.logbook.history import gather
from voice.logbook.roles import grant
from voice.logbook.schema import ReadingRow, SeriesRow, VehicleRow
from voice.logbook.store import import_records, import_repairs
from voice.logbook.sync import sync
from voice.logbook.trends import spoken_outlook
from voice.record.model import CarriedRecord, Certification, InspectionRecord
from voice.record.open_defects import certified_of, fold, open_defects
from voice.record.past import Past, pasts_of
from voice.record.repairs import Repair, certify
from voice.record.review import with_review
from voice.route import load_library, make_plan
from voice.route.units import trailer_of
from voice.route.vehicle import Vehicle

TRACTORS = (tractor(12, 2), tractor(9, 1), tractor(30, 3))
TRAILERS = (trailer(40), trailer(51))
UNITS = [unit.id for unit in (*TRACTORS, *TRAILERS)]
LIMITS = load_limits()


@dataclass(frozen=True, slots=True)
class Day:
    """One walk, or a certification.

    pair: which tractor, and which trailer if any.
    found: by unit.
    said: what the driver says of what is open.
    certified: the unit and the number of one of its open defects.
    """

    pair: tuple[int, int | None]
    found: tuple[Found, ...]
    said: str
    certified: tuple[str, int] | None


@st.composite
def days(draw: st.DrawFn) -> list[Day]:
    made = []
    for _ in range(draw(st.integers(1, 7))):
        pair = (draw(st.integers(0, 2)), draw(st.sampled_from([None, 0, 1])))
        units = [TRACTORS[pair[0]].id] + ([] if pair[1] is None else [TRAILERS[pair[1]].id])
        found = []
        for unit in units:
            for axle in draw(st.lists(st.sampled_from([None, 1, 2]), max_size=3, unique=True)):
                tread = None if axle is None else draw(st.sampled_from([None, 3, 9]))
                found.append(Found(unit, axle, tread, draw(st.sampled_from(["watch", "repair", "halt"]))))
        said = draw(st.sampled_from(["still-there", "repaired", "not-asked"]))
        certified = draw(st.none() | st.tuples(st.sampled_from(UNITS), st.integers(0, 2)))
        made.append(Day(pair, tuple(found), said, certified))
    return made


class Told:
    """Records and certifications as they came, and what the devices made of them."""

    def __init__(self) -> None:
        self.records: list[InspectionRecord] = []
        self.repairs: list[Repair] = []

    def pasts(self, unit: str) -> list[Past]:
        return [past for record in self.records for past in pasts_of(record) if past.vehicle == unit]

    def open(self, unit: str) -> list[Any]:
        pasts = self.pasts(unit)
        return fold(pasts, certified_of(unit, self.repairs, pasts))

    def walked(self, number: int, vehicle: Vehicle, day_: Day, units: Sequence[str]) -> None:
        carried = [
            CarriedRecord(
                unit=unit if vehicle.units else "", key=defect.key, title=defect.title, found=defect.found,
                record=defect.record, answer=day_.said,
            )
            for unit in units
            for defect in self.open(unit)
        ]  # fmt: skip
        found = [each for each in day_.found if each.unit in units]
        odometers = _odometer(vehicle, number), _hubodometer(vehicle, number)
        self.records.append(walk(f"r{number}", day(7 * number), vehicle, found, carried, *odometers))

    def certified(self, number: int, day_: Day) -> None:
        if day_.certified is not None and (open_ := self.open(day_.certified[0])):
            unit, which = day_.certified
            key = open_[which % len(open_)].key
            given = Certification(key=key, verdict="repaired", name="M. Mechanic", at=day(7 * number + 1))
            self.repairs.append(Repair(unit, "", given))


def _odometer(vehicle: Vehicle, number: int) -> int:
    """Each tractor has its own."""
    return 1000 * number + int(vehicle.id.partition("--")[0].removeprefix("tractor-"))


def _hubodometer(vehicle: Vehicle, number: int) -> int | None:
    """Each trailer has its own; it is given on two days of three."""
    trailer = trailer_of(vehicle)
    return None if trailer is None or number % 3 == 2 else 50 * number + int(trailer.id.removeprefix("trailer-"))


def as_it_was(history: Sequence[Day]) -> Told:
    told = Told()
    for number, each in enumerate(history):
        ahead = TRACTORS[each.pair[0]]
        behind = None if each.pair[1] is None else TRAILERS[each.pair[1]]
        vehicle = coupled(ahead, behind)
        told.walked(number, vehicle, each, [unit.id for unit in (ahead, behind) if unit is not None])
        told.certified(number, each)
    return told


def with_another(history: Sequence[Day], unit: Vehicle) -> Told:
    """The same days of this unit, always coupled to one that has nothing else to tell."""
    told = Told()
    partner = trailer(99) if unit.kind == "tractor" else tractor(98, 2)
    for number, each in enumerate(history):
        members = {TRACTORS[each.pair[0]].id, "" if each.pair[1] is None else TRAILERS[each.pair[1]].id}
        if unit.id in members:
            alone = unit.kind == "tractor" and each.pair[1] is None
            vehicle = coupled(unit, None if alone else partner) if unit.kind == "tractor" else coupled(partner, unit)
            told.walked(number, vehicle, each, [unit.id])
        if each.certified is not None and each.certified[0] == unit.id:
            told.certified(number, each)
    return told


def known(session: Session, unit: str) -> Mapping[str, Any]:
    """A unit's history without the names of what it was together with."""
    history = gather(session, unit, LIMITS, day(60))
    visits = [
        (v.id, v.at, v.driver, v.odometer, v.level, v.defects, v.seconds, v.removed) for v in history.visits
    ]  # fmt: skip
    series = [wear.series for wear in history.wears]
    return {"visits": visits, "lives": history.lives, "series": series, "name": history.name}


def odometers(session: Session, unit: str) -> list[tuple[Any, ...]]:
    """Its readings, each with the miles at which it was taken."""
    return [
        tuple(row)
        for row in session.execute(
            select(SeriesRow.place, ReadingRow.at, ReadingRow.value, ReadingRow.odometer)
            .join(SeriesRow, SeriesRow.key == ReadingRow.series)
            .join(VehicleRow, VehicleRow.key == SeriesRow.vehicle)
            .where(VehicleRow.id == unit)
            .order_by(ReadingRow.at, SeriesRow.place)
        )
    ]


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("empty") / "logbook.sqlite"
    engine = open_engine(parse_url(f"sqlite:///{file}", "test"))
    initialize(engine)
    engine.dispose()
    return file


def logbook(empty: Path, name: str, told: Told) -> Engine:
    file = empty.with_name(f"{name}.sqlite")
    shutil.copy(empty, file)
    for ending in ("-wal", "-shm"):
        file.with_name(file.name + ending).unlink(missing_ok=True)
    engine = open_engine(parse_url(f"sqlite:///{file}", "test"))
    with writing(engine) as session:
        import_repairs(session, told.repairs, ["a"] * len(told.repairs))
        import_records(session, [checked(record) for record in reversed(told.records)], ["a"] * len(told.records))
    return engine


@given(days())
@settings(max_examples=20, deadline=None)
def test_a_units_history_is_the_same_whatever_it_was_coupled_to(empty: Path, history: list[Day]) -> None:
    """On the device (records), and in the logbook."""
    mixed = as_it_was(history)
    everything = logbook(empty, "mixed", mixed)
    walked_units = {past.vehicle for record in mixed.records for past in pasts_of(record)}
    for unit in (*TRACTORS, *TRAILERS):
        if unit.id not in walked_units:
            continue
        apart = with_another(history, unit)
        assert mixed.open(unit.id) == apart.open(unit.id)
        told = [
            [
                (p.id, p.at, p.carried, p.defects, p.measured, p.beyond, p.readings, None if p.lead else p.miles)
                for p in each.pasts(unit.id)
            ]
            for each in (mixed, apart)
        ]
        assert told[0] == told[1]
        other = logbook(empty, "apart", apart)
        with reading(everything) as one, reading(other) as two:
            assert known(one, unit.id) == known(two, unit.id)
            assert odometers(one, unit.id) == odometers(two, unit.id)
        other.dispose()
    everything.dispose()


@pytest.mark.postgres
def test_a_trailers_defect_goes_with_it_to_another_tractor_and_another_device(
    pg_engine: Engine, tmp_path: Path
) -> None:
    """Found by device one behind tractor twelve; asked about by device two behind tractor nine; certified there.

    49 CFR 396.13(b), (c): the last report is reviewed and signed for before driving, but for the defects of a towed
    unit that is no longer part of the combination (read in a copy of the current text).
    """
    twelve, nine, forty = TRACTORS[0], TRACTORS[1], TRAILERS[0]
    devices = {}
    for name, units in (("cab-one", [twelve.id, forty.id]), ("cab-two", [nine.id, forty.id])):
        grant(pg_engine, name, units, tmp_path / f"{name}.url")
        devices[name] = open_engine(read_url(tmp_path / f"{name}.url"))
    one, two = tmp_path / "one", tmp_path / "two"
    found = [Found(forty.id, 1), Found(twelve.id, 2)]
    walked(one, walk("r1", day(1), coupled(twelve, forty), found))
    walked(two, walk("r0", day(0), coupled(nine, trailer(51)), []))
    try:
        sync(one, open_local(one), devices["cab-one"])
        absorb(pg_engine, {})
        sync(two, open_local(two), devices["cab-two"])
        today = coupled(nine, forty)
        (open_,) = for_walk(two, today)
        assert (open_.unit, open_.key) == (forty.id, "tire-tread@left-1#worn")
        plan = with_review(make_plan(load_library(), today), [open_])
        assert plan.carried[0].key == "tire-tread@left-3#worn"  # nine has two axles, twelve has three
        assert plan.carried[0].title == "Tread, left side, axle three: worn"
        # The other driver's walk says that it is still there; the shop certifies it; device one learns of both.
        carried = CarriedRecord(
            unit=forty.id, key=open_.key, title=plan.carried[0].title, found=open_.found, record="r1",
            answer="still-there",
        )  # fmt: skip
        walked(two, walk("r2", day(2), today, [], [carried]))
        sync(two, open_local(two), devices["cab-two"])
        absorb(pg_engine, {})
        sync(one, open_local(one), devices["cab-one"])
        assert {defect.key for defect in for_walk(one, coupled(twelve, forty))} == {
            "tire-tread@left-2#worn", "tire-tread@left-1#worn",
        }  # fmt: skip
        given = Certification(key=open_.key, verdict="repaired", name="M. Mechanic", at=day(3))
        certify(two, Repair(forty.id, "r2", given))
        sync(two, open_local(two), devices["cab-two"])
        absorb(pg_engine, {})
        sync(one, open_local(one), devices["cab-one"])
        assert [(d.unit, d.key) for d in for_walk(one, coupled(twelve, forty))] == [
            (twelve.id, "tire-tread@left-2#worn")
        ]
        assert for_walk(two, today) == []
    finally:
        for engine in devices.values():
            engine.dispose()
        with pg_engine.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
            for name in (*devices, "gladhand_device"):
                connection.execute(text(f'DROP OWNED BY "{name}"'))
                connection.execute(text(f'DROP ROLE "{name}"'))


def test_what_a_driver_is_told_has_the_axles_of_the_day(tmp_path: Path) -> None:
    """A trailer's wear, and a defect found on this device behind another tractor."""
    forty = TRAILERS[0]
    walked(tmp_path, walk("last", day(60), coupled(TRACTORS[2], forty), [Found(forty.id, 2)]))
    today = coupled(TRACTORS[1], forty)
    (open_,) = open_defects(tmp_path, today)
    assert (open_.unit, open_.key) == (forty.id, "tire-tread@left-2#worn")
    assert open_.title == "Tread, left side, trailer axle two: worn"
    (asked,) = with_review(make_plan(load_library(), today), [open_]).carried
    assert asked.title == "Tread, left side, axle four: worn"
    engine = open_local(tmp_path)
    with writing(engine) as session:
        records = [
            checked(walk(f"w{w}", day(7 * w), coupled(TRACTORS[w % 3], forty), [Found(forty.id, 1, 18 - w)]))
            for w in range(9)
        ]
        import_records(session, records, ["a"] * 9)
    with reading(engine) as session:
        (sentence,) = spoken_outlook(session, forty.id, LIMITS, day(57), ahead=2)
    assert sentence.startswith("Left side, axle three, tread")
    engine.dispose()


def test_a_trailers_wear_goes_by_its_hubodometer(tmp_path: Path) -> None:
    """Behind three tractors that each went another way: the line is straight over its own miles, and over no other."""
    forty = TRAILERS[0]
    engine = open_local(tmp_path)
    with writing(engine) as session:
        records = [
            checked(
                walk(
                    f"w{w}", day(7 * w), coupled(TRACTORS[w % 3], forty), [Found(forty.id, 1, 18 - w)],
                    odometer=400_000 - 900 * w * (w % 3), hubodometer=80_000 + 2_000 * w,
                )
            )
            for w in range(9)
        ]  # fmt: skip
        import_records(session, records, ["a"] * 9)
    with reading(engine) as session:
        history = gather(session, forty.id, LIMITS, day(57))
    engine.dispose()
    assert [visit.odometer for visit in history.visits] == [80_000.0 + 2_000 * w for w in range(9)]
    trends = [wear.trend for wear in history.wears if wear.trend is not None]
    assert [(trend.axis, trend.last) for trend in trends] == [("mile", 96_000.0)]
    assert trends[0].slope == pytest.approx(-1 / 32 / 2_000)


def test_certified_in_words_of_before_it_is_closed(tmp_path: Path) -> None:
    """An older record and an older certification name the combination; both count for its units."""
    whole = coupled(TRACTORS[0], TRAILERS[0]).model_copy(update={"id": "rig", "units": ()})
    inside = [Found("rig-trailer", 2), Found("rig-tractor", None)]
    walked(tmp_path, walk("r1", day(1), whole, inside))
    assert {(d.unit, d.key) for d in open_defects(tmp_path, "rig")} == {
        ("rig-trailer", "tire-tread@left-2#worn"), ("rig-tractor", "frame@rig#worn"),
    }  # fmt: skip
    for key in ("tire-tread@left-5#worn", "frame@rig#worn"):
        certify(tmp_path, Repair("rig", "r1", Certification(key=key, verdict="repaired", name="M. M.", at=day(2))))
    assert open_defects(tmp_path, whole) == []
