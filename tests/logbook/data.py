"""Small records for tests, and the generated fleet's."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import subprocess
import sys
import zlib
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

from alembic import command as alembic
from sqlalchemy import Engine, select
from sqlalchemy.engine import URL
from sqlalchemy.orm import Session

from tests.logbook.invented import profile
from voice.logbook.database import _alembic
from voice.logbook.rows import Checked, check_record
from voice.logbook.schema import DocumentRow, InboxRow, RecordRow
from voice.measure.level import LevelName
from voice.record.canonical import canonical
from voice.record.device import DeviceKey
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
from voice.record.seal import content_sha256, dump_record, seal
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


def certification(key: str, at: datetime, verdict: str = "repaired") -> Certification:
    return Certification(key=key, verdict=verdict, name="M. Mechanic", at=at)


def repair(key: str, at: datetime, *, vehicle: int = 1, verdict: str = "repaired", record: str = "r1") -> Repair:
    return Repair(f"unit-{vehicle:04d}", record, certification(key, at, verdict))


def as_bytes(made: InspectionRecord) -> bytes:
    return dump_record(made).encode()


def content_of(made: InspectionRecord) -> dict[str, Any]:
    return made.model_dump(mode="json")


def signed_bytes(content: Mapping[str, Any], key: DeviceKey) -> bytes:
    """A record's JSON with a hash and a signature that fit, whatever is in it: what a hostile device could send.

    Where there is no canonical text (half of a character, infinity) the hash is of nothing.
    """
    try:
        sha256 = content_sha256(content)
    except (ValueError, RecursionError):
        sha256 = "0" * 64
    signature = {
        "algorithm": "ed25519",
        "key": key.name,
        "public": base64.b64encode(key.public).decode(),
        "signature": base64.b64encode(key.sign_text(b"gladhand inspection record 1\n", sha256)).decode(),
    }
    return json.dumps({**content, "record_sha256": sha256, "device": signature}).encode()


def signed_line(content: Mapping[str, Any], key: DeviceKey) -> bytes:
    """A certification's line likewise (voice.record.repairs)."""
    try:
        sha256 = hashlib.sha256(canonical(content)).hexdigest()
    except (ValueError, RecursionError):
        sha256 = "0" * 64
    signature = base64.b64encode(key.sign_text(b"gladhand repair certification 1\n", sha256)).decode()
    return json.dumps({**content, "sha256": sha256, "device": key.name, "signature": signature}).encode()


def inbox_row(body: bytes, *, device: str = "cab", kind: str = "record", received: datetime = DAY0) -> InboxRow:
    """body: as it is handed in, packed."""
    return InboxRow(device=device, sha256=hashlib.sha256(body).hexdigest(), kind=kind, body=body, received=received)


def checked(made: InspectionRecord) -> Checked:
    return check_record(as_bytes(made), made.id, {})


def downgrade(engine: Engine, revision: str) -> None:
    """The tables as an earlier version had them."""
    with engine.execution_options(writing=True).begin() as connection:
        alembic.downgrade(_alembic(connection), revision)


def start_command(home: Path, url: URL, *command: str) -> subprocess.Popen[bytes]:
    """The real command, with the depot's URL in its environment."""
    return subprocess.Popen(
        [sys.executable, "-c", "from voice.cli import main; main()", *command, "--home", str(home)],
        env={
            **os.environ,
            "GLADHAND_LOGBOOK_URL": url.render_as_string(hide_password=False),
            "PYTHONUNBUFFERED": "1",
            "PYTHONPATH": str(Path(__file__).parents[2]),
        },
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def load_document(session: Session, record_id: str) -> InspectionRecord | None:
    """A record of the logbook in full; None if it is not there, or was pruned."""
    query = select(DocumentRow.body).join(RecordRow, RecordRow.key == DocumentRow.record)
    body = session.scalar(query.where(RecordRow.id == record_id))
    return None if body is None else InspectionRecord.model_validate_json(zlib.decompress(body))
