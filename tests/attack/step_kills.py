"""SIGKILL of a process that walks, before or in the middle of each of its steps on the disk, from the first on."""

from __future__ import annotations

import random
import shutil
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.attack.disk_full import FEW, ShortWalk
from tests.attack.failing import FailingCalls, KillingCalls
from tests.attack.forked import Forked
from tests.attack.run import Case
from tests.walk.talkative import context
from voice.errors import JournalError
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.journal import Journal
from voice.record.files import write_record
from voice.record.load import load_record
from voice.record.model import InspectionRecord
from voice.walk.event import Event

ABOUT = (
    "killed at each step on the disk: all that was acknowledged is there, with its recording, and it goes on to its end"
)
SHARE = 40
_NEVER = 1_000_000


# The items of the walks that are killed: conditions, readings, many positions, a timed check.
_WALKS = (
    FEW, ("hoses", "belt-play"), ("tire-tread", "chocks"), ("steering-lash", "brake-lights"),
    ("air-leak-applied", "wipers"), ("air-build-up", "low-air-warning"), ("rim-lugs", "brake-chamber"),
)  # fmt: skip


class Scene:
    """A walk of a few items.

    folder: of the homes.
    events, record: those of the walk that nobody kills.
    steps: how many it takes on the disk.
    """

    def __init__(self, folder: Path, only: tuple[str, ...]) -> None:
        self.folder, self.only = folder, only
        self.known = context(only=only)
        counting = FailingCalls(_NEVER, 0)
        whole = ShortWalk(folder / f"whole-{only[0]}", counting, only)
        if whole.error is not None or whole.found is None:
            raise AssertionError(f"the walk did not end: {whole.error}")
        self.events, self.steps = whole.events, counting.count
        self.record = load_record(whole.found.record)

    def case(self, number: int, rng: random.Random) -> str | None:
        at = rng.randrange(1, self.steps + 1)
        home = self.folder / str(number)
        home.mkdir()
        try:
            fault = self._killed(home, at)
        finally:
            shutil.rmtree(home)
        return None if fault is None else f"step {at} of {self.steps}: {fault}"

    def _killed(self, home: Path, at: int) -> str | None:
        process = Forked(lambda: ShortWalk(home, KillingCalls(at), self.only, print), home / "errors")
        acknowledged = max((int(line) for line in process.out if line.endswith(b"\n")), default=0)
        if (code := process.wait()) not in (0, -signal.SIGKILL):  # 0: it had ended before
            return f"exit {code}: {(home / 'errors').read_text()[-500:]}"
        found = next(session.sessions(home), None)
        if found is None or not found.journal.exists():
            return f"there is no journal; {acknowledged} were acknowledged" if acknowledged else None
        try:
            file = journal.read(found.journal)
        except JournalError as error:
            return f"{error}; {acknowledged} were acknowledged" if acknowledged else None
        read: list[Event] = [line.event for line in file.lines]
        # The one that was being written may be there: nobody heard it acknowledged.
        if read not in (self.events[:acknowledged], self.events[: acknowledged + 1]):
            return f"{len(read)} events, {acknowledged} were acknowledged"
        for line in file.lines:
            if "clip" in line.hearing and not (found.path / line.hearing["clip"]).exists():
                return f"the recording {line.hearing['clip']} is not there"
        log = Journal.reopen(file)
        for event in self.events[len(read) :]:
            log.append(event, event.at)
        log.close()
        return self._ended(found)

    def _ended(self, found: session.Session) -> str | None:
        file = journal.read(found.journal)
        write_record(
            found, self.known.plan, file, session.replay(self.known, file), self.known.limits, self.known.defects
        )
        record = load_record(found.record)
        return None if _answers(record) == _answers(self.record) else "the record has other answers"


def _answers(record: InspectionRecord) -> list[tuple[str, str]]:
    return [(entry.step, entry.outcome) for entry in record.entries]


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    scenes = [Scene(folder, only) for only in _WALKS]
    yield lambda number, rng: scenes[number % len(scenes)].case(number, rng)
