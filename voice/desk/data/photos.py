"""Photos of a defect that stand beside its inspections on this machine."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.orm import Session

from voice.desk.data.recordings import document, is_record
from voice.desk.data.reported import Documents
from voice.desk.page import Desk, RefusedError
from voice.errors import RecordError
from voice.journal.folder import sessions_dir
from voice.record.by_unit import today_key
from voice.record.device import trusted_keys
from voice.record.lives import Fact, Life
from voice.record.photos import Photo, photos_file, photos_of, picture_of

_NAME = re.compile(r"[0-9]{3}\.jpg")


@dataclass(frozen=True, slots=True)
class Photos:
    """The photos of a defect, oldest first.

    faults: what is wrong with those of an inspection, one sentence each; they are not shown.
    """

    photos: tuple[Photo, ...] = ()
    faults: tuple[str, ...] = ()


def photos_at(desk: Desk, documents: Documents, unit: str, life: Life, facts: Iterable[Fact]) -> Photos:
    """Of all inspections that saw the defect in this life.

    facts: all that is known of the defect.
    """
    seen = {
        fact.source.partition(":")[2]
        for fact in facts
        if fact.kind in ("found", "still-there") and life.opened <= fact.at <= life.seen
    }
    photos: list[Photo] = []
    faults: list[str] = []
    for id in sorted(seen):
        folder = _folder(desk, id)
        record = None if folder is None else documents.record(id)
        if folder is None or record is None:
            continue
        key = today_key(record.vehicle, unit, life.defect)
        try:
            photos += [photo for photo in photos_of(folder, trusted_keys(desk.home)) if photo.defect == key]
        except RecordError as error:
            faults.append(error.message)
    return Photos(tuple(sorted(photos, key=lambda photo: photo.at)), tuple(faults))


def photo(desk: Desk, session: Session, record: str, name: str) -> bytes:
    """A photo that a line of its inspection names. Raises RefusedError for anything else.

    Neither name reaches the disk before the record was found by the one, and the other is a number; the picture must be
    the one that was kept, and a link leads nowhere.
    """
    folder = _folder(desk, record) if _NAME.fullmatch(name) and document(session, record) is not None else None
    if folder is None:
        raise RefusedError(404, "nothing-here")
    try:
        for each in photos_of(folder, trusted_keys(desk.home)):
            if each.file == f"photos/{name}" and (data := picture_of(folder, each)) is not None:
                return data
    except RecordError as error:
        raise RefusedError(409, "altered-photo") from error
    raise RefusedError(404, "nothing-here")


def _folder(desk: Desk, record: str) -> Path | None:
    """The session's folder, if there are photos in it."""
    if not is_record(record):
        return None
    folder = sessions_dir(desk.home) / record
    return folder if photos_file(folder).is_file() and not folder.is_symlink() else None
