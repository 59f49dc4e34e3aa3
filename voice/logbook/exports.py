"""The logbook in open formats: JSON with a schema, CSV, Parquet. Rows come from the database a batch at a time.

All three hold the same tables with the same columns, described here once. Numbers are in the units named beside them;
times are UTC. In CSV a text that a spreadsheet would run as a formula gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import json
import types
import typing
import zlib
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field
from sqlalchemy import select
from sqlalchemy.orm import Session

from voice.errors import SetupError
from voice.logbook.lookup import display_systems
from voice.logbook.schema import CertificationRow, DefectRow, DocumentRow, ReadingRow, RecordRow, SeriesRow, VehicleRow
from voice.logbook.wording import level_words
from voice.measure.level import Level, LevelName
from voice.measure.telling import told
from voice.record.model import InspectionRecord

EXPORT_VERSION = 2
BATCH = 2000
Format = Literal["json", "csv", "parquet"]


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
    vehicle: str
    route: str
    driver: str | None
    started: datetime
    ended: datetime | None
    odometer_mi: float | None
    level: LevelName = Field(description="The worst finding.")
    level_printed: str = Field(description="Its name, as it is printed everywhere.")
    defects: int
    pruned: datetime | None = Field(description="When the record's text and names were removed.")


class ReadingOut(Exported):
    record: str
    vehicle: str
    at: datetime
    odometer_mi: float | None
    item: str
    place: str = Field(description="left-3-outer: side, axle from the front, tire; empty for the whole vehicle.")
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


TABLES: dict[str, type[Exported]] = {
    "vehicles": VehicleOut,
    "records": RecordOut,
    "readings": ReadingOut,
    "defects": DefectOut,
    "certifications": CertificationOut,
    "answers": AnswerOut,
}


class LogbookOut(Exported):
    """The JSON file."""

    schema_version: Literal[2]
    made: datetime
    vehicles: list[VehicleOut]
    records: list[RecordOut]
    readings: list[ReadingOut]
    defects: list[DefectOut]
    certifications: list[CertificationOut]
    answers: list[AnswerOut]


def export_schema() -> dict[str, Any]:
    """JSON Schema 2020-12 of the JSON file."""
    schema = LogbookOut.model_json_schema(mode="serialization")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:gladhand:logbook:{EXPORT_VERSION}",
        **schema,
        "title": "Gladhand logbook",
    }


def rows(session: Session, table: str, vehicles: Sequence[str] = ()) -> Iterator[Exported]:
    """The rows of one table, of these vehicles or of all."""
    chosen = set(vehicles)

    def run(query: Any) -> Iterator[Any]:  # a Select; how its columns are typed differs between versions
        wanted = query.where(VehicleRow.id.in_(chosen)) if chosen else query
        return iter(session.execute(wanted.execution_options(yield_per=BATCH)))

    match table:
        case "vehicles":
            for id, name, profile in run(
                select(VehicleRow.id, VehicleRow.name, VehicleRow.profile).order_by(VehicleRow.id)
            ):
                yield VehicleOut(vehicle=id, name=name, kind=profile.get("kind"), plate=profile.get("plate"))
        case "records":
            for r, vehicle in run(
                select(RecordRow, VehicleRow.id)
                .join(VehicleRow, VehicleRow.key == RecordRow.vehicle)
                .order_by(RecordRow.started, RecordRow.id)
            ):
                yield RecordOut(
                    record=r.id, sha256=r.sha256, vehicle=vehicle, route=r.route, driver=r.driver, started=r.started,
                    ended=r.ended, odometer_mi=r.odometer, level=Level(r.level).word,
                    level_printed=level_words(Level(r.level)), defects=r.defects, pruned=r.pruned,
                )  # fmt: skip
        case "readings":
            systems = display_systems(session)
            for id, vehicle, at, odometer, item, place, quantity, name, value, unit in run(
                select(
                    RecordRow.id, VehicleRow.id, ReadingRow.at, ReadingRow.odometer, SeriesRow.item, SeriesRow.place,
                    SeriesRow.quantity, SeriesRow.name, ReadingRow.value, SeriesRow.unit,
                )
                .join(RecordRow, RecordRow.key == ReadingRow.record)
                .join(SeriesRow, SeriesRow.key == ReadingRow.series)
                .join(VehicleRow, VehicleRow.key == SeriesRow.vehicle)
                .order_by(ReadingRow.at, RecordRow.id, SeriesRow.key, ReadingRow.nth)
            ):  # fmt: skip
                yield ReadingOut(
                    record=id, vehicle=vehicle, at=at, odometer_mi=odometer, item=item, place=place,
                    quantity=quantity, name=name, value=value, unit=unit,
                    printed=told(value, unit, quantity=quantity, system=systems[vehicle]),
                )  # fmt: skip
        case "defects":
            for d, vehicle in run(
                select(DefectRow, VehicleRow.id)
                .join(VehicleRow, VehicleRow.key == DefectRow.vehicle)
                .order_by(VehicleRow.id, DefectRow.defect, DefectRow.number)
            ):
                yield DefectOut(
                    vehicle=vehicle, defect=d.defect, number=d.number, title=d.title, level=Level(d.level).word,
                    level_printed=level_words(Level(d.level)), opened=d.opened, seen=d.seen, times=d.times,
                    first_record=d.first, last_record=d.last, said_repaired=d.said_repaired, closed=d.closed,
                    verdict=d.verdict, certified_by=d.by,
                )  # fmt: skip
        case "certifications":
            for c, vehicle in run(
                select(CertificationRow, VehicleRow.id)
                .join(VehicleRow, VehicleRow.key == CertificationRow.vehicle)
                .order_by(CertificationRow.at, CertificationRow.sha256)
            ):
                yield CertificationOut(
                    vehicle=vehicle, defect=c.defect, verdict=c.verdict, name=c.name, at=c.at, remark=c.remark
                )
        case "answers":
            for vehicle, body in run(
                select(VehicleRow.id, DocumentRow.body)
                .join(RecordRow, RecordRow.vehicle == VehicleRow.key)
                .join(DocumentRow, DocumentRow.record == RecordRow.key)
                .order_by(RecordRow.started, RecordRow.id)
            ):
                yield from _answers(InspectionRecord.model_validate_json(zlib.decompress(body)), vehicle)
        case _:
            raise ValueError(table)


def _answers(record: InspectionRecord, vehicle: str) -> Iterator[AnswerOut]:
    for entry in record.entries:
        yield AnswerOut(
            record=record.id, vehicle=vehicle, at=entry.answered or record.started, step=entry.step, item=entry.item,
            section=entry.section, outcome=entry.outcome, choice=entry.choice, reason=entry.reason,
            seconds=entry.seconds, asked_again=entry.asked_again, corrected=entry.corrected,
        )  # fmt: skip


def export(session: Session, out: Path, format: Format, made: datetime, vehicles: Sequence[str] = ()) -> list[Path]:
    """Write everything: one JSON file, or one file for each table. Returns the files. Raises SetupError."""
    try:
        out.mkdir(parents=True, exist_ok=True)
        if format == "json":
            return [_json(session, out / "logbook.json", made, vehicles)]
        write = _csv if format == "csv" else _parquet
        return [write(session, out / f"{table}.{format}", table, vehicles) for table in TABLES]
    except OSError as error:
        raise SetupError(f"{out} cannot be written: {error.strerror}.", "Give another folder.") from error


def _json(session: Session, file: Path, made: datetime, vehicles: Sequence[str]) -> Path:
    with file.open("w", encoding="utf-8") as text:
        text.write(f'{{"schema_version":{EXPORT_VERSION},"made":{json.dumps(made.astimezone(UTC).isoformat())}')
        for table in TABLES:
            text.write(f',\n"{table}":[')
            for number, row in enumerate(rows(session, table, vehicles)):
                text.write((",\n" if number else "\n") + row.model_dump_json())
            text.write("]")
        text.write("}\n")
    return file


def _csv(session: Session, file: Path, table: str, vehicles: Sequence[str]) -> Path:
    with file.open("w", encoding="utf-8", newline="") as text:
        writer = csv.writer(text)
        writer.writerow(TABLES[table].model_fields)
        for row in rows(session, table, vehicles):
            writer.writerow([_cell(value) for value in row.model_dump(mode="json").values()])
    return file


def _cell(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def _parquet(session: Session, file: Path, table: str, vehicles: Sequence[str]) -> Path:
    import pyarrow as pa
    import pyarrow.parquet as pq

    schema = pa.schema(
        [
            pa.field(name, _arrow(field.annotation), metadata={"description": field.description or ""})
            for name, field in TABLES[table].model_fields.items()
        ]
    )
    with pq.ParquetWriter(file, schema, compression="zstd") as writer:
        batch: list[dict[str, Any]] = []
        for row in rows(session, table, vehicles):
            batch.append(row.model_dump())
            if len(batch) >= 50 * BATCH:
                writer.write_table(pa.Table.from_pylist(batch, schema))
                batch = []
        writer.write_table(pa.Table.from_pylist(batch, schema))
    return file


def _arrow(annotation: Any) -> Any:
    import pyarrow as pa

    if isinstance(annotation, types.UnionType):
        (annotation,) = [part for part in typing.get_args(annotation) if part is not type(None)]
    kinds = {float: pa.float64(), int: pa.int32(), datetime: pa.timestamp("us", tz="UTC")}
    return kinds.get(annotation, pa.string())
