"""Defects that were reported and not yet certified as repaired, carried from record to record of one vehicle.

A defect is opened by the first record that reports it and closed by a certification alone (49 CFR 396.11(a)(3)). What
a driver says of it at the next review ("repaired", "still there") is kept and shown, but does not close it: a driver's
word is not the carrier's certification. Nor does a later walk that finds the item in order: the repair still has to be
certified. Found again after a certification, it is open again, as a new defect. It stays open when the record that
reported it is deleted, as long as a later one carries it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from voice.errors import SetupError
from voice.measure.level import LevelName, level_of
from voice.record.model import Certification, InspectionRecord
from voice.record.past import Past, past_records
from voice.record.repairs import Repair, read_repairs


@dataclass(frozen=True, slots=True)
class OpenDefect:
    """A defect that waits for its certification.

    key: item@place#defect. found: when first reported since the last certification. record: the record that did.
    level: the worst since then. times_seen: in how many records, reviews that answered "still there" included.
    last: the record that mentions it last. said: what the driver said of it at the last review, if anything.
    """

    key: str
    title: str
    found: datetime
    record: str
    level: LevelName
    times_seen: int
    last: str
    said: str | None = None


def _worse(one: LevelName, two: LevelName) -> LevelName:
    return max(one, two, key=level_of)


def fold(records: Iterable[Past], repairs: Iterable[Repair]) -> list[OpenDefect]:
    """Open defects of one vehicle, the worst and oldest first. records: oldest first, of this vehicle only."""
    closed: dict[str, list[datetime]] = {}
    for repair in repairs:
        closed.setdefault(repair.certification.key, []).append(repair.certification.at)
    still: dict[str, OpenDefect] = {}
    for record in records:
        still = {
            key: defect
            for key, defect in still.items()
            if not any(defect.found <= at <= record.at for at in closed.get(key, ()))
        }
        mentioned: set[str] = set()
        for carried in record.carried:
            known = still.get(carried.key)
            if known is None and not any(carried.found <= at <= record.at for at in closed.get(carried.key, ())):
                # The record that reported it is gone (three months are over), but nobody has certified it.
                known = OpenDefect(carried.key, carried.title, carried.found, carried.record, "repair", 1, record.id)
                still[carried.key] = known
            if known is not None and carried.answer != "not-asked":
                seen = carried.answer == "still-there"
                mentioned |= {carried.key} if seen else set()
                still[carried.key] = replace(
                    known, said=carried.answer, last=record.id, times_seen=known.times_seen + seen
                )
        for defect in record.defects:
            known = still.get(defect.key)
            if known is None:
                still[defect.key] = OpenDefect(
                    defect.key, defect.title, record.at, record.id, defect.level, 1, record.id
                )
            else:
                again = defect.key not in mentioned
                still[defect.key] = replace(
                    known,
                    level=_worse(known.level, defect.level),
                    times_seen=known.times_seen + again,
                    last=record.id,
                )
            mentioned.add(defect.key)
    waiting = [d for d in still.values() if not any(at >= d.found for at in closed.get(d.key, ()))]
    return sorted(waiting, key=lambda defect: (-level_of(defect.level), defect.found, defect.key))


def open_defects(home: Path, vehicle_id: str) -> list[OpenDefect]:
    """What is open on a vehicle, the worst and oldest first. Raises RecordError."""
    repairs = [repair for repair in read_repairs(home) if repair.vehicle == vehicle_id]
    return fold(past_records(home, vehicle_id), repairs)


def certifications_since(home: Path, vehicle_id: str, *, session: str = "") -> tuple[Certification, ...]:
    """Certifications given after the vehicle's last signed record: those the next driver's review relies on.

    session: id of the record being made, which does not count as the last one.
    """
    last: datetime | None = None
    for record in past_records(home, vehicle_id):
        if record.id != session:
            last = record.at
    return tuple(
        repair.certification
        for repair in read_repairs(home)
        if repair.vehicle == vehicle_id and (last is None or repair.certification.at >= last)
    )


def certifications_of(home: Path, record: InspectionRecord) -> tuple[Certification, ...]:
    """Certifications of the record's own defects and of those it carried, for its printed report."""
    if record.ended is None:
        return ()
    keys = {defect.key for defect in record.defects} | {carried.key for carried in record.carried}
    first: dict[str, Certification] = {}
    for repair in read_repairs(home):
        certification = repair.certification
        if repair.vehicle == record.vehicle.id and certification.key in keys and certification.at >= record.ended:
            first.setdefault(certification.key, certification)
    return tuple(first.values())


def find_open(home: Path, key: str, vehicle_id: str | None = None) -> tuple[str, OpenDefect]:
    """The vehicle and the open defect of this key.

    Raises SetupError if there is none, or more than one; RecordError if a record cannot be read.
    """
    vehicles = {past.vehicle for past in past_records(home, vehicle_id)}
    hits = [(name, defect) for name in sorted(vehicles) for defect in open_defects(home, name) if defect.key == key]
    if not hits:
        where = f" on vehicle {vehicle_id}" if vehicle_id else ""
        raise SetupError(f"There is no open defect '{key}'{where}.", "'gladhand repairs' lists those there are.")
    if len(hits) > 1:
        names = ", ".join(name for name, _ in hits)
        raise SetupError(f"'{key}' is open on several vehicles: {names}.", "Say which one with --vehicle.")
    return hits[0]
