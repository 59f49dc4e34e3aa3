"""Canonical JSON (RFC 8785), and the record's hash, its file and how it is read back.

The hash shows that a record was changed by accident or by someone who did not think of it. Whoever knows how it is
made can make a new one: against that there is the device's signature (voice.record.device) and the journal the record
can be made from again (voice.record.verify).
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from voice.errors import RecordError
from voice.record.model import SCHEMA_VERSION, InspectionRecord

_NAMES = {None: "null", True: "true", False: "false"}
_string = json.encoder.encode_basestring


def _number(value: float) -> str:
    """A finite double as ECMAScript prints it, which is what RFC 8785 section 3.2.2.3 asks for."""
    if not math.isfinite(value):
        raise ValueError(f"{value} has no place in JSON")
    if value == 0:
        return "0"
    sign, digit_tuple, exponent = Decimal(repr(value)).normalize().as_tuple()
    digits = "".join(map(str, digit_tuple))
    point = len(digits) + int(exponent)  # position of the decimal point, counted from the first digit
    if 0 < point <= 21:
        text = digits.ljust(point, "0") if len(digits) <= point else f"{digits[:point]}.{digits[point:]}"
    elif -6 < point <= 0:
        text = "0." + "0" * -point + digits
    else:
        mantissa = digits if len(digits) == 1 else f"{digits[0]}.{digits[1:]}"
        text = f"{mantissa}e{point - 1:+d}"
    return ("-" if sign else "") + text


def canonical(value: Any) -> str:
    """The one text of a JSON value: no blanks, keys in order of their UTF-16 code units, shortest numbers."""
    if isinstance(value, str):
        return _string(value)
    if value is None or isinstance(value, bool):
        return _NAMES[value]
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, Mapping):
        keys = sorted(value, key=_code_units)
        return "{" + ",".join([f"{_string(key)}:{canonical(value[key])}" for key in keys]) + "}"
    return "[" + ",".join([canonical(item) for item in value]) + "]"


def _code_units(key: str) -> bytes:
    return key.encode("utf-16-be")


def content_sha256(content: Mapping[str, Any]) -> str:
    """Hash of a record as parsed JSON; its own hash and the device's signature are left out."""
    return hashlib.sha256(canonical({**content, "record_sha256": "", "device": None}).encode()).hexdigest()


def seal(record: InspectionRecord) -> InspectionRecord:
    """The record with its hash, and without a device's signature (which would no longer fit)."""
    bare = record.model_copy(update={"record_sha256": "", "device": None})
    return bare.model_copy(update={"record_sha256": content_sha256(bare.model_dump(mode="json"))})


def dump_record(record: InspectionRecord) -> str:
    """A sealed record as the text of its file. Raises RecordError if its hash does not fit its content."""
    content = record.model_dump(mode="json")
    if record.record_sha256 != content_sha256(content):
        raise RecordError(f"Record {record.id} was changed after it was sealed.", "Build it from its journal again.")
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def save_record(record: InspectionRecord, path: Path) -> None:
    """Write a sealed record; on the disk when this returns, and never half of it."""
    replace_file(path, dump_record(record).encode())


def replace_file(path: Path, data: bytes, *, mode: int = 0o644) -> None:
    """Put a whole new file in place of the old one, durably. Raises RecordError."""
    fresh = path.with_name(f"{path.name}.new")
    try:
        fresh.unlink(missing_ok=True)  # left by a crash, perhaps with other rights
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
        if os.name == "posix":
            folder = os.open(path.parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)
    except OSError as error:
        raise RecordError(f"{path} cannot be written: {error.strerror}.", "Check free space and rights.") from error


def _no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    # Of a key given twice one reader takes the first, another the last: two readings of one signed text.
    content = dict(pairs)
    if len(content) != len(pairs):
        raise ValueError("a field is given twice")
    return content


def parse_json(text: str) -> Any:
    """JSON without repeated keys, NaN or infinity. Raises ValueError."""

    def refuse(constant: str) -> float:
        raise ValueError(f"{constant} is not JSON")

    return json.loads(text, object_pairs_hook=_no_repeats, parse_constant=refuse)


def read_content(path: Path) -> dict[str, Any]:
    """The record's JSON, of a known version but not otherwise checked. Raises RecordError."""
    try:
        content = parse_json(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise RecordError(f"{path} cannot be read: {error.strerror}.", "Check the path and its permissions.") from error
    except (ValueError, RecursionError) as error:
        raise RecordError(
            f"{path} is not a whole record: {str(error).splitlines()[0]}.",
            "It was cut short or damaged; 'gladhand export' makes it again from the session's journal.",
        ) from error
    version = content.get("schema_version") if isinstance(content, dict) else None
    if not isinstance(content, dict) or type(version) is not int:
        raise RecordError(f"{path} is not an inspection record.", "Give a record.json that this program wrote.")
    if version != SCHEMA_VERSION:
        raise RecordError(
            f"{path} is a record of version {version}; this program knows version {SCHEMA_VERSION}.",
            "Update the program." if version > SCHEMA_VERSION else "Export it with the program that wrote it.",
        )
    return content


def parse_record(content: Mapping[str, Any], name: str) -> InspectionRecord:
    """A record from its JSON, its hash checked. name: for the error. Raises RecordError."""
    try:
        record = InspectionRecord.model_validate_json(canonical(content), strict=True)
        sha256 = content_sha256(content)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"])) or "the record"
        raise RecordError(
            f"{name} is broken at {where}: {first['msg']}.", "It is not as the program wrote it."
        ) from error
    if record.record_sha256 != sha256:
        raise RecordError(
            f"{name} was altered: its content no longer fits its hash.",
            "Run 'gladhand verify' on its session to see what differs.",
        )
    return record


def load_record(path: Path) -> InspectionRecord:
    """Read a record. Raises RecordError for one that is broken, altered or of another version, in one sentence."""
    return parse_record(read_content(path), str(path))
