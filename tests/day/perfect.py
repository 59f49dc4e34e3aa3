"""A walk of the scripted day as the command walks it, heard by a perfect ear."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.walk.scripted_walk import PerfectEar, Quiet, Transcript
from voice.session import inspection
from voice.session.equipment import Equipment, EquipmentWanted
from voice.session.inspection import Finished, WalkOptions
from voice.session.loop import Devices
from voice.session.script import load_script
from voice.walk.context import Context


class Unseen:
    """Shows nothing. said: what was told."""

    def begin(self, context: Context, session: str) -> None: ...
    def close(self) -> None: ...
    def turned(self, state: object, event: object) -> None: ...
    def said(self, text: str) -> None: ...
    def asked(self, state: object, question: object) -> None: ...


def walk(
    monkeypatch: pytest.MonkeyPatch, home: Path, act: Mapping[str, Any], script: Path, **more: Any
) -> tuple[Transcript, Finished]:
    """What was said, and what the walk left. more: other options of it."""
    driver = Quiet(load_script(script))
    speaker = Transcript(driver.clock)

    def recover() -> None:
        raise AssertionError("nothing is lost here")

    equipment = Equipment(Devices(PerfectEar(driver), speaker, driver.clock, recover), driver)
    monkeypatch.setattr(inspection, "open_equipment", lambda wanted: equipment)
    options = WalkOptions(
        vehicle=act["vehicle"], kind=act["kind"], driver=act["driver"], odometer=act["odometer"], depth="each-part",
        new=True, clips=False, **more,
    )  # fmt: skip
    return speaker, inspection.walk(home, EquipmentWanted(home=home), options, Unseen())
