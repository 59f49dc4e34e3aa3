"""Walks of tractors and trailers that change partners. All invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from functools import cache

from voice.measure.cardinal import cardinal
from voice.measure.level import LevelName
from voice.record.model import (
    CarriedRecord,
    DefectRecord,
    EntryRecord,
    InspectionRecord,
    JournalRef,
    ReadingRecord,
    SectionRecord,
    SignOff,
    Summary,
)
from voice.record.seal import seal
from voice.route import load_vehicle, vehicle_files
from voice.route.model import Place
from voice.route.units import combine, on_vehicle, units_of
from voice.route.vehicle import Vehicle


@cache
def tractor(number: int, drives: int = 2) -> Vehicle:
    """drives: how many drive axles it has: the trailer's first axle is the one after."""
    made = load_vehicle(vehicle_files()["tractor-twelve"])
    axles = (made.axles[0], *(made.axles[1] for _ in range(drives)))
    return made.model_copy(
        update={
            "id": f"tractor-{number}",
            "name": f"tractor {cardinal(number)}",
            "plate": f"T {number}",
            "axles": axles,
        }
    )


@cache
def trailer(number: int) -> Vehicle:
    made = load_vehicle(vehicle_files()["trailer-forty"])
    return made.model_copy(
        update={"id": f"trailer-{number}", "name": f"trailer {cardinal(number)}", "plate": f"R {number}"}
    )


@dataclass(frozen=True, slots=True)
class Found:
    """What is found at one unit, in the unit's own terms.

    axle: None is the unit as a whole.
    tread: a reading of it, in 32nds of an inch; None is the defect "worn".
    """

    unit: str
    axle: int | None = None
    tread: int | None = None
    level: LevelName = "repair"

    @property
    def step(self) -> str:
        return f"tire-tread@left-{self.axle}" if self.axle else f"frame@{self.unit.partition('-')[0]}"

    @property
    def key(self) -> str:
        return f"{self.step}#worn"


def walk(
    id: str,
    at: datetime,
    vehicle: Vehicle,
    found: Sequence[Found],
    carried: Sequence[CarriedRecord] = (),
    odometer: int | None = None,
    hubodometer: int | None = None,
) -> InspectionRecord:
    """A sealed record as a walk of this combination leaves it: with the combination's numbers of the axles."""
    entries = tuple(_entry(vehicle, each) for each in found)
    levels = [defect.level for entry in entries for defect in entry.defects]
    return seal(
        InspectionRecord(
            id=id, program="test", vehicle=vehicle, route="test", route_title="Test", data_sha256="0" * 64,
            driver="A. Sample", started=at - timedelta(minutes=1), ended=at,
            odometer=_miles(odometer), hubodometer=_miles(hubodometer),
            sections=(SectionRecord(id="all", title="All", seconds=60, entries=len(entries)),),
            entries=entries, carried=tuple(carried),
            summary=Summary(counts={"repair": len(levels)}, against=(), watch=()),
            sign_off=SignOff(name="A. Sample", at=at, words="signed"),
            journal=JournalRef(file="journal.jsonl", sha256="0" * 64, events=1),
        )
    )  # fmt: skip


def _miles(read: int | None) -> ReadingRecord | None:
    return None if read is None else ReadingRecord(quantity="odometer", value=str(read), decimal=read, unit="mi")


def _entry(vehicle: Vehicle, found: Found) -> EntryRecord:
    unit = next(each for each in units_of(vehicle) if each.id == found.unit)
    axle = None if found.axle is None else found.axle + unit.first_axle - 1
    place = Place(unit=unit.unit, side="left" if axle else None, axle=axle)
    spoken = f"left side, axle {cardinal(axle)}" if axle else unit.unit
    step = on_vehicle(vehicle, unit.id, found.step)
    common = {
        "step": step, "item": step.partition("@")[0], "section": "all", "part": "tires", "title": "Tread",
        "place": place, "spoken_place": spoken,
    }  # fmt: skip
    if found.tread is not None:
        value = Fraction(found.tread, 32)
        reading = ReadingRecord(quantity="tread-depth", value=str(value), decimal=float(value), unit="in")
        return EntryRecord.model_validate({**common, "outcome": "reading", "readings": (reading,)})
    defect = DefectRecord(
        key=f"{step}#worn", step=step, defect="worn", title=f"Tread, {spoken}: worn", level=found.level
    )
    return EntryRecord.model_validate({**common, "outcome": "defect", "defects": (defect,)})


def coupled(ahead: Vehicle, behind: Vehicle | None) -> Vehicle:
    return ahead if behind is None else combine(ahead, behind)
