"""Defects that were reported and not yet certified as repaired, carried from record to record of one unit.

A trailer's defect goes with the trailer to the next tractor and driver, and is not asked about behind the tractor that
it left: by 49 CFR 396.13(c) a driver need not sign for the listed defects of a towed unit that is no longer part of the
combination (read in a copy of the current text).

A defect is opened by the first record that reports it and closed by a certification alone (49 CFR 396.11(a)(3)). What
a driver says of it at the next review ("repaired", "still there") is kept and shown, but does not close it: a driver's
word is not the carrier's certification. Nor does a later walk that finds the item in order: the repair still has to be
certified. Found again after a certification, it is open again, as a new defect. It stays open when the record that
reported it is deleted, as long as a later one carries it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from voice.errors import SetupError
from voice.measure.level import Level, LevelName, level_of
from voice.record.by_unit import key_in, today_key
from voice.record.lives import Fact, FactKind, lives
from voice.record.model import Certification, InspectionRecord
from voice.record.past import Past, past_records, pasts_of, units_named
from voice.record.repairs import Repair, read_repairs, repair_fact, repair_sha256, standing
from voice.route.units import own_key, units_of
from voice.route.vehicle import Vehicle


@dataclass(frozen=True, slots=True)
class OpenDefect:
    """A defect that waits for its certification.

    key: item@place#defect, in the unit's own terms.
    found: when first reported since the last certification.
    record: the record that did.
    level: the worst since then.
    times_seen: in how many records, reviews that answered "still there" included.
    last: the record that mentions it last.
    said: what the driver said of it at the last review, if anything.
    unit: whose it is; empty where nobody asked by unit.
    """

    key: str
    title: str
    found: datetime
    record: str
    level: LevelName
    times_seen: int
    last: str
    said: str | None = None
    unit: str = ""


# What a review's answer says of a defect; "not-asked" says nothing.
_SAID: dict[str, FactKind] = {
    "still-there": "still-there",
    "repaired": "said-repaired",
    "not-on-this-vehicle": "said-not-here",
}


def fold(records: Iterable[Past], repairs: Iterable[Repair]) -> list[OpenDefect]:
    """Open defects of one unit, the worst and oldest first.

    records, repairs: of this unit only, in its own terms.
    """
    facts: dict[str, list[Fact]] = {}
    for fact in (*_facts(list(records)), *map(_certified, repairs)):
        facts.setdefault(fact.defect, []).append(fact)
    waiting = [life for said in facts.values() for life in lives(said) if life.closed is None]
    return [
        OpenDefect(
            life.defect, life.title, life.opened, life.first, life.level.word, life.times, life.last, life.said
        )
        for life in sorted(waiting, key=lambda life: (-life.level, life.opened, life.defect))
    ]  # fmt: skip


def _facts(records: Sequence[Past]) -> Iterator[Fact]:
    here = {record.id for record in records}
    for record in records:
        source = f"record:{record.id}"
        for defect in record.defects:
            level = level_of(defect.level)
            yield Fact(defect.key, "found", source, record.at, defect.title, level)
        for carried in record.carried:
            if carried.record not in here:
                # The record that reported it is gone (three months are over), but nobody has certified it.
                origin = f"record:{carried.record}"
                yield Fact(carried.key, "found", origin, carried.found, carried.title, Level.REPAIR)
            if (kind := _SAID.get(carried.answer)) is not None:
                yield Fact(carried.key, kind, source, record.at, carried.title)


def _certified(repair: Repair) -> Fact:
    return repair_fact(repair, repair_sha256(repair))


def certified_of(unit: str, repairs: Iterable[Repair], pasts: Iterable[Past]) -> list[Repair]:
    """The certifications of one unit's defects, in its own terms.

    pasts: of this unit. Of a combination in which it was a part, a certification of before units may name the
    combination; one whose key says neither axle nor unit then counts for each of its units, and of those that have no
    such defect it says nothing.
    """
    parts = {past.whole: past.part for past in pasts if past.part is not None}
    found = []
    for repair in repairs:
        if repair.vehicle == unit:
            found.append(repair)
        elif (part := parts.get(repair.vehicle)) is not None:
            key = own_key(part, repair.certification.key)
            if key is not None:
                given = repair.certification.model_copy(update={"key": key})
                found.append(Repair(unit, repair.record, given))
    return found


def open_defects(home: Path, vehicle: str | Vehicle) -> list[OpenDefect]:
    """What is open on a vehicle, unit by unit, of each the worst and oldest first. Raises RecordError.

    vehicle: as it is put together now, or the id of a unit or of a combination.
    """
    repairs = standing(read_repairs(home))
    every = list(past_records(home))
    units = _ids(vehicle, every)
    return [replace(defect, unit=unit) for unit in units for defect in _open(unit, every, repairs)]


def _ids(vehicle: str | Vehicle, pasts: Iterable[Past]) -> tuple[str, ...]:
    if isinstance(vehicle, Vehicle):
        return tuple(unit.id for unit in units_of(vehicle))
    return units_named(vehicle, pasts) or (vehicle,)


def _open(unit: str, pasts: Iterable[Past], repairs: Iterable[Repair]) -> list[OpenDefect]:
    own = [past for past in pasts if past.vehicle == unit]
    return fold(own, certified_of(unit, repairs, own))


def certifications_since(home: Path, vehicle: str | Vehicle, *, session: str = "") -> tuple[Certification, ...]:
    """Certifications given after each unit's last signed record: those the next driver's review relies on.

    vehicle: as in open_defects.
    session: id of the record being made, which does not count as the last one.
    """
    repairs = standing(read_repairs(home))
    every = list(past_records(home))
    units = _ids(vehicle, every)
    found: dict[Certification, str] = {}
    for unit in units:
        own = [past for past in every if past.vehicle == unit and past.id != session]
        last = own[-1].at if own else None
        had = {d.key for past in own for d in past.defects} | {c.key for past in own for c in past.carried}
        for repair in certified_of(unit, repairs, own):
            given = repair.certification
            if not isinstance(given, Certification):
                continue  # none is left by standing
            if (last is None or given.at >= last) and (given not in found or given.key in had):
                found[given] = unit  # one that may be either unit's is that one's which had the defect
    return tuple(given if len(units) == 1 else given.model_copy(update={"unit": unit}) for given, unit in found.items())


def certifications_of(home: Path, record: InspectionRecord) -> tuple[Certification, ...]:
    """Certifications of the record's own defects and of those it carried, for its printed report: by its own keys."""
    if record.ended is None:
        return ()
    vehicle = record.vehicle
    keys = {defect.key for defect in record.defects} | {key_in(vehicle, carried) for carried in record.carried}
    repairs = standing(read_repairs(home))
    first: dict[str, Certification] = {}
    for past in pasts_of(record):
        for repair in certified_of(past.vehicle, repairs, [past]):
            given = repair.certification
            key = today_key(vehicle, past.vehicle, given.key)
            if key in keys and given.at >= record.ended and isinstance(given, Certification):
                first.setdefault(key, given.model_copy(update={"key": key}))
    return tuple(first.values())


def find_open(home: Path, key: str, vehicle_id: str | None = None) -> tuple[str, OpenDefect]:
    """The unit and the open defect of this key.

    key: the unit's own; where a combination is named, the combination's.

    Raises SetupError if there is none, or more than one; RecordError if a record cannot be read.
    """
    every = list(past_records(home, vehicle_id))
    repairs = standing(read_repairs(home))
    parts = {past.vehicle: past.part for past in every if past.whole == vehicle_id} if vehicle_id else {}
    hits = []
    for unit in sorted({past.vehicle for past in every}):
        part = parts.get(unit)
        wanted = key if part is None else own_key(part, key)
        hits += [(unit, replace(found, unit=unit)) for found in _open(unit, every, repairs) if found.key == wanted]
    if not hits:
        where = f" on vehicle {vehicle_id}" if vehicle_id else ""
        raise SetupError(f"There is no open defect '{key}'{where}.", "'gladhand repairs' lists those there are.")
    if len(hits) > 1:
        names = ", ".join(name for name, _ in hits)
        raise SetupError(f"'{key}' is open on several vehicles: {names}.", "Say which one with --vehicle.")
    return hits[0]
