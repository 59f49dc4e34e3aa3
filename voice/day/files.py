"""The record of a day as a file: signed, written, read back, and looked at for changes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from voice.day.model import DayRecord
from voice.errors import RecordError
from voice.record.canonical import canonical, parse_json
from voice.record.device import DeviceKey, signature_fault
from voice.record.load import MAX_BYTES, first_fault, load_record
from voice.record.seal import content_sha256
from voice.record.verify import Verification

_CONTEXT = b"gladhand day record 1\n"
_AGAIN = "Make it again with 'gladhand day export'."


def sign_day(record: DayRecord, key: DeviceKey) -> DayRecord:
    """The sealed record with this device's signature."""
    return record.model_copy(update={"device": key.signature(_CONTEXT, record.record_sha256)})


def dump_day(record: DayRecord) -> str:
    return json.dumps(record.model_dump(mode="json"), ensure_ascii=False, indent=1) + "\n"


def is_day(path: Path) -> bool:
    """Whether a file says that it is the record of a day."""
    try:
        return _content(path).get("document") == "day"
    except RecordError:
        return False


def _content(path: Path) -> Mapping[str, Any]:
    try:
        with path.open("rb") as file:
            body = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise RecordError(f"{path} cannot be read: {error.strerror}.", "Check the path and its permissions.") from error
    try:
        content = parse_json(body.decode()) if len(body) <= MAX_BYTES else None
    except (ValueError, RecursionError) as error:
        raise RecordError(f"{path} is damaged: it is no whole record of a day.", _AGAIN) from error
    if not isinstance(content, dict):
        raise RecordError(f"{path} is no record of a day.", _AGAIN)
    return content


def load_day(path: Path) -> DayRecord:
    """Reads the record of a day, its hash checked. Raises RecordError."""
    content = _content(path)
    try:
        record = DayRecord.model_validate_json(canonical(content), strict=True)
        sha256 = content_sha256(content)
    except ValidationError as error:
        raise RecordError(f"{path.name} is broken at {first_fault(error)}.", _AGAIN) from error
    except (ValueError, RecursionError) as error:
        raise RecordError(f"{path.name} is broken: it holds what JSON has no text for.", _AGAIN) from error
    if record.record_sha256 != sha256:
        raise RecordError(f"{path.name} was altered: its content no longer fits its hash.", _AGAIN)
    return record


def verify_day(path: Path, home: Path, trusted: Mapping[str, bytes]) -> Verification:
    """The record of a day: its hash, its device's signature, and the inspections it names as far as they are here."""
    checked = Verification()
    try:
        record = load_day(path)
    except RecordError as error:
        checked.add("day", "", [error.message])
        return checked
    checked.add("day", f"unchanged since it was sealed, {record.record_sha256[:16]}")
    fault = signature_fault(record, dict(trusted), _CONTEXT)
    device = record.device
    good = "not signed by a device: whoever can write the file could have made it"
    checked.add("device", good if device is None else f"signed by {device.key}", [fault] if fault else [])
    here, faults = 0, []
    for named in record.inspections:
        file = home / "sessions" / named.record / "record.json"
        if not file.exists():
            continue
        here += 1
        try:
            if load_record(file).record_sha256 != named.record_sha256:
                faults.append(f"{named.record} is not the record that the day was made from.")
        except RecordError as error:
            faults.append(error.message)
    checked.add("inspections", f"{here} of {len(record.inspections)} are here, as the day names them", faults)
    return checked
