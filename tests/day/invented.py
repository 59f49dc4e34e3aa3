"""An invented day on the disk: signed records of short walks, with the times and odometers of a day's work."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from tests.record.walks import Script, signed
from voice.record.device import device_key
from voice.record.entry import odometer_record
from voice.record.model import Certification, InspectionRecord
from voice.record.repairs import Repair, certify
from voice.record.seal import save_record, seal

DAY = datetime(2026, 11, 27).astimezone().date()
FEW = ("horn-air", "triangles", "glad-hands", "tire-tread", "cargo-load", "brake-lights")


def at(clock: str) -> datetime:
    hour, minute = map(int, clock.split(":"))
    return datetime(2026, 11, 27, hour, minute).astimezone()


@dataclass
class Home:
    """A home that fills up. path: its folder."""

    path: Path

    def inspect(
        self, kind: str, clock: str, miles: int | None, script: Script | None = None, **more: Any
    ) -> InspectionRecord:
        """A signed inspection that ended at that time; more: other fields of the record."""
        record = signed(self.path, script, only=FEW, clips=False)
        folder = self.path / "sessions" / record.id
        name = f"20261127-{clock.replace(':', '')}00-{record.vehicle.id}-{kind[:2]}ab"
        changed = record.model_copy(
            update={
                "id": name,
                "kind": kind,
                "kind_title": kind.replace("-", " ").capitalize() if kind else "",
                "started": at(clock) - timedelta(minutes=10),
                "ended": at(clock),
                "odometer": None if miles is None else odometer_record(str(miles)),
                **more,
            }
        )
        changed = device_key(self.path).sign(seal(changed))
        shutil.rmtree(folder)
        folder = self.path / "sessions" / name
        folder.mkdir()
        save_record(changed, folder / "record.json")
        return changed

    def repaired(self, record: InspectionRecord, clock: str, unit: str, key: str) -> None:
        given = Certification(key=key, verdict="repaired", name="Ada Finch", at=at(clock))
        certify(self.path, Repair(unit, record.id, given), device_key(self.path))
