"""The scripted day of the demo through PostgreSQL with two devices, heard by a perfect ear.

Rosa Quill's device has tractor twelve, Ned Marsh's tractor nine; they meet at the depot only. What Ned reported on
trailer fifty one is asked of Rosa when she hooks it, and the depot tells the whole day.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy import Engine
from typer.testing import CliRunner

from demo.whole_day import HERE, Play, compare_day
from tests.day.perfect import walk
from tests.logbook.test_sync import allow
from voice.cli import app
from voice.data.reader import read_yaml
from voice.day.depot import known_of
from voice.day.spans import Now
from voice.day.today import DayAsked, signed_day
from voice.logbook.database import open_local, reading
from voice.logbook.depot import absorb
from voice.logbook.sync import sync
from voice.record.device import device_key


@pytest.mark.postgres
def test_a_day_of_two_drivers_through_the_depot(
    pg_engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    day = read_yaml(HERE / "day.yaml")
    devices = {name: Play(tmp_path / name.split()[0].lower(), []) for name in day["drivers"]}
    for play in devices.values():
        play.lay_out()
    for unit in ("tractor-nine", "tractor-twelve", "trailer-forty", "trailer-fifty-one"):
        allow(pg_engine, unit)
    keys = {}
    for number, act in enumerate(day["acts"], start=1):
        play = devices[act["driver"]]
        local = open_local(play.home)
        sync(play.home, local, pg_engine)  # what others found
        spoken, _ = walk(monkeypatch, play.home, act, play.script(number, act, day["drivers"]))
        if act["kind"] == "hook":
            assert any("lamp out" in text.lower() for text in spoken.log), "what the other driver found is asked about"
        for key in act.get("certify", ()):
            words = ["repairs", "certify", key, "--verdict", "repaired", "--name", "Ada Finch"]
            assert CliRunner().invoke(app, [*words, "--home", str(play.home)]).exit_code == 0
        sync(play.home, local, pg_engine)
        local.dispose()
        key = device_key(play.home)
        keys[key.name] = key.public
        assert {outcome.verdict for outcome in absorb(pg_engine, keys)} <= {"imported"}
    today = datetime.now().astimezone()
    with reading(pg_engine) as session:
        known = known_of(session, today.date())
    record = signed_day(devices["Rosa Quill"].home, DayAsked(vehicle=day["unit"]), Now(today), known)
    assert compare_day(record, day["wanted"]) == 0
