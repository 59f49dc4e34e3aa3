"""A record's hash, and its file.

The hash shows that a record was changed by accident or by someone who did not think of it. Whoever knows how it is
made can make a new one: against that there is the device's signature (voice.record.device) and the journal the record
can be made from again (voice.record.verify).
"""

from __future__ import annotations

import errno
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from voice.data import durable
from voice.errors import RecordError
from voice.record.canonical import canonical
from voice.record.model import InspectionRecord


def content_sha256(content: Mapping[str, Any]) -> str:
    """Hash of a record as parsed JSON; its own hash and the device's signature are left out."""
    return hashlib.sha256(canonical({**content, "record_sha256": "", "device": None})).hexdigest()


def seal(record: InspectionRecord) -> InspectionRecord:
    """The record with its hash, and without a device's signature (which would no longer fit)."""
    bare = record.model_copy(update={"record_sha256": "", "device": None})
    return bare.model_copy(update={"record_sha256": content_sha256(bare.model_dump(mode="json"))})


def dump_record(record: InspectionRecord) -> str:
    """A sealed record as the text of its file. Raises RecordError if its hash does not fit its content.

    A record of an earlier version, read from its file, has not the fields that came later, and stays without them.
    """
    for later in (True, False):
        content = record.model_dump(mode="json", exclude_unset=not later)
        if record.record_sha256 == content_sha256(content):
            return json.dumps(content, ensure_ascii=False, indent=1) + "\n"
    raise RecordError(f"Record {record.id} was changed after it was sealed.", "Build it from its journal again.")


def save_record(record: InspectionRecord, path: Path) -> None:
    """Write a sealed record; on the disk when this returns, and never half of it."""
    replace_file(path, dump_record(record).encode())


def replace_file(path: Path, data: bytes, *, mode: int = durable.PRIVATE) -> None:
    """Put a whole new file in place of the old one, durably. Raises RecordError."""
    try:
        durable.replace(path, data, mode=mode)
    except OSError as error:
        if error.errno == errno.ENOENT:
            raise RecordError(f"The folder {path.parent} does not exist.", "Make it, or name another.") from error
        raise RecordError(*durable.trouble(f"{path} cannot be written", error)) from error
