"""Repair certifications (49 CFR 396.11(a)(3)): home/repairs.jsonl, a chain of lines beside the records.

A certification given in error is taken back by one more line, never by a change.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import Any, Literal

from pydantic import TypeAdapter

from voice.data.fields import Key, Moment, Name, Sha256, Text
from voice.record.canonical import canonical
from voice.record.chain import Chain
from voice.record.device import DeviceKey, trusted_keys
from voice.record.lives import Fact, FactKind
from voice.record.model import Certification, Model


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


def _parse(content: Mapping[str, Any]) -> Repair:
    certification = _GIVEN.validate_python(content["certification"])
    return Repair(str(content["vehicle"]), str(content["record"]), certification)


_CHAIN = Chain(b"gladhand repair certification 1\n", _parse)


def repairs_file(home: Path) -> Path:
    return home / "repairs.jsonl"


def read_repairs(home: Path) -> list[Repair]:
    """All certifications, oldest first. A line torn by a crash was never confirmed, and is left out.

    Raises RecordError for a file that was damaged or altered.
    """
    return _CHAIN.read(repairs_file(home), trusted_keys(home))[0]


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
    end = _CHAIN.read(path, trusted_keys(home))[2]
    return path.read_bytes()[:end].split(b"\n")[:-1] if end else []


def read_line(line: bytes, name: str, trusted: Mapping[str, bytes]) -> Repair:
    """The certification of one line that came without its file; see Chain.read_line. Raises RecordError."""
    return _CHAIN.read_line(line, name, trusted)


def certify(home: Path, repair: Repair, key: DeviceKey | None = None) -> None:
    """Add a certification; it is on the disk when this returns.

    key: signs it.

    Raises RecordError.
    """
    said = {
        "vehicle": repair.vehicle,
        "record": repair.record,
        "certification": repair.certification.model_dump(mode="json"),
    }
    _CHAIN.add(home, repairs_file(home), said, key)
