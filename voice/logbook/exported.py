"""What an export holds: a row of each of its tables, with its columns."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from voice.measure.level import LevelName


class Exported(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class VehicleOut(Exported):
    vehicle: str
    name: str
    kind: str | None
    plate: str | None


class RecordOut(Exported):
    record: str
    sha256: str = Field(description="Hash of the inspection record (RFC 8785 canonical JSON).")
    vehicle: str = Field(description="The unit at the head; record_units has them all.")
    route: str
    kind: str | None = Field(description="The kind of inspection; null where the record does not say.")
    kind_title: str | None
    driver: str | None
    started: datetime
    ended: datetime | None
    odometer_mi: float | None
    level: LevelName = Field(description="The worst finding.")
    level_printed: str = Field(description="Its name, as it is printed everywhere.")
    defects: int
    pruned: datetime | None = Field(description="When the record's text and names were removed.")


class RecordUnitOut(Exported):
    """A unit (a truck, a bus, a tractor, a trailer) that a record is about."""

    record: str
    vehicle: str
    level: LevelName = Field(description="The worst finding on this unit.")
    level_printed: str
    defects: int


class ReadingOut(Exported):
    record: str
    vehicle: str
    at: datetime
    odometer_mi: float | None
    item: str
    place: str = Field(
        description="left-3-outer: side, axle of the unit from its front, tire; empty for the whole unit."
    )
    quantity: str
    name: str
    value: float
    unit: str
    printed: str = Field(description="The reading as its report prints it.")


class DefectOut(Exported):
    vehicle: str
    defect: str = Field(description="item@place#defect")
    number: int = Field(description="Counts the lives of a defect that came back.")
    title: str
    level: LevelName
    level_printed: str
    opened: datetime
    seen: datetime
    times: int
    first_record: str
    last_record: str
    said_repaired: datetime | None
    closed: datetime | None
    verdict: str | None
    certified_by: str | None


class CertificationOut(Exported):
    vehicle: str
    defect: str
    verdict: str
    name: str
    at: datetime
    remark: str


class AnswerOut(Exported):
    record: str
    vehicle: str
    at: datetime
    step: str
    item: str
    section: str
    outcome: str
    choice: str | None
    reason: str
    seconds: float | None
    asked_again: int
    corrected: int


class LogbookOut(Exported):
    """The JSON file."""

    schema_version: Literal[2]
    made: datetime
    vehicles: list[VehicleOut]
    records: list[RecordOut]
    record_units: list[RecordUnitOut]
    readings: list[ReadingOut]
    defects: list[DefectOut]
    certifications: list[CertificationOut]
    answers: list[AnswerOut]
