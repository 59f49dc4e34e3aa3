"""The record of a day: which inspections were made, what they found, which looks at the cargo were in time."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from voice.data.fields import Amount, Count, Id, Key, Moment, Name, RecordId, Sha256, Text, Title, VehicleId
from voice.day.duty import DutyLine
from voice.day.spans import Verdict
from voice.measure.level import LevelName
from voice.record.model import MANY, Certification, DeviceSignature, Model

SCHEMA_VERSION = 1


class DayUnit(Model):
    """A unit that was inspected. name: as it is called."""

    id: VehicleId
    name: Name


AgainstKind = Literal["found", "still-there", "not-answered", "beyond", "whole"]


class DayAgainst(Model):
    """A thing that stood against leaving when an inspection was signed.

    kind: found (a defect); still-there (a defect of an earlier report, says the driver); not-answered (such a defect,
        of which the driver did not say whether it is repaired); beyond (a reading beyond a limit); whole (a limit for
        the vehicle as a whole, as the share of defective brakes).
    title: where and what.
    """

    kind: AgainstKind
    title: Text
    level: LevelName


class DayInspection(Model):
    """An inspection of the day, named by its record.

    kind: id; None in a record of before there were kinds.
    title: of the kind, else of the route.
    units: ids.
    seconds: who signed it too.
    miles: the odometer, if it was given.
    defects, not_inspected: how many; defects: found, whether or not they stand against leaving.
    against: what stood against leaving, the worst first, as many as the driver was told.
    watched: how many defects were found that do not stand against it. Days of before these two have neither.
    level: the worst that was found.
    """

    record: RecordId
    record_sha256: Sha256
    kind: Id | None
    title: Title
    vehicle: Name
    units: tuple[VehicleId, ...]
    driver: Name
    seconds: tuple[Name, ...] = ()
    started: Moment
    ended: Moment
    miles: Amount | None = None
    defects: Count = 0
    level: LevelName = "within"
    not_inspected: Count = 0
    against: tuple[DayAgainst, ...] = Field((), max_length=MANY, exclude_if=lambda against: not against)
    watched: Count = Field(0, exclude_if=lambda count: not count)


class DayDefect(Model):
    """A defect that the day's inspections found.

    key: of the unit.
    records: that found it, the first first.
    driver: who found it first.
    certification: given since it was found, if any.
    """

    key: Key
    unit: VehicleId
    title: Title
    level: LevelName
    records: tuple[RecordId, ...] = Field(min_length=1)
    driver: Name
    found: Moment
    certification: Certification | None = None


class DayCarried(Model):
    """A defect of an earlier report, and what a driver said of it at the review (49 CFR 396.13).

    record: in which it was said.
    """

    key: Key
    unit: VehicleId
    title: Title
    found: Moment
    record: RecordId
    driver: Name
    answer: Literal["repaired", "still-there", "not-on-this-vehicle", "not-asked"]


class DayCheck(Model):
    """From one look at the cargo to the next, or to the end of the trip (49 CFR 392.9(b)).

    since: the record of the look it begins with.
    at, miles: when and where that was.
    first: whether it begins the trip.
    due: by when the next one was due, by the clock.
    due_mile: by which odometer reading.
    change: the change of duty that asked for one.
    look: the record of the next look; None if there was none.
    looked, look_miles: when and where that was, or where the trip ended.
    verdict: met; late; missed (none was made until the trip ended); not-shown (odometer or hours of driving are not
        known); not-due (the trip ended before); sealed (none is asked for); open (the trip goes on).
    sections: the rules it was judged by.
    """

    since: RecordId
    at: Moment
    miles: Amount | None = None
    first: bool
    due: Moment
    due_mile: Amount | None = None
    change: DutyLine | None = None
    look: RecordId | None = None
    looked: Moment | None = None
    look_miles: Amount | None = None
    verdict: Verdict
    sections: tuple[Name, ...]


class DayRecord(Model):
    """A day of a driver or of units.

    id: unique for what it holds.
    driver, of_units: of whom and what it was asked; None and empty: of all.
    record_sha256: over the canonical JSON (RFC 8785) with this field empty and device null.
    """

    schema_version: Literal[1] = 1
    document: Literal["day"] = "day"
    id: RecordId
    program: Name
    date: date
    made: Moment
    driver: Name | None = None
    of_units: tuple[VehicleId, ...] = ()
    drivers: tuple[Name, ...] = ()
    units: tuple[DayUnit, ...] = ()
    inspections: tuple[DayInspection, ...] = Field((), max_length=MANY)
    checks: tuple[DayCheck, ...] = Field((), max_length=MANY)
    duties: tuple[DutyLine, ...] = Field((), max_length=MANY)
    defects: tuple[DayDefect, ...] = Field((), max_length=MANY)
    carried: tuple[DayCarried, ...] = Field((), max_length=MANY)
    record_sha256: Sha256 | Literal[""] = ""
    device: DeviceSignature | None = None
