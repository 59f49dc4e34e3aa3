"""The desk as its command serves it, in a process of its own: at a device with SQLite, and at a depot with PostgreSQL,
where it has a database role of its own. Certifications reach the next walk at once there, here by a sync."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from PIL import Image
from sqlalchemy import Engine

from tests.desk.test_instructor import ID, PARTS, session
from tests.desk.yard import FAULTS, import_fleet, staff
from tests.logbook.data import checked, record
from tests.logbook.pg import Cluster, cluster, free_port, new_depot
from tests.record.walks import Script, signed
from voice.desk.store import Store
from voice.journal.folder import sessions
from voice.logbook.database import open_engine, open_local, writing
from voice.logbook.for_walk import open_defects
from voice.logbook.roles import grant, grant_desk
from voice.logbook.store import import_records
from voice.record.device import device_key
from voice.record.model import InspectionRecord
from voice.rehearse.progress.students import Students
from voice.session.photographed import add_photo

TRUCK = "tractor-trailer-five-axle"
OLD = "20260102-old"  # an inspection of half a year ago
_COMMAND = (sys.executable, "-c", "from voice.cli import main; main()")


def command(home: Path, *words: str, typed: str = "", **more: str) -> str:
    """What the real command prints; it must not fail.

    more: variables of its environment.
    """
    done = subprocess.run(
        [*_COMMAND, *words, "--home", str(home)], input=typed, env=_environment(more), capture_output=True, text=True
    )
    assert done.returncode == 0, (words, done.stdout, done.stderr)
    return done.stdout


def _environment(more: dict[str, str]) -> dict[str, str]:
    usual = {name: value for name, value in os.environ.items() if not name.startswith("GLADHAND")}
    return {**usual, "PYTHONPATH": str(Path(__file__).parents[2]), "PYTHONUNBUFFERED": "1", **more}


@dataclass(frozen=True, slots=True)
class Place:
    """A desk that is being served.

    home: the desk's Gladhand folder.
    base: its address.
    owner: its logbook, with the owner's rights; the desk has fewer at a depot.
    cab: the folder of the device that walks the truck; at a depot another one, which syncs.
    server: the depot's database.
    """

    home: Path
    base: str
    owner: Engine
    cab: Path
    server: Cluster | None = None

    @property
    def depot(self) -> bool:
        return self.server is not None

    @property
    def store(self) -> str:
        return self.owner.name

    def own(self, *words: str) -> str:
        """A command with the owner's rights."""
        if not self.depot:
            return command(self.home, *words)
        url = self.owner.url.render_as_string(hide_password=False)
        return command(self.home.parent / "owner", *words, GLADHAND_LOGBOOK_URL=url)

    def take_in(self) -> None:
        """At a depot: what the desk handed in, as README says it is taken in. On a device there is nothing to do."""
        if self.depot:
            self.own("logbook", "absorb")

    def asked_next(self, unit: str) -> set[str]:
        """The open defects that the driver's next walk asks about; at a depot after a sync."""
        if self.depot:
            command(self.cab, "sync")
        return {found.key for found in open_defects(self.cab, unit)}

    def walk(self, script: Script) -> InspectionRecord:
        """A walk that was signed just now, at a depot also handed in."""
        walked = signed(self.home, script)
        if self.depot:
            self.add(walked)
        return walked

    def add(self, *records: InspectionRecord) -> None:
        with writing(self.owner) as opened:
            import_records(opened, [checked(each) for each in records], ["cab"] * len(records))


@contextmanager
def device(home: Path) -> Iterator[Place]:
    """At a device, home already has its fleet."""
    owner = open_local(home)
    furnish(home, owner)
    with served(home) as base:
        yield Place(home, base, owner, home)
    owner.dispose()


@contextmanager
def at_depot(home: Path) -> Iterator[Place]:
    """At a depot in a PostgreSQL of its own; home gets a walk with its recordings, which was handed in."""
    folder = home.parent
    with cluster(fsync="off") as server:
        owner = open_engine(new_depot(server, "yard"))
        import_fleet(owner)
        walked = signed(home, FAULTS)
        with writing(owner) as opened:
            import_records(opened, [checked(walked)], ["cab"])
        store = Store(home)
        staff(store)
        store.close()
        furnish(home, owner)
        grant_desk(owner, "front", home / "depot.url")
        (folder / "cab").mkdir(0o700)
        grant(owner, "cab", [f"{TRUCK}-tractor", f"{TRUCK}-trailer"], folder / "cab/depot.url")
        device_key(home)
        (folder / "owner/trusted").mkdir(parents=True)
        shutil.copy(home / "device.pub", folder / "owner/trusted/front.pub")
        with served(home, "--depot") as base:
            yield Place(home, base, owner, folder / "cab", server)
        owner.dispose()


def furnish(home: Path, owner: Engine) -> None:
    """A student with two rehearsals, one of them with a recording; a photo of a defect; and an inspection that need not
    be kept."""
    students = Students(home)
    student = students.enroll("Una Hand")
    students.keep(student, session(*PARTS))
    students.keep(student, session(*PARTS, id="later", days=3))
    tone = np.sin(np.arange(8000) / 9).astype(np.float32) / np.float32(4)
    students.keep_clip(student, ID, 0, tone)
    given = home.parent / "given.png"
    Image.new("RGB", (2600, 900), "red").save(given)
    add_photo(home, next(iter(sessions(home))), "glad-hands#leaking", given, "Ida Marsh")
    old = record(OLD, datetime.now(UTC) - timedelta(days=200), driver="Old Hand")
    with writing(owner) as opened:
        import_records(opened, [checked(old)], ["cab"])


@contextmanager
def served(home: Path, *options: str) -> Iterator[str]:
    """The command `gladhand desk` until the end of the block. Gives its address. What it complains of are sentences."""
    port = free_port()
    words = ["desk", *options, "--port", str(port), "--home", str(home)]
    told = home.parent / "desk.err"
    with told.open("wb") as errors:
        process = subprocess.Popen([*_COMMAND, *words], env=_environment({}), stdout=subprocess.PIPE, stderr=errors)
        try:
            while not _listens(port):
                assert process.poll() is None, told.read_text()
                time.sleep(0.05)
            yield f"http://127.0.0.1:{port}"
        finally:
            process.send_signal(signal.SIGINT)
            said, _ = process.communicate(timeout=30)
    assert f"http://127.0.0.1:{port}/ is served" in said.decode()
    complaints = told.read_text().splitlines()
    assert [
        line for line in complaints if not line.startswith("gladhand: ")
    ] == []  # no traceback, no library's warning
    assert complaints[-1] == "gladhand: stopped."


def _listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0
