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

from sqlalchemy import select
from sqlalchemy.orm import Session

from voice.errors import SetupError
from voice.logbook.exported import (
    AnswerOut,
    CertificationOut,
    DefectOut,
    Exported,
    LogbookOut,
    ReadingOut,
    RecordOut,
    RecordUnitOut,
    VehicleOut,
)
from voice.logbook.lookup import display_systems, units_named
from voice.logbook.schema import (
    CertificationRow,
    DefectRow,
    DocumentRow,
    ReadingRow,
    RecordRow,
    RecordUnitRow,
    SeriesRow,
    VehicleRow,
)
from voice.logbook.wording import level_words
from voice.measure.level import Level
from voice.measure.telling import told
from voice.record.by_unit import shares
from voice.record.model import InspectionRecord

EXPORT_VERSION = 2
BATCH = 2000
Format = Literal["json", "csv", "parquet"]


TABLES: dict[str, type[Exported]] = {
    "vehicles": VehicleOut,
    "records": RecordOut,
    "record_units": RecordUnitOut,
    "readings": ReadingOut,
    "defects": DefectOut,
    "certifications": CertificationOut,
    "answers": AnswerOut,
}


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
    chosen = set(units_named(session, vehicles))
    about = (
        select(RecordUnitRow.record)
        .join(VehicleRow, VehicleRow.key == RecordUnitRow.vehicle)
        .where(VehicleRow.id.in_(chosen))
    )

    def run(query: Any) -> Iterator[Any]:  # a Select; how its columns are typed differs between versions
        return by_record(query.where(VehicleRow.id.in_(chosen)) if chosen else query)

    def by_record(query: Any) -> Iterator[Any]:
        return iter(session.execute(query.execution_options(yield_per=BATCH)))

    match table:
        case "vehicles":
            for id, name, profile in run(
                select(VehicleRow.id, VehicleRow.name, VehicleRow.profile).order_by(VehicleRow.id)
            ):
                yield VehicleOut(vehicle=id, name=name, kind=profile.get("kind"), plate=profile.get("plate"))
        case "records":
            query = (
                select(RecordRow, VehicleRow.id)
                .join(VehicleRow, VehicleRow.key == RecordRow.vehicle)
                .order_by(RecordRow.started, RecordRow.id)
            )
            for r, vehicle in by_record(query.where(RecordRow.key.in_(about)) if chosen else query):
                yield RecordOut(
                    record=r.id, sha256=r.sha256, vehicle=vehicle, route=r.route, kind=r.kind,
                    kind_title=r.kind_title, driver=r.driver, started=r.started, ended=r.ended,
                    odometer_mi=r.odometer, level=Level(r.level).word, level_printed=level_words(Level(r.level)),
                    defects=r.defects, pruned=r.pruned,
                )  # fmt: skip
        case "record_units":
            for record, unit, level, defects in run(
                select(RecordRow.id, VehicleRow.id, RecordUnitRow.level, RecordUnitRow.defects)
                .join(RecordRow, RecordRow.key == RecordUnitRow.record)
                .join(VehicleRow, VehicleRow.key == RecordUnitRow.vehicle)
                .order_by(RecordRow.started, RecordRow.id, VehicleRow.id)
            ):
                yield RecordUnitOut(
                    record=record, vehicle=unit, level=Level(level).word, level_printed=level_words(Level(level)),
                    defects=defects,
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
            whole = (
                select(DocumentRow.body)
                .join(RecordRow, DocumentRow.record == RecordRow.key)
                .order_by(RecordRow.started, RecordRow.id)
            )
            for (body,) in by_record(whole.where(RecordRow.key.in_(about)) if chosen else whole):
                for answer in _answers(InspectionRecord.model_validate_json(zlib.decompress(body))):
                    if not chosen or answer.vehicle in chosen:
                        yield answer
        case _:
            raise ValueError(table)


def _answers(record: InspectionRecord) -> Iterator[AnswerOut]:
    """By unit, of each in walking order."""
    for share in shares(record):
        for entry, step, *_ in share.entries:
            yield AnswerOut(
                record=record.id, vehicle=share.part.id, at=entry.answered or record.started, step=step,
                item=entry.item, section=entry.section, outcome=entry.outcome, choice=entry.choice,
                reason=entry.reason, seconds=entry.seconds, asked_again=entry.asked_again, corrected=entry.corrected,
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
