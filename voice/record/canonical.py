"""Canonical JSON (RFC 8785), and the record's hash, its file and how it is read back.

The hash shows that a record was changed by accident or by someone who did not think of it. Whoever knows how it is
made can make a new one: against that there is the device's signature (voice.record.device) and the journal the record
can be made from again (voice.record.verify).
"""

from __future__ import annotations

import errno
import hashlib
import json
import math
import re
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import orjson
from pydantic import ValidationError

from voice.data import durable
from voice.errors import RecordError
from voice.record.model import SCHEMA_VERSION, InspectionRecord

MAX_BYTES = 8 << 20  # of a record's file; that of a long walk has half a megabyte
_MAX_DIGITS = 30
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")


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


def canonical(value: Any) -> bytes:
    """The one text of a JSON value, in UTF-8: no blanks, keys in order of their UTF-16 code units, shortest numbers.

    Raises ValueError for what JSON has no text for (UnicodeEncodeError for half of a surrogate pair), and for what is
    nested deeper than 250 levels.
    """
    try:
        return orjson.dumps(_ready(value), option=orjson.OPT_SORT_KEYS)
    except orjson.JSONEncodeError as error:
        json.dumps(value, ensure_ascii=False).encode()
        raise ValueError(str(error)) from error


def _ready(value: Any) -> Any:
    """The same value such that orjson writes it canonically: it differs in numbers, and in keys beyond U+FFFF."""
    kind = type(value)
    if kind is dict:
        if "".join(value).isascii():
            return {key: inner if type(inner) is str else _ready(inner) for key, inner in value.items()}
        keys = sorted(value, key=_code_units)  # orjson goes by code points
        return orjson.Fragment(
            b"{%s}" % b",".join([b"%s:%s" % (canonical(key), canonical(value[key])) for key in keys])
        )
    if kind is list or kind is tuple:
        return [_ready(item) for item in value]
    if value is None or kind is bool or isinstance(value, str):
        return value
    if isinstance(value, int):
        return value if -(2**63) <= value < 2**64 else orjson.Fragment(str(value))
    if isinstance(value, float):
        if value.is_integer() and abs(value) < 2**53:
            return int(value)
        # Within these bounds neither writes an exponent. NaN is not within them.
        return value if 1e-4 <= abs(value) < 1e15 else orjson.Fragment(_number(value))
    return _ready(dict(value) if isinstance(value, Mapping) else list(value))


def _code_units(key: str) -> bytes:
    return key.encode("utf-16-be")


def content_sha256(content: Mapping[str, Any]) -> str:
    """Hash of a record as parsed JSON; its own hash and the device's signature are left out."""
    return hashlib.sha256(canonical({**content, "record_sha256": "", "device": None})).hexdigest()


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


def replace_file(path: Path, data: bytes, *, mode: int = durable.PRIVATE) -> None:
    """Put a whole new file in place of the old one, durably. Raises RecordError."""
    try:
        durable.replace(path, data, mode=mode)
    except OSError as error:
        if error.errno == errno.ENOENT:
            raise RecordError(f"The folder {path.parent} does not exist.", "Make it, or name another.") from error
        raise RecordError(*durable.trouble(f"{path} cannot be written", error)) from error


def _no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    # Of a key given twice one reader takes the first, another the last: two readings of one signed text.
    content = dict(pairs)
    if len(content) != len(pairs):
        raise ValueError("a field is given twice")
    return content


def _not_json(constant: str) -> float:
    raise ValueError(f"{constant} is not JSON")


def _finite(digits: str) -> float:
    value = float(digits)
    if not math.isfinite(value):
        raise ValueError("a number in it is too large")
    return value


def _whole(digits: str) -> int:
    if len(digits) > _MAX_DIGITS:
        raise ValueError("a number in it has too many digits")
    return int(digits)


def parse_json(text: str) -> Any:
    """JSON that has one meaning everywhere. Raises ValueError, and RecursionError for what is nested too deep.

    Refused: repeated keys, NaN, infinity, numbers beyond a double's range or of more than 30 digits, and half of a
    surrogate pair.
    """
    value = json.loads(
        text, object_pairs_hook=_no_repeats, parse_constant=_not_json, parse_float=_finite, parse_int=_whole
    )
    if _SURROGATE.search(text):
        try:
            json.dumps(value, ensure_ascii=False).encode()
        except UnicodeEncodeError as error:
            raise ValueError("a text in it has half of a character") from error
    return value


def read_content(path: Path) -> dict[str, Any]:
    """The record's JSON, of a known version but not otherwise checked. Raises RecordError."""
    return _content(_bytes(path), str(path))


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
        reason = "it is not text" if isinstance(error, UnicodeDecodeError) else str(error).splitlines()[0]
        raise RecordError(
            f"{name} is not a whole record: {reason}.",
            "It was cut short or damaged. Move it away, and 'gladhand resume' with its session makes it again.",
        ) from error
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
        raise RecordError(
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
    if content["odometer"] is not None:
        _make_whole(content["odometer"], "decimal")
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
