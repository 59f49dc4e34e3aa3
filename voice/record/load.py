"""A record read back from its file: whole, of a known version, and unaltered."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import orjson
from pydantic import ValidationError

from voice.errors import RecordError
from voice.record.canonical import canonical, parse_json
from voice.record.model import SCHEMA_VERSION, InspectionRecord
from voice.record.seal import content_sha256

MAX_BYTES = 8 << 20  # of a record's file; that of a long walk has half a megabyte


class AlteredError(RecordError):
    """Its content no longer fits its hash."""


def read_content(path: Path) -> dict[str, Any]:
    """The record's JSON, of a known version but not otherwise checked. Raises RecordError."""
    return _content(_bytes(path), str(path))


def restore(path: Path) -> str:
    """What to do about a record that is damaged, in one sentence."""
    session = f" {path.parent.name}" if path.name == "record.json" and path.parent.name else ""
    return f"Restore it from a copy; or move it away, and 'gladhand resume{session}' makes it again."


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        raise RecordError(f"{path} cannot be read: {error.strerror}.", "Check the path and its permissions.") from error


def _content(body: bytes, name: str) -> dict[str, Any]:
    if len(body) > MAX_BYTES:
        raise RecordError(
            f"{name} is larger than {MAX_BYTES >> 20} MB, which no record is.", "Give a record.json of this program."
        )
    try:
        content = parse_json(body.decode())
    except (ValueError, RecursionError) as error:
        # Where a parser stumbled helps nobody; what this program refuses of its own accord is said.
        parsing = isinstance(error, json.JSONDecodeError | UnicodeDecodeError | RecursionError)
        reason = "" if parsing else f": {str(error).splitlines()[0]}"
        raise RecordError(f"{name} is damaged, it is not a whole record{reason}.", restore(Path(name))) from error
    if isinstance(content, dict) and content.get("document") == "day":
        raise RecordError(
            f"{name} is the record of a day, not of an inspection.", "The inspections that it names have their own."
        )
    version = content.get("schema_version") if isinstance(content, dict) else None
    if not isinstance(content, dict) or type(version) is not int:
        raise RecordError(f"{name} is not an inspection record.", "Give a record.json that this program wrote.")
    if version != SCHEMA_VERSION:
        raise RecordError(
            f"{name} is a record of version {version}; this program knows version {SCHEMA_VERSION}.",
            "Update the program." if version > SCHEMA_VERSION else "Export it with the program that wrote it.",
        )
    return content


def first_fault(error: ValidationError) -> str:
    """Where a model's first fault is and what it is, as the part of a sentence."""
    first = error.errors(include_url=False)[0]
    where = ".".join(f"{part!s:.40}" for part in first["loc"]) or "the record"
    return f"{where}: {first['msg'].removeprefix('Value error, ').removesuffix('.'):.200}"


def parse_record(content: Mapping[str, Any], name: str) -> InspectionRecord:
    """A record from its JSON, its hash checked.

    name: for the error.

    Raises RecordError.
    """
    try:
        record = InspectionRecord.model_validate_json(canonical(content), strict=True)
        sha256 = content_sha256(content)
    except ValidationError as error:
        raise RecordError(f"{name} is broken at {first_fault(error)}.", "It is not as the program wrote it.") from error
    except (ValueError, RecursionError) as error:
        raise RecordError(
            f"{name} is broken at the record: it holds what JSON has no text for.", "It is not as the program wrote it."
        ) from error
    if record.record_sha256 != sha256:
        raise AlteredError(
            f"{name} was altered: its content no longer fits its hash.",
            "Run 'gladhand verify' on its session to see what differs.",
        )
    return record


def load_record(path: Path) -> InspectionRecord:
    """Read a record. Raises RecordError for one that is broken, altered or of another version, in one sentence."""
    return read_record(_bytes(path), str(path))


def read_record(body: bytes, name: str) -> InspectionRecord:
    """A record from the bytes of its file, its hash checked.

    name: for the error.

    Raises RecordError.

    The quick way takes what the program wrote. What it does not take is decided, and told, by the thorough one.
    """
    quick = _quickly(body) if len(body) <= MAX_BYTES else None
    return quick or parse_record(_content(body, name), name)


def _quickly(body: bytes) -> InspectionRecord | None:
    """The record if it is beyond doubt whole and unaltered; None if it takes a closer look.

    It is there for the import of many. A record of 73 KB took 2.4 ms of cpu, against 6.8 ms by the thorough way, and
    3.8 ms with canonical() in place of _with_whole_numbers (medians of three runs on a busy machine).
    """
    try:
        content = orjson.loads(body)
        if type(content) is not dict or type(content.get("schema_version")) is not int:
            return None
        sha256 = content["record_sha256"]
        bare = _with_whole_numbers({**content, "record_sha256": "", "device": None})
        text = orjson.dumps(bare, option=orjson.OPT_SORT_KEYS)
    except (ValueError, TypeError, KeyError):
        return None
    # Whether or not this text is quite canonical: two contents never have the same text, so if its hash fits it is the
    # content that was sealed.
    if hashlib.sha256(text).hexdigest() != sha256 or _repeats(body, text, content.get("device")):
        return None
    try:
        return InspectionRecord.model_validate_json(body, strict=True)
    except ValidationError:
        return None


def _with_whole_numbers(content: dict[str, Any]) -> dict[str, Any]:
    """The record's numbers that may have a fraction, but have none, as integers. In place. Raises TypeError, KeyError.

    Only the places where the program writes such: to look everywhere takes longer than all the rest.
    """
    for section in content["sections"]:
        _make_whole(section, "seconds")
    for entry in content["entries"]:
        _make_whole(entry, "seconds")
        for reading in entry["readings"]:
            _make_whole(reading, "decimal")
        for evidence in entry["evidence"]:
            _make_whole(evidence, "confidence")
            _make_whole(evidence, "noise_db")
    for reading in (content["odometer"], content.get("hubodometer")):
        if reading is not None:
            _make_whole(reading, "decimal")
    return content


def _make_whole(content: dict[str, Any], key: str) -> None:
    value = content[key]
    if type(value) is float and value.is_integer():
        content[key] = int(value)


def _repeats(body: bytes, text: bytes, device: object) -> bool:
    """Whether some field may be given twice, which orjson and pydantic pass over in silence. False is certain.

    text: the content written anew, without device. Each field brings one colon, and the colons in strings are the same
    in both as long as none is escaped: if the numbers agree, no field was left out.
    """
    if b"\\" in body and b"\\u" in body:
        return True
    return body.count(b":") != text.count(b":") + (0 if device is None else orjson.dumps(device).count(b":"))
