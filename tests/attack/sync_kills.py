"""Kills of sync, of absorb and of the whole server at random moments."""

from __future__ import annotations

import os
import random
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import func, select

from tests.attack.forked import Forked
from tests.attack.run import Case
from tests.logbook.data import as_bytes, day, defect, record, still
from tests.logbook.pg import Cluster, binaries, cluster, new_depot
from voice import cli
from voice.logbook import depot, sync
from voice.logbook.database import ENVIRONMENT, open_engine, reading
from voice.logbook.lookup import open_lives
from voice.logbook.schema import FactRow, InboxRow, RecordRow
from voice.record.device import device_key

ABOUT = "kills of sync, absorb and the server: every record is at the depot exactly once"
SHARE = 1
RECORDS = 45
KILLS = 5
# What the commands import late: here once, so that a copy of this process has it.
_LOADED = (sync, depot)
HORN = defect("horn#not-working", "halt")


def _week(home: Path) -> None:
    """What a device has after some days offline, signed by it."""
    key = device_key(home)
    first = record("w0", day(0), defects=[HORN])
    for number in range(RECORDS):
        made = record(f"w{number}", day(number), carried=[still(HORN, first)]) if number else first
        folder = home / "sessions" / made.id
        folder.mkdir(parents=True)
        (folder / "record.json").write_bytes(as_bytes(key.sign(made)))


class _Pair:
    """A device and its depot on one server."""

    def __init__(self, server: Cluster, folder: Path, number: int) -> None:
        self.server = server
        self.device, self.depot = folder / f"device{number}", folder / f"depot{number}"
        _week(self.device)
        (self.depot / "trusted").mkdir(parents=True)
        (self.depot / "trusted/device.pub").write_bytes((self.device / "device.pub").read_bytes())
        self.url = new_depot(server, f"depot{number}")

    def _start(self, home: Path, *command: str) -> Forked:
        """The command in a process of its own, with the depot's URL in its environment."""

        def run() -> None:
            os.environ[ENVIRONMENT] = self.url.render_as_string(hide_password=False)
            sys.argv = ["gladhand", *command, "--home", str(home)]
            cli.main()

        return Forked(run, home / "errors")

    def kill(self, rng: random.Random) -> None:
        sync = self._start(self.device, "sync")
        absorb = self._start(self.depot, "logbook", "absorb", "--watch", "1")
        for _ in range(rng.randrange(3)):
            sync.out.readline()  # "20 handed in" ...
        time.sleep(rng.choice([0.0, rng.uniform(0, 0.05), rng.uniform(0, 2)]))
        whom = rng.choice(["device", "depot", "both", "server"])
        if whom == "server":
            self.server.kill()
        for process, is_meant in ((sync, whom in ("device", "both")), (absorb, whom in ("depot", "both"))):
            if is_meant:
                process.kill()
        if whom == "server":
            self.server.start()
        if whom == "depot":  # the sync goes on to its end
            sync.wait()
        for process in (sync, absorb):
            process.kill()
            process.wait()
            if "Traceback" in (told := process.errors.read_text()):
                raise AssertionError(told[-500:])

    def at_the_end(self) -> str | None:
        for home, command in ((self.device, ("sync",)), (self.depot, ("logbook", "absorb")), (self.device, ("sync",))):
            process = self._start(home, *command)
            if code := process.wait():
                return f"{command}: exit {code}: {process.errors.read_text()[-500:]}"
        engine = open_engine(self.url)
        with reading(engine) as session:
            counts = [
                session.scalar(select(func.count()).select_from(table)) for table in (RecordRow, InboxRow, FactRow)
            ]
            lives = open_lives(session, "unit-0001")
            other = session.scalar(select(func.count()).select_from(InboxRow).where(InboxRow.verdict != "imported"))
        engine.dispose()
        if counts != [RECORDS] * 3 or other or [life.times for life in lives] != [RECORDS]:
            return f"records, inbox, facts: {counts}; {other} not imported; {lives}"
        return None


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    if binaries() is None:
        pytest.skip("PostgreSQL is not installed (apt install postgresql)")
    with cluster() as server:  # with the disk's guarantees on

        def case(number: int, rng: random.Random) -> str | None:
            pair = _Pair(server, folder, number)
            for _ in range(KILLS):
                pair.kill(rng)
            return pair.at_the_end()

        yield case
