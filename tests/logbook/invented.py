"""Makes inspection records of an invented fleet, with wear whose truth is known: for tests, benchmarks and the demo.

Everything is drawn from a seed; the same seed gives the same records, byte for byte. The names, plates, rates and
faults are invented. Tread loses a part of an inch a mile and is read to the gauge's 1/32; a tire at its end is
replaced; now and then something is found defective, carried, and certified by a mechanic days later.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from typing import Literal

from voice.measure.cardinal import cardinal
from voice.measure.level import NAMES, LevelName
from voice.record.model import (
    CarriedRecord,
    Certification,
    DefectRecord,
    EntryRecord,
    Evidence,
    InspectionRecord,
    JournalRef,
    Outcome,
    ReadingRecord,
    SectionRecord,
    SignOff,
    Summary,
)
from voice.record.repairs import Repair
from voice.record.seal import seal
from voice.route.model import Part, Place
from voice.route.vehicle import Axle, Brake, Chamber, FifthWheel, Side, Trailer, Vehicle

START = datetime(2025, 1, 6, 5, 30, tzinfo=UTC)
SIDES: tuple[Side, ...] = ("left", "right")
TIRES: tuple[Literal["outer", "inner"], ...] = ("outer", "inner")
DRIVERS = ("A. Sample", "B. Example", "C. Invented")
_SECTIONS = (
    ("cab", "In the cab"),
    ("front", "Front"),
    ("left", "Left side"),
    ("rear", "Rear"),
    ("right", "Right side"),
)
_CONDITIONS: tuple[tuple[str, Part, str, str], ...] = (
    ("horn", "horn", "cab", "not-working"),
    ("wipers", "wipers", "cab", "worn"),
    ("mirror", "mirrors", "cab", "cracked"),
    ("triangles", "emergency-equipment", "cab", "missing"),
    ("fire-extinguisher", "emergency-equipment", "cab", "low-level"),
    ("parking-brake", "parking-brake", "cab", "not-working"),
    ("headlamp", "lighting", "front", "lamp-out"),
    ("steering-box", "steering", "front", "leaking"),
    ("tie-rod", "steering", "front", "loose"),
    ("fuel-tank", "other", "left", "leaking"),
    ("fifth-wheel-jaws", "coupling", "left", "dry"),
    ("air-lines", "coupling", "left", "chafed"),
    ("landing-gear", "other", "left", "not-raised"),
    ("tail-lamp", "lighting", "rear", "lamp-out"),
    ("mud-flap", "other", "rear", "missing"),
    ("trailer-doors", "other", "rear", "unlatched"),
    ("marker-lamp", "lighting", "right", "lamp-out"),
    ("battery-box", "other", "right", "loose"),
    ("exhaust", "other", "right", "leaking"),
    ("frame", "other", "right", "cracked"),
)


@dataclass(slots=True)
class Wearing:
    """One thing that wears. rate: per mile, in unit. until: replaced when it gets there. step: of its gauge."""

    item: str
    quantity: str
    unit: str
    place: Place
    spoken: str
    value: float
    rate: float
    until: float
    fresh: float
    step: Fraction
    noise: float
    part: Part
    replaced: list[datetime] = field(default_factory=list)

    @property
    def id(self) -> str:
        return f"{self.item}@{place_id(self.place)}"


@dataclass(slots=True)
class Truck:
    """A vehicle and the truth about it."""

    vehicle: Vehicle
    wearing: list[Wearing]
    odometer: float
    miles_a_day: float
    open: dict[str, tuple[DefectRecord, datetime, str]] = field(default_factory=dict)
    count: int = 0


def place_id(place: Place) -> str:
    parts = (place.side, place.axle, place.tire)
    return "-".join(str(part) for part in parts if part is not None)


def profile(number: int) -> Vehicle:
    """A five-axle combination with an invented name and plate."""

    def axle(role: str, chamber: str) -> Axle:
        return Axle(
            unit="trailer" if role == "trailer" else "tractor",
            role=role,
            dual=role != "steer",
            suspension="leaf" if role != "drive" else "air",
            brake=Brake(kind="air-drum", chamber=Chamber(size=chamber), slack="automatic"),
            cold_psi=Fraction(110 if role == "steer" else 100),
            max_psi=Fraction(120),
        )

    return Vehicle(
        id=f"unit-{number:04d}",
        name=f"unit {number}",
        kind="tractor-semitrailer",
        plate=f"SAMPLE {number}",
        axles=(axle("steer", "24"), *(axle("drive", "30"),) * 2, *(axle("trailer", "30"),) * 2),
        fifth_wheel=FifthWheel(),
        trailer=Trailer(body="van"),
    )


def truck(number: int, seed: int = 0) -> Truck:
    rng = random.Random(f"{seed}/{number}")
    vehicle = profile(number)
    wearing: list[Wearing] = []
    for index, axle in enumerate(vehicle.axles, start=1):
        # Tires of an axle were fitted together and wear alike, but for an axle now and then that is out of line.
        fresh, until = (18 / 32, 5 / 32) if index == 1 else (24 / 32, 3 / 32)
        tread, a_mile = rng.uniform(until + 3 / 32, fresh), -rng.uniform(0.6, 1.6) / 32 / 10_000
        thick, thinning = rng.uniform(6, 12) / 16, -rng.uniform(0.6, 1.4) / 16 / 20_000
        crooked = rng.random() < 0.1
        for side in SIDES:
            spoken = f"{side} side, axle {cardinal(index)}" if index > 1 else f"{side} side, steer axle"
            lame = 1.8 if crooked and side == "left" else 1.0
            for tire in TIRES if axle.dual else (None,):
                place = Place(side=side, axle=index, tire=tire)
                where = spoken if tire is None else f"{spoken}, {tire} tire"
                rate = a_mile * lame * rng.uniform(0.92, 1.08)
                of = ("tire-tread", "tread-depth", "in", place, where)
                wearing.append(Wearing(*of, tread, rate, until, fresh, Fraction(1, 32), 0.25 / 32, "tires"))
                cold, leak = float(axle.cold_psi or 100), -rng.uniform(0.2, 1) / 1500
                of = ("tire-pressure", "cold-inflation", "psi", place, where)
                wearing.append(Wearing(*of, cold + 3, leak, cold + 1, cold + 5, Fraction(1), 0.5, "tires"))
            place = Place(side=side, axle=index)
            of = ("lining-thickness", "lining-thickness", "in", place, spoken)
            rate = thinning * rng.uniform(0.92, 1.08)
            wearing.append(Wearing(*of, thick, rate, 4.5 / 16, 12 / 16, Fraction(1, 16), 0.01, "service-brakes"))
            of = ("pushrod-stroke", "pushrod-stroke-applied", "in", place, spoken)
            travel, rate = rng.uniform(1, 1.4), rng.uniform(0.5, 2) / 8 / 20_000
            wearing.append(Wearing(*of, travel, rate, 1.7, 1.1, Fraction(1, 8), 0.03, "service-brakes"))
    for item, quantity, low, high, unit in (
        ("air-leak-applied", "air-leak-applied", 1.0, 2.5, "psi/min"),
        ("low-air-warning", "low-air-warning", 62.0, 70.0, "psi"),
        ("governor-cut-out", "governor-cut-out", 121.0, 128.0, "psi"),
    ):
        of = (item, quantity, unit, Place(), "")
        value = rng.uniform(low, high)
        wearing.append(Wearing(*of, value, 0.0, 1e9, value, Fraction(1, 2), 0.4, "service-brakes"))
    return Truck(vehicle, wearing, rng.uniform(80_000, 400_000), rng.uniform(250, 550))


def walks(truck: Truck, days: int, seed: int = 0, *, start: datetime = START) -> Iterator[InspectionRecord | Repair]:
    """A walk each working day, and the certifications in between, in order of time. Changes the truck."""
    rng = random.Random(f"{seed}/{truck.vehicle.id}/walks")
    for day in range(days):
        at = start + timedelta(days=day, minutes=rng.uniform(0, 90))
        if at.weekday() >= 5:
            continue
        for key, (defect, found, record) in list(truck.open.items()):
            if rng.random() < 0.3:
                verdict = "repaired" if rng.random() < 0.9 else "repair-unnecessary"
                when = max(found, at - timedelta(hours=3))
                del truck.open[key]
                given = Certification(key=defect.key, verdict=verdict, name="M. Mechanic", at=when)
                yield Repair(truck.vehicle.id, record, given)
        yield _walk(truck, at, rng)
        truck.odometer += truck.miles_a_day * rng.uniform(0.5, 1.5)


def _walk(truck: Truck, at: datetime, rng: random.Random) -> InspectionRecord:
    truck.count += 1
    id = f"{at:%Y%m%d-%H%M%S}-{truck.vehicle.id}"
    clock = at
    entries: list[EntryRecord] = []
    carried = tuple(
        CarriedRecord(
            key=defect.key, title=defect.title, found=found, record=record,
            answer="still-there" if rng.random() < 0.85 else "repaired",
        )
        for defect, found, record in truck.open.values()
    )  # fmt: skip
    hurried = rng.random() < 0.03
    fresh: list[DefectRecord] = []

    def entry(
        item: str, part: Part, section: str, place: Place, spoken: str, outcome: Outcome, words: str,
        readings: tuple[ReadingRecord, ...] = (), defects: tuple[DefectRecord, ...] = (),
    ) -> None:  # fmt: skip
        nonlocal clock
        seconds = round(rng.uniform(3, 12) * (0.3 if hurried and section == "right" else 1), 2)
        asked, clock = clock, clock + timedelta(seconds=seconds)
        step = f"{item}@{place_id(place)}" if place_id(place) else item
        heard = Evidence(words=words, confidence=round(rng.uniform(0.8, 1), 3), engine="invented", model="invented-1")
        entries.append(
            EntryRecord(
                step=step, item=item, section=section, part=part, title=item.replace("-", " ").capitalize(),
                place=place, spoken_place=spoken, outcome=outcome, asked=asked, answered=clock, seconds=seconds,
                readings=readings, defects=defects, evidence=(heard,),
            )
        )  # fmt: skip

    for item, part, section, fault in _CONDITIONS:
        place = Place()
        if rng.random() < 0.004 and f"{item}#{fault}" not in truck.open:
            defect = _defect(item, "", fault, rng.choice(("watch", "repair", "repair", "repair", "halt")))
            fresh.append(defect)
            entry(item, part, section, place, "", "defect", fault.replace("-", " "), defects=(defect,))
        else:
            entry(item, part, section, place, "", "ok", "okay")
    for wearing in truck.wearing:
        section = {"left": "left", "right": "right"}.get(str(wearing.place.side), "cab")
        if (wearing.value - wearing.until) * (-1 if wearing.rate <= 0 else 1) >= 0 and wearing.rate:
            for other in truck.wearing:  # a shop does both sides of an axle
                if other.item == wearing.item and other.place.axle == wearing.place.axle:
                    other.value = other.fresh
                    other.replaced.append(at)
        true = wearing.value
        wearing.value += wearing.rate * truck.miles_a_day
        if wearing.item in ("tire-tread", "lining-thickness", "pushrod-stroke") and truck.count % 7 != 1:
            entry(wearing.item, wearing.part, section, wearing.place, wearing.spoken, "ok", "okay")
            continue
        steps = round((true + rng.gauss(0, wearing.noise)) / float(wearing.step))
        value = max(Fraction(0), steps * wearing.step)
        reading = ReadingRecord(quantity=wearing.quantity, value=str(value), decimal=float(value), unit=wearing.unit)
        entry(wearing.item, wearing.part, section, wearing.place, wearing.spoken, "reading", str(value), (reading,))

    miles = round(truck.odometer)
    sections = tuple(
        SectionRecord(
            id=id_, title=title, entries=sum(e.section == id_ for e in entries),
            seconds=round(sum(e.seconds or 0 for e in entries if e.section == id_), 2),
        )
        for id_, title in _SECTIONS
    )  # fmt: skip
    driver = DRIVERS[rng.randrange(len(DRIVERS))]
    counts: dict[LevelName, int] = dict.fromkeys(NAMES, 0) | {"within": len(entries)}
    ended = clock + timedelta(seconds=20)
    truck.open.update({defect.key: (defect, ended, id) for defect in fresh})
    return seal(
        InspectionRecord(
            id=id, program="invented", vehicle=truck.vehicle, route="invented", route_title="Invented walk",
            data_sha256="0" * 64, driver=driver, started=at, ended=ended,
            odometer=ReadingRecord(quantity="odometer", value=str(miles), decimal=float(miles), unit="mi"),
            sections=sections, entries=tuple(entries), carried=carried,
            summary=Summary(counts=counts, against=(), watch=(), text=("Invented record.",)),
            sign_off=SignOff(name=driver, at=ended, words=f"signed {driver}"),
            journal=JournalRef(file="journal.jsonl", sha256="0" * 64, events=4 * len(entries)),
        )
    )  # fmt: skip


def _defect(item: str, place: str, fault: str, level: LevelName) -> DefectRecord:
    step = f"{item}@{place}" if place else item
    return DefectRecord(
        key=f"{step}#{fault}", step=step, defect=fault, level=level,
        title=f"{item.replace('-', ' ').capitalize()}: {fault.replace('-', ' ')}",
    )  # fmt: skip
