"""Small records for tests, and the generated fleet's."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from fractions import Fraction

from voice.logbook.generate import profile
from voice.logbook.intake import Checked, check_record
from voice.measure.level import LevelName
from voice.record.canonical import dump_record, seal
from voice.record.model import (
    CarriedRecord,
    Certification,
    DefectRecord,
    EntryRecord,
    InspectionRecord,
    JournalRef,
    ReadingRecord,
    SectionRecord,
    SignOff,
    Summary,
)
from voice.record.repairs import Repair
from voice.route.model import Place

DAY0 = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


def day(number: float) -> datetime:
    return DAY0 + timedelta(days=number)


def defect(key: str, level: LevelName = "repair") -> DefectRecord:
    step, _, kind = key.partition("#")
    return DefectRecord(key=key, step=step, defect=kind, title=f"{step}: {kind}", level=level)


def tread(value: Fraction | str, place: Place | None = None) -> tuple[Place, ReadingRecord]:
    exact = Fraction(value)
    reading = ReadingRecord(quantity="tread-depth", value=str(exact), decimal=float(exact), unit="in")
    return place or Place(side="left", axle=1), reading


def record(
    id: str,
    at: datetime,
    *,
    vehicle: int = 1,
    defects: Sequence[DefectRecord] = (),
    carried: Sequence[CarriedRecord] = (),
    certifications: Sequence[Certification] = (),
    readings: Sequence[tuple[Place, ReadingRecord]] = (),
    odometer: int | None = None,
    seconds: float = 60,
    signed: bool = True,
    driver: str = "A. Sample",
) -> InspectionRecord:
    """A sealed record of one section. It ends at `at`."""
    entries = [
        EntryRecord(
            step=found.step, item=found.step.partition("@")[0], section="all", part="other", title=found.title,
            place=Place(), spoken_place="", outcome="defect", defects=(found,),
        )
        for found in defects
    ]  # fmt: skip
    for place, reading in readings:
        where = "-".join(str(part) for part in (place.side, place.axle, place.tire) if part is not None)
        entries.append(
            EntryRecord(
                step=f"tire-tread@{where}", item="tire-tread", section="all", part="tires", title="Tread",
                place=place, spoken_place=where.replace("-", " "), outcome="reading", readings=(reading,),
            )
        )  # fmt: skip
    return seal(
        InspectionRecord(
            id=id, program="test", vehicle=profile(vehicle), route="test", route_title="Test", data_sha256="0" * 64,
            driver=driver, started=at - timedelta(seconds=seconds), ended=at,
            odometer=None if odometer is None else ReadingRecord(
                quantity="odometer", value=str(odometer), decimal=odometer, unit="mi"
            ),
            sections=(SectionRecord(id="all", title="All", seconds=seconds, entries=len(entries)),),
            entries=tuple(entries), carried=tuple(carried), certifications=tuple(certifications),
            summary=Summary(counts={"within": 0, "watch": 0, "repair": 0, "halt": 0}, against=(), watch=()),
            sign_off=SignOff(name=driver, at=at, words="signed") if signed else None,
            journal=JournalRef(file="journal.jsonl", sha256="0" * 64, events=1),
        )
    )  # fmt: skip


def still(found: DefectRecord, of: InspectionRecord, answer: str = "still-there") -> CarriedRecord:
    assert of.ended is not None
    return CarriedRecord(key=found.key, title=found.title, found=of.ended, record=of.id, answer=answer)


def repair(key: str, at: datetime, *, vehicle: int = 1, verdict: str = "repaired", record: str = "r1") -> Repair:
    given = Certification(key=key, verdict=verdict, name="M. Mechanic", at=at)
    return Repair(f"unit-{vehicle:04d}", record, given)


def as_bytes(made: InspectionRecord) -> bytes:
    return dump_record(made).encode()


def checked(made: InspectionRecord) -> Checked:
    return check_record(as_bytes(made), made.id, {})
