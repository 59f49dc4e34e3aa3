"""What the records on this device report, short: enough to follow defects from record to record.

Reading and checking a whole record takes tens of milliseconds, and a walk must begin within two seconds however many
there are. So what was read and found good is kept in home/past.json under the hash of the file's bytes: a file that
was changed is read and checked again. The cache may be deleted at any time.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from pydantic import Field, RootModel, ValidationError

from voice.errors import RecordError
from voice.measure.level import LevelName
from voice.record.load import load_record, restore
from voice.record.model import CarriedRecord, EntryRecord, InspectionRecord, Model, ReadingRecord
from voice.record.seal import replace_file
from voice.route.vehicles import profile_files, read_profiles

_FORM = "3:"  # before the hashes in the cache: what was kept in an earlier form is read again
_MILES_A_KM = 1 / 1.609344  # the international mile


class SeenDefect(Model):
    key: str
    title: str
    level: LevelName


class Past(Model):
    """A signed record's part in the life of defects.

    at: when it was signed.
    miles: the odometer, if it was given.
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


class _Cache(RootModel[dict[str, Past | None]]):
    """By the form of what is kept and the SHA-256 of the record file; None for a record that was not signed."""


def past_of(record: InspectionRecord) -> Past | None:
    """None for a record that nobody signed: it reports nothing."""
    if record.sign_off is None:
        return None
    read = {entry.step: _within(entry) for entry in record.entries if entry.outcome == "reading"}
    return Past(
        id=record.id,
        vehicle=record.vehicle.id,
        at=record.ended or record.started,
        carried=record.carried,
        defects=tuple(SeenDefect(key=d.key, title=d.title, level=d.level) for d in record.defects),
        miles=None if record.odometer is None else miles_of(record.odometer),
        measured=tuple(step for step, within in read.items() if within),
        beyond=tuple(step for step, within in read.items() if not within),
        readings={entry.step: entry.readings[0] for entry in record.entries if entry.step in read and entry.readings},
    )


def _within(entry: EntryRecord) -> bool:
    return not entry.defects and all(finding.level == "within" for finding in entry.findings)


def miles_of(odometer: ReadingRecord) -> float:
    return odometer.decimal * (_MILES_A_KM if odometer.unit == "km" else 1.0)


def past_records(home: Path, vehicle_id: str | None = None) -> Iterator[Past]:
    """Signed records in home/sessions, oldest first. Raises RecordError at one that is broken or altered.

    Leaving such a record out in silence would hide the defects that it reports.
    """
    path = home / "past.json"
    known = _read(path)
    found: dict[str, Past | None] = {}
    for file in (home / "sessions").glob("*/record.json"):
        try:
            digest = _FORM + hashlib.sha256(file.read_bytes()).hexdigest()
            found[digest] = known[digest] if digest in known else past_of(load_record(file))
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
    for past in sorted((p for p in found.values() if p is not None), key=lambda past: (past.at, past.id)):
        if vehicle_id in (None, past.vehicle):
            yield past


def _read(path: Path) -> dict[str, Past | None]:
    try:
        return _Cache.model_validate_json(path.read_bytes()).root
    except (OSError, ValidationError):
        return {}


def known_vehicles(home: Path) -> list[str]:
    """Ids of the vehicles that have a profile in the home, or a signed inspection."""
    profiles = read_profiles({file.stem: file for file in profile_files(home / "vehicles")}).vehicles
    return sorted({past.vehicle for past in past_records(home)} | {vehicle.id for vehicle in profiles.values()})
