"""A short walk on a disk of which every write fails once: full, broken, or only to be read."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest.mock import patch

from tests.attack.failing import ERRORS, FailingCalls
from tests.attack.run import Case
from tests.record.walks import Walker
from tests.walk.talkative import answer_usually, context
from voice.data import durable
from voice.errors import GladhandError
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.clips import Clips
from voice.journal.folder import Session
from voice.journal.journal import Journal
from voice.record.files import write_record
from voice.record.load import load_record
from voice.walk.event import Event

ABOUT = "nothing acknowledged is lost where a write fails, and one sentence says so"
SHARE = 40

FEW = ("chocks", "wipers")
_NEVER = 1_000_000


class ShortWalk:
    """A short walk up to its record, or to the error that ended it.

    only: the items asked.
    told: called where the tone for an answer would sound, with how many events are stored then.
    """

    def __init__(
        self,
        home: Path,
        calls: FailingCalls,
        only: tuple[str, ...] = FEW,
        told: Callable[[int], None] = lambda count: None,
    ) -> None:
        self.known = context(only=only)
        self.told = told
        self.found: Session | None = None
        self.events: list[Event] = []
        self.stored = 0
        self.error: GladhandError | None = None
        with patch.object(durable, "calls", calls):
            try:
                self._walk(home)
            except GladhandError as error:
                self.error = error

    def _walk(self, home: Path) -> None:
        plan, limits = self.known.plan, self.known.limits
        found, lock, log = session.create(home, plan, limits, session.Beginning(drivers=self.known.drivers))
        self.found = found
        with lock:
            try:
                self._answer(log, Clips(found.clips))
            finally:
                self.stored = log.count
                log.close()
            self.write_record()

    def _answer(self, log: Journal, clips: Clips) -> None:
        walker = Walker.__new__(Walker)
        try:
            walker.__init__(self.known, log, clips)  # type: ignore[misc] # kept although its first event may fail
            self.told(log.count)
            while not walker.closed:
                answer_usually(walker)
                self.told(log.count)
        finally:
            self.events = list(walker.events)

    def write_record(self) -> None:
        assert self.found is not None
        file = journal.read(self.found.journal)
        known = self.known
        write_record(self.found, known.plan, file, session.replay(known, file), known.limits, known.defects)


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    counting = FailingCalls(_NEVER, 0)
    whole = ShortWalk(folder / "whole", counting)
    if whole.error is not None:
        raise whole.error
    steps = counting.count

    def case(number: int, rng: random.Random) -> str | None:
        # A stride that shares no factor with the steps, so that a small share looks at all parts of the walk.
        at = number * 97 % steps + 1 if steps % 97 else number % steps + 1
        calls = FailingCalls(at, rng.choice(ERRORS), stuck=rng.random() < 0.5)
        home = folder / str(number)
        try:
            return _judged(ShortWalk(home, calls), at, steps)
        finally:
            shutil.rmtree(home, ignore_errors=True)

    yield case


def _judged(done: ShortWalk, at: int, steps: int) -> str | None:
    where = f"step {at} of {steps}"
    if done.error is not None and "\n" in str(done.error):
        return f"{where}: not one sentence: {done.error}"
    if done.found is None or not done.found.path.exists():
        return None if done.stored == 0 else f"{where}: the session is gone"
    file = journal.read(done.found.journal)
    read = [line.event for line in file.lines]
    # The one that failed may be there: a disk that refuses to take it back has it, and nobody heard it acknowledged.
    if read not in (done.events[: done.stored], done.events[: done.stored + 1]):
        return f"{where}: {len(read)} events, {done.stored} were acknowledged"
    if done.error is not None and done.stored == len(done.events) and done.stored:
        done.write_record()  # goes on when the disk does
    if done.found.record.exists():
        load_record(done.found.record)
    return None
