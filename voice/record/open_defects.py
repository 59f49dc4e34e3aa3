"""Defects that were reported and not yet certified as repaired, carried from record to record of one vehicle.

A defect is opened by the first record that reports it and closed by a certification alone (49 CFR 396.11(a)(3)). What
a driver says of it at the next review ("repaired", "still there") is kept and shown, but does not close it: a driver's
word is not the carrier's certification. Nor does a later walk that finds the item in order: the repair still has to be
certified. Found again after a certification, it is open again, as a new defect. It stays open when the record that
reported it is deleted, as long as a later one carries it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from voice.errors import SetupError
from voice.measure.level import Level, LevelName, level_of
from voice.record.lives import Fact, FactKind, lives
from voice.record.model import Certification, InspectionRecord
from voice.record.past import Past, past_records
from voice.record.repairs import Repair, read_repairs, repair_fact, repair_sha256, standing


@dataclass(frozen=True, slots=True)
class OpenDefect:
    """A defect that waits for its certification.

    key: item@place#defect.
    found: when first reported since the last certification.
    record: the record that did.
    level: the worst since then.
    times_seen: in how many records, reviews that answered "still there" included.
    last: the record that mentions it last.
    said: what the driver said of it at the last review, if anything.
    """

    key: str
    title: str
    found: datetime
    record: str
    level: LevelName
    times_seen: int
    last: str
    said: str | None = None


# What a review's answer says of a defect; "not-asked" says nothing.
_SAID: dict[str, FactKind] = {
    "still-there": "still-there",
    "repaired": "said-repaired",
    "not-on-this-vehicle": "said-not-here",
}


def fold(records: Iterable[Past], repairs: Iterable[Repair]) -> list[OpenDefect]:
    """Open defects of one vehicle, the worst and oldest first.

    records: of this vehicle only.
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
    return tuple(given for given in standing(home, vehicle_id) if last is None or given.at >= last)


def certifications_of(home: Path, record: InspectionRecord) -> tuple[Certification, ...]:
    """Certifications of the record's own defects and of those it carried, for its printed report."""
    if record.ended is None:
        return ()
    keys = {defect.key for defect in record.defects} | {carried.key for carried in record.carried}
    first: dict[str, Certification] = {}
    for certification in standing(home, record.vehicle.id):
        if certification.key in keys and certification.at >= record.ended:
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
