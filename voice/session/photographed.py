"""A photo is put beside a signed inspection, for one of its reported defects."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from voice.errors import SetupError
from voice.journal.folder import Session
from voice.record.device import load_key
from voice.record.load import load_record
from voice.record.photos import Photo, add, cleaned, reported


def add_photo(home: Path, found: Session, part: str, file: Path, name: str | None) -> tuple[Photo, str]:
    """The photo, and the title of its defect. Raises GladhandError.

    part: which defect; see `reported`.
    name: who puts it there; None: who signed the inspection.
    """
    if not found.signed:
        raise SetupError(f"Inspection {found.id} is not signed yet.", f"Finish it first: 'gladhand resume {found.id}'.")
    record = load_record(found.record)
    key, title = reported(record, part)
    by = name or (record.sign_off.name if record.sign_off is not None else None)
    if by is None:
        raise SetupError(f"Inspection {found.id} names no driver.", "Say who puts the photo there: --name NAME.")
    picture = cleaned(file)
    with found.lock():
        return add(found.path, key, picture, (by, datetime.now(UTC).astimezone()), load_key(home)), title
