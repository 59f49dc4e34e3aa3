"""Repair certifications (49 CFR 396.11(a)(3)): home/repairs.jsonl, append-only, beside the records they belong to.

A signed record is never changed, so the certification that a defect was repaired, or that repair is unnecessary, is a
line of its own. Each line carries the hash of the line before it and its own, so one that is changed, lost or moved in
the middle is found out, and the device's signature where the device has a key, so one that is made up is found out too.
Lines cut off at the end cannot be noticed from this file alone.

A certification given in error is taken back by one more line, never by a change.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import Any, Literal

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from filelock import FileLock, Timeout
from pydantic import TypeAdapter, ValidationError

from voice.data import durable
from voice.data.fields import Key, Moment, Name, Sha256, Text
from voice.errors import RecordError
from voice.record.canonical import canonical, parse_json
from voice.record.device import DeviceKey, trusted_keys
from voice.record.lives import Fact, FactKind
from voice.record.model import Certification, Model

_CONTEXT = b"gladhand repair certification 1\n"
_START = "0" * 64
_RESTORE = "Nothing in the file is trusted until it is put right; restore it from a copy."


class Withdrawal(Model):
    """Takes a certification back: what it was given for counts as never certified. No part of a record.

    certification: which one, by its hash (repair_sha256).
    remark: why.
    """

    verdict: Literal["withdrawn"] = "withdrawn"
    key: Key
    certification: Sha256
    name: Name
    at: Moment
    remark: Text = ""


@dataclass(frozen=True, slots=True)
class Repair:
    """A certification or its withdrawal, of which vehicle, and of which record (where the defect was last seen)."""

    vehicle: str
    record: str
    certification: Certification | Withdrawal


_GIVEN: TypeAdapter[Certification | Withdrawal] = TypeAdapter(Certification | Withdrawal)


def repairs_file(home: Path) -> Path:
    return home / "repairs.jsonl"


def _digest(content: Mapping[str, Any]) -> str:
    bare = {key: value for key, value in content.items() if key not in ("sha256", "device", "signature")}
    return hashlib.sha256(canonical(bare)).hexdigest()


def _check_signature(content: Mapping[str, Any], trusted: Mapping[str, bytes]) -> None:
    """Raises ValueError."""
    if "signature" not in content:
        raise ValueError("it is not signed by a device")
    device = str(content.get("device"))
    public = trusted.get(device)
    if public is None:
        raise ValueError(f"it is signed by device {device:.16}, which this home does not know")
    try:
        signature = base64.b64decode(content["signature"], validate=True)
        Ed25519PublicKey.from_public_bytes(public).verify(signature, _CONTEXT + content["sha256"].encode())
    except (InvalidSignature, binascii.Error, TypeError) as error:
        raise ValueError("the device's signature does not fit it") from error


def _parse(line: bytes) -> tuple[dict[str, Any], Repair]:
    """A line and what it certifies, its own hash checked. Raises ValueError, KeyError, TypeError, RecursionError."""
    content = parse_json(line.decode())
    if not isinstance(content, dict) or content.get("sha256") != _digest(content):
        raise ValueError("its content does not fit its hash")
    certification = _GIVEN.validate_python(content["certification"])
    return content, Repair(str(content["vehicle"]), str(content["record"]), certification)


def _why(error: Exception) -> str:
    return "it has not the expected form" if isinstance(error, ValidationError | KeyError) else str(error)


def _read(path: Path, trusted: Mapping[str, bytes]) -> tuple[list[Repair], str, int]:
    """The repairs, the last line's hash, and the length of the good part in bytes (a torn tail is not part of it)."""
    try:
        data = path.read_bytes() if path.exists() else b""
    except OSError as error:
        raise RecordError(*durable.trouble(f"{path} cannot be read", error)) from error
    end = data.rfind(b"\n") + 1
    if data[end:] and not durable.is_unfinished(data[end:]):
        raise RecordError(f"{path}: its last line is damaged or altered.", _RESTORE)
    repairs: list[Repair] = []
    previous, signed = _START, False
    for number, line in enumerate(data[:end].split(b"\n")[:-1], start=1):
        try:
            content, repair = _parse(line)
            if content["previous"] != previous:
                raise ValueError("a line before it is missing or was changed")
            if "signature" in content:
                _check_signature(content, trusted)
            elif signed:  # once a line is, all later ones must be
                raise ValueError("it is not signed by the device, but a line before it is")
            repairs.append(repair)
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            raise RecordError(
                f"{path}: line {number} is damaged or altered ({_why(error)}).",
                _RESTORE,
            ) from error
        previous, signed = content["sha256"], signed or "signature" in content
    return repairs, previous, end


def read_repairs(home: Path) -> list[Repair]:
    """All certifications, oldest first. A line torn by a crash was never confirmed, and is left out.

    Raises RecordError for a file that was damaged or altered.
    """
    return _read(repairs_file(home), trusted_keys(home))[0]


def repair_sha256(repair: Repair) -> str:
    """What a certification is known by, however often and from wherever it comes."""
    content = {
        "vehicle": repair.vehicle,
        **repair.certification.model_dump(mode="json"),
        "at": repair.certification.at.astimezone(UTC).isoformat(),
    }
    return hashlib.sha256(canonical(content)).hexdigest()


def repair_fact(repair: Repair, sha256: str) -> Fact:
    """What it says of its defect; a withdrawal says it of the certification that it takes back.

    sha256: as of repair_sha256.
    """
    given = repair.certification
    if isinstance(given, Withdrawal):
        return Fact(given.key, "withdrawn", f"certification:{given.certification}", given.at, "", None, given.name)
    kind: FactKind = "certified-repaired" if given.verdict == "repaired" else "certified-unnecessary"
    return Fact(given.key, kind, f"certification:{sha256}", given.at, "", None, given.name)


def standing(repairs: Iterable[Repair]) -> list[Repair]:
    """The certifications among them that were not withdrawn, in their order."""
    every = list(repairs)
    back = {each.certification.certification for each in every if isinstance(each.certification, Withdrawal)}
    given = [each for each in every if isinstance(each.certification, Certification)]
    return [each for each in given if repair_sha256(each) not in back] if back else given


def repair_lines(home: Path) -> list[bytes]:
    """The file's whole lines as they stand in it, checked as by read_repairs: to be handed on. Raises RecordError."""
    path = repairs_file(home)
    end = _read(path, trusted_keys(home))[2]
    return path.read_bytes()[:end].split(b"\n")[:-1] if end else []


def read_line(line: bytes, name: str, trusted: Mapping[str, bytes]) -> Repair:
    """The certification of one line that came without its file: its own hash and the device's signature are checked.

    name: for the error.
    trusted: public keys by fingerprint; with any, a line must be signed by one of them; with none, signatures are not
        looked at.
    Raises RecordError.
    """
    try:
        content, repair = _parse(line)
        if trusted:
            _check_signature(content, trusted)
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise RecordError(
            f"{name} is damaged, altered or forged: {_why(error)}.", "Send it again, from a good copy."
        ) from error
    return repair


def certify(home: Path, repair: Repair, key: DeviceKey | None = None) -> None:
    """Add a certification; it is on the disk when this returns.

    key: signs it.

    Raises RecordError.
    """
    path = repairs_file(home)
    try:
        durable.make_folder(home)
        with FileLock(f"{path}.lock", timeout=10, mode=durable.PRIVATE):
            _, previous, end = _read(path, trusted_keys(home))
            content: dict[str, Any] = {
                "previous": previous,
                "vehicle": repair.vehicle,
                "record": repair.record,
                "certification": repair.certification.model_dump(mode="json"),
            }
            content["sha256"] = _digest(content)
            if key is not None:
                content["device"] = key.name
                content["signature"] = base64.b64encode(key.sign_text(_CONTEXT, content["sha256"])).decode()
            line = json.dumps(content, ensure_ascii=False, separators=(",", ":")) + "\n"
            durable.append(path, line.encode(), keep=end)
    except Timeout as error:
        raise RecordError(f"{path} is in use by another program.", "Try again in a moment.") from error
    except OSError as error:
        raise RecordError(*durable.trouble(f"{path} cannot be written", error)) from error
