"""Repair certifications (49 CFR 396.11(a)(3)): home/repairs.jsonl, a chain of lines beside the records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from voice.record.chain import Chain
from voice.record.device import DeviceKey, trusted_keys
from voice.record.model import Certification


@dataclass(frozen=True, slots=True)
class Repair:
    """A certification, of which vehicle, and of which record (where the defect was last seen)."""

    vehicle: str
    record: str
    certification: Certification


def _parse(content: Mapping[str, Any]) -> Repair:
    certification = Certification.model_validate(content["certification"])
    return Repair(str(content["vehicle"]), str(content["record"]), certification)


_CHAIN = Chain(b"gladhand repair certification 1\n", _parse)


def repairs_file(home: Path) -> Path:
    return home / "repairs.jsonl"


def read_repairs(home: Path) -> list[Repair]:
    """All certifications, oldest first. A line torn by a crash was never confirmed, and is left out.

    Raises RecordError for a file that was damaged or altered.
    """
    return _CHAIN.read(repairs_file(home), trusted_keys(home))[0]


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
