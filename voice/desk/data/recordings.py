"""The driver's recorded words at a defect: found in the record, then in the session's folder, never by a path alone."""

from __future__ import annotations

import hashlib
import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import orjson
from sqlalchemy import select
from sqlalchemy.orm import Session

from voice.desk.page import Desk, RefusedError
from voice.logbook.schema import DocumentRow, RecordRow
from voice.record.by_unit import today_key
from voice.route.vehicle import Vehicle

_RECORD = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,99}")  # as voice.data.fields has it: no dot, no slash
_CLIP = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,60}\.flac")


@dataclass(frozen=True, slots=True)
class Said:
    """Words of the driver at one defect.

    clip: the recording's name in its session; None if there is none here.
    """

    words: str
    clip: str | None


def is_record(text: str) -> bool:
    """Whether it can be a record's id, which is a folder's name."""
    return _RECORD.fullmatch(text) is not None


def document(session: Session, record: str) -> dict[str, Any] | None:
    """A record as it stands in the logbook; None if it is not there, or was pruned.

    It was checked when it came in, so it is not checked again for each page.
    """
    query = select(DocumentRow.body).join(RecordRow, RecordRow.key == DocumentRow.record).where(RecordRow.id == record)
    body = session.scalar(query)
    if body is None:
        return None
    content = orjson.loads(zlib.decompress(body))
    return content if isinstance(content, dict) else None


def entries_of(content: dict[str, Any] | None, unit: str, defect: str) -> Iterator[dict[str, Any]]:
    """The entries of a record that found a defect.

    defect: by the unit's own key; in the record it has the axle number of the whole combination.
    """
    if content is None:
        return
    key = today_key(Vehicle.model_validate(content.get("vehicle")), unit, defect)
    for entry in content.get("entries", ()):
        if any(found.get("key") == key for found in entry.get("defects", ())):
            yield entry


def said_at(desk: Desk, content: dict[str, Any] | None, unit: str, defect: str) -> list[Said]:
    """What the driver said when a record found this defect of the unit."""
    found = []
    for entry in entries_of(content, unit, defect):
        for heard in entry.get("evidence", ()):
            clip = str(heard.get("clip") or "").removeprefix("clips/")
            there = content is not None and _file(desk.home, str(content.get("id")), clip) is not None
            found.append(Said(str(heard.get("words", "")), clip if there else None))
    return found


def recording(desk: Desk, session: Session, record: str, clip: str) -> bytes:
    """A recording that its record names at a defect. Raises RefusedError for anything else.

    Neither name reaches the disk before the record was found by the one and has the other in it; the file must be the
    one that was recorded (its hash stands in the record), and a link leads nowhere.
    """
    content = document(session, record) if is_record(record) else None
    for entry in () if content is None else content.get("entries", ()):
        for heard in entry.get("evidence", ()) if entry.get("defects") else ():
            if heard.get("clip") == f"clips/{clip}" and (file := _file(desk.home, record, clip)) is not None:
                data = file.read_bytes()
                if heard.get("clip_sha256") in (None, hashlib.sha256(data).hexdigest()):
                    return data
                raise RefusedError(409, "altered-recording")
    raise RefusedError(404, "nothing-here")


def _file(home: Path, record: str, clip: str) -> Path | None:
    if not is_record(record) or not _CLIP.fullmatch(clip):
        return None
    folder = home / "sessions" / record / "clips"
    file = folder / clip
    plain = file.is_file() and not any(path.is_symlink() for path in (file, folder, folder.parent))
    return file if plain else None
