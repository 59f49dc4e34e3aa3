"""What a record says of each unit: a trailer's part of it is the same, whatever drew it. Pure.

A record names things as they were on that walk: axle four. Here each part is given in the unit's own terms (trailer
axle one), so that it can be laid beside what other records say of that unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from voice.measure.level import Level, level_of
from voice.record.model import (
    CarriedRecord,
    Certification,
    DefectRecord,
    EntryRecord,
    InspectionRecord,
    ReadingRecord,
    Standing,
)
from voice.route.called import both_words, in_unit_words
from voice.route.model import Place
from voice.route.units import (
    TRAILERS_OWN,
    axle_of,
    in_unit,
    on_vehicle,
    own_key,
    trailer_of,
    unit_at,
    units_of,
    usual_unit,
)
from voice.route.vehicle import UnitRef, Vehicle

REVIEW_STEP = "carried@"  # of a question of the review; its number follows, from one on


class OwnEntry(NamedTuple):  # a record has hundreds: a tuple is made three times as fast as a dataclass
    """An entry as its unit has it.

    step, place, spoken: with the unit's own name of the axle.
    """

    entry: EntryRecord
    step: str
    place: Place
    spoken: str


@dataclass(frozen=True, slots=True)
class OwnDefect:
    """A defect of a unit, found or carried.

    key, title: with the unit's own name of the axle.
    """

    key: str
    title: str


@dataclass(frozen=True, slots=True)
class Share:
    """What a record says of one unit.

    level: the worst finding on it, or open defect of an earlier report that still stands; where the vehicle is this one
        unit, also what only the whole vehicle shows (the share of defective brakes).
    odometer: its own: a trailer's is its hubodometer. None if it was not given.
    """

    part: UnitRef
    entries: tuple[OwnEntry, ...]
    found: tuple[tuple[DefectRecord, OwnDefect], ...]
    carried: tuple[tuple[CarriedRecord, OwnDefect], ...]
    level: Level
    odometer: ReadingRecord | None


def own_odometers(
    vehicle: Vehicle, odometer: ReadingRecord | None, hubodometer: ReadingRecord | None
) -> dict[str, ReadingRecord]:
    """By the id of each unit whose own odometer was given: that of the unit at the head, and the trailer's."""
    units = units_of(vehicle)
    trailer = trailer_of(vehicle)
    own = {} if odometer is None else {units[0].id: odometer}
    return own if hubodometer is None or trailer is None else own | {trailer.id: hubodometer}


def shares(record: InspectionRecord) -> tuple[Share, ...]:
    """A share for each unit of the record's vehicle, from the front, also for one of which nothing is said."""
    vehicle = record.vehicle
    units = units_of(vehicle)
    entries: dict[str, list[OwnEntry]] = {unit.id: [] for unit in units}
    found: dict[str, list[tuple[DefectRecord, OwnDefect]]] = {unit.id: [] for unit in units}
    carried: dict[str, list[tuple[CarriedRecord, OwnDefect]]] = {unit.id: [] for unit in units}
    levels = {unit.id: Level.WITHIN for unit in units}
    places: dict[str, Place] = {}
    # Most entries are at an axle, or the vehicle is one unit: then the key need not be looked at.
    at_axle = {unit.first_axle + n: unit for unit in units for n in range(unit.axles)} | (
        {None: units[0]} if len(units) == 1 else {}
    )
    for entry in record.entries:
        place = entry.place
        if entry.item in TRAILERS_OWN and vehicle.trailer is not None:
            place = place.model_copy(update={"unit": "trailer"})
        unit = at_axle.get(place.axle) or unit_at(units, entry.step, place)
        own = own_entry(unit, entry)
        places[entry.step] = place
        places.setdefault(entry.item, place)
        entries[unit.id].append(own)
        for finding in entry.findings:
            levels[unit.id] = max(levels[unit.id], level_of(finding.level))
        for defect in entry.defects:
            levels[unit.id] = max(levels[unit.id], level_of(defect.level))
            title = defect.title.replace(entry.spoken_place, own.spoken, 1) if own.spoken else defect.title
            found[unit.id].append((defect, OwnDefect(own_key(unit, defect.key) or defect.key, title)))
    for each, stands in zip(record.carried, carried_levels(record), strict=True):
        id, own_defect = _carried(vehicle, each, places)
        if id in carried:
            carried[id].append((each, own_defect))
            levels[id] = max(levels[id], stands or Level.WITHIN)
    if len(units) == 1:
        levels[units[0].id] = max(levels[units[0].id], whole_level(record))
    odometers = own_odometers(vehicle, record.odometer, record.hubodometer)
    return tuple(
        Share(
            unit,
            tuple(entries[unit.id]),
            tuple(found[unit.id]),
            tuple(carried[unit.id]),
            levels[unit.id],
            odometers.get(unit.id),
        )
        for unit in units
    )


def whole_level(record: InspectionRecord) -> Level:
    """The worst that the record's summary tells, of the vehicle as a whole too."""
    summary = record.summary
    return max((level_of(each.level) for each in (*summary.against, *summary.watch)), default=Level.WITHIN)


def carried_levels(record: InspectionRecord) -> tuple[Level | None, ...]:
    """How bad each of `record.carried` is; None for one that is settled, or that this walk has found again.

    They are no findings of the entries: the summary names them by their step in the review. One that the driver called
    still there is never left out: if nothing says its level it is for repair, as in voice.record.lives.
    """
    summary = record.summary
    said = {each.step: level_of(each.level) for each in (*summary.against, *summary.watch)}
    again = {defect.step for defect in record.defects} if record.carried else set()
    found: list[Level | None] = []
    for number, carried in enumerate(record.carried, start=1):
        level = said.get(f"{REVIEW_STEP}{number}")
        if level is None and carried.answer == "still-there":
            known = key_in(record.vehicle, carried).partition("#")[0] in again
            level = None if known else Level.REPAIR
        found.append(level)
    return tuple(found)


def own_entry(unit: UnitRef, entry: EntryRecord) -> OwnEntry:
    """An entry as its unit has it."""
    if unit.first_axle == 1:
        return OwnEntry(entry, entry.step, entry.place, entry.spoken_place)
    step = own_key(unit, entry.step) or entry.step
    axle = entry.place.axle
    if axle is None:
        return OwnEntry(entry, step, entry.place, entry.spoken_place)
    own = axle - unit.first_axle + 1
    place = entry.place.model_copy(update={"axle": own})
    return OwnEntry(entry, step, place, in_unit_words(entry.spoken_place, axle, own))


def _carried(vehicle: Vehicle, carried: CarriedRecord, places: Mapping[str, Place]) -> tuple[str, OwnDefect]:
    """The unit's id, and the defect as it has it."""
    own = carried.key
    if carried.unit:
        id = carried.unit
        key = today_key(vehicle, id, own)
    else:
        # Before units: the key is the vehicle's. One without an axle is of the unit at which its item is asked.
        key = own
        step = key.partition("#")[0]
        item = step.partition("@")[0]
        known = places.get(step) or places.get(item)
        id, own = in_unit(vehicle, key, known or Place(unit=usual_unit(item) if vehicle.trailer else None))
    return id, OwnDefect(own, in_unit_words(carried.title, axle_of(key), axle_of(own)))


def today_key(vehicle: Vehicle, unit: str, key: str) -> str:
    """A unit's key as this combination has it; as it is, if it names no unit or one that is not there."""
    try:
        return on_vehicle(vehicle, unit, key) if unit else key
    except KeyError:
        return key


def key_in(vehicle: Vehicle, said: CarriedRecord | Certification) -> str:
    """The key of a carried or certified defect as the record's other entries would have it."""
    return today_key(vehicle, said.unit, said.key)


def in_print(record: InspectionRecord) -> InspectionRecord:
    """The record with both names of a trailer's axle, "axle four (trailer axle one)": for what is printed of it."""
    vehicle = record.vehicle
    if trailer_of(vehicle) is None:
        return record

    def named(text: str) -> str:
        return both_words(text, vehicle)

    def details(of: EntryRecord | DefectRecord) -> dict[str, str]:  # all others are the driver's own words
        return of.details | ({"told": named(of.details["told"])} if "told" in of.details else {})

    def defect(found: DefectRecord) -> DefectRecord:
        return found.model_copy(update={"title": named(found.title), "details": details(found)})

    def entry(each: EntryRecord) -> EntryRecord:
        found = {"spoken_place": named(each.spoken_place), "details": details(each)}
        return each.model_copy(update={**found, "defects": tuple(map(defect, each.defects))})

    def standing(each: Standing) -> Standing:
        return each.model_copy(update={"name": named(each.name)})

    summary, against, watch = record.summary, record.summary.against, record.summary.watch
    return record.model_copy(
        update={
            "entries": tuple(map(entry, record.entries)),
            "not_due": tuple(each.model_copy(update={"title": named(each.title)}) for each in record.not_due),
            "carried": tuple(each.model_copy(update={"title": named(each.title)}) for each in record.carried),
            "summary": summary.model_copy(
                update={"against": tuple(map(standing, against)), "watch": tuple(map(standing, watch))}
            ),
        }
    )
