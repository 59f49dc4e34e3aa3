"""What the records on this device report, short: enough to follow defects from record to record.

Reading and checking a whole record takes tens of milliseconds, and a walk must begin within two seconds however many
there are. So what was read and found good is kept in home/past.json under the hash of the file's bytes: a file that
was changed is read and checked again. The cache may be deleted at any time.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path

from pydantic import Field, RootModel, ValidationError

from voice.errors import RecordError
from voice.measure.level import LevelName
from voice.record.by_unit import Share, shares
from voice.record.load import load_record, restore
from voice.record.model import CarriedRecord, EntryRecord, InspectionRecord, Model, ReadingRecord
from voice.record.seal import replace_file
from voice.route.units import units_of
from voice.route.vehicle import UnitRef
from voice.route.vehicles import profile_files, read_profiles

_FORM = "5:"  # before the hashes in the cache: what was kept in an earlier form is read again
_MILES_A_KM = 1 / 1.609344  # the international mile


class SeenDefect(Model):
    key: str
    title: str
    level: LevelName


class Past(Model):
    """What a signed record says of one unit, in the unit's own terms (voice.record.by_unit).

    vehicle: the unit's id.
    at: when it was signed.
    miles: its own odometer; of a trailer whose hubodometer was not given, the odometer of the unit at the head.
    lead: the unit whose odometer that is; empty for the unit itself.
    whole, part: the combination it was in, and which part of it; empty and None where the vehicle was this one unit.
    measured: steps with a reading, all of them well within the limits.
    beyond: with one that was not.
    readings: what the steps read.
    """

    id: str
    vehicle: str
    at: datetime
    carried: tuple[CarriedRecord, ...] = ()
    defects: tuple[SeenDefect, ...] = ()
    miles: float | None = None
    measured: tuple[str, ...] = ()
    beyond: tuple[str, ...] = ()
    readings: dict[str, ReadingRecord] = Field(default_factory=dict)
    lead: str = ""
    whole: str = ""
    part: UnitRef | None = None


class _Cache(RootModel[dict[str, tuple[Past, ...]]]):
    """By the form of what is kept and the SHA-256 of the record file; nothing for a record that was not signed."""


def pasts_of(record: InspectionRecord) -> tuple[Past, ...]:
    """One for each unit of the record's vehicle; none for a record that nobody signed: it reports nothing."""
    if record.sign_off is None:
        return ()
    parts = shares(record)
    together = len(parts) > 1
    return tuple(
        _past(record, share).model_copy(
            update={
                "lead": "" if share is parts[0] or share.odometer is not None else parts[0].part.id,
                "whole": record.vehicle.id if together else "",
                "part": share.part if together else None,
            }
        )
        for share in parts
    )


def _past(record: InspectionRecord, share: Share) -> Past:
    odometer = share.odometer or record.odometer
    read = {own.step: own.entry for own in share.entries if own.entry.outcome == "reading"}
    return Past(
        id=record.id,
        vehicle=share.part.id,
        at=record.ended or record.started,
        carried=tuple(
            said.model_copy(update={"unit": "", "key": own.key, "title": own.title}) for said, own in share.carried
        ),
        defects=tuple(SeenDefect(key=own.key, title=own.title, level=found.level) for found, own in share.found),
        miles=None if odometer is None else miles_of(odometer),
        measured=tuple(step for step, entry in read.items() if _within(entry)),
        beyond=tuple(step for step, entry in read.items() if not _within(entry)),
        readings={step: entry.readings[0] for step, entry in read.items() if entry.readings},
    )


def _within(entry: EntryRecord) -> bool:
    return not entry.defects and all(finding.level == "within" for finding in entry.findings)


def miles_of(odometer: ReadingRecord) -> float:
    return odometer.decimal * (_MILES_A_KM if odometer.unit == "km" else 1.0)


def past_records(home: Path, vehicle_id: str | None = None) -> Iterator[Past]:
    """What the signed records in home/sessions say of each unit, oldest first. Raises RecordError at a broken one.

    vehicle_id: only of this unit, or of the units of this combination.

    Leaving such a record out in silence would hide the defects that it reports.
    """
    path = home / "past.json"
    known = _read(path)
    found: dict[str, tuple[Past, ...]] = {}
    for file in (home / "sessions").glob("*/record.json"):
        try:
            digest = _FORM + hashlib.sha256(file.read_bytes()).hexdigest()
            found[digest] = known[digest] if digest in known else pasts_of(load_record(file))
        except OSError as error:
            raise RecordError(f"{file} cannot be read: {error.strerror}.", "Check its permissions.") from error
        except RecordError as error:
            raise RecordError(
                f"{error.message} Defects that it reports cannot be carried on.",
                restore(file),
            ) from error
    if found.keys() != known.keys():
        with contextlib.suppress(RecordError):  # a full disk or a home that is only to be read: slower, not wrong
            replace_file(path, _Cache(found).model_dump_json().encode())
    every = [past for pasts in found.values() for past in pasts]
    units = None if vehicle_id is None else {vehicle_id, *units_named(vehicle_id, every)}
    for past in sorted(every, key=lambda past: (past.at, past.id)):
        if units is None or past.vehicle in units:
            yield past


def units_named(vehicle_id: str, pasts: Iterable[Past]) -> tuple[str, ...]:
    """The units of a combination, by its id; none for the id of a unit itself, and for one that no record is of."""
    parts = {past.vehicle: past.part for past in pasts if past.whole == vehicle_id and past.part is not None}
    return tuple(sorted(parts, key=lambda unit: parts[unit].first_axle))


def _read(path: Path) -> dict[str, tuple[Past, ...]]:
    try:
        return _Cache.model_validate_json(path.read_bytes()).root
    except (OSError, ValidationError):
        return {}


def known_vehicles(home: Path) -> list[str]:
    """Ids of the units that have a profile in the home, or a signed inspection."""
    profiles = read_profiles({file.stem: file for file in profile_files(home / "vehicles")}).vehicles
    own = {id for vehicle in profiles.values() for id in (vehicle.id, *(unit.id for unit in units_of(vehicle)))}
    return sorted({past.vehicle for past in past_records(home)} | own)
