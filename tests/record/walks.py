"""Whole sessions on disk, walked through the real machine and the real journal. Only the sound is left out.

What the driver says goes in as words that the question allows; each answer leaves a real FLAC file of a short tone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.walk.talkative import Talk, answer_usually, context
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.clips import Clips
from voice.journal.folder import Session
from voice.journal.journal import Journal
from voice.journal.line import HearingNote
from voice.record.files import write_record
from voice.record.model import InspectionRecord
from voice.record.open_defects import OpenDefect
from voice.record.review import with_review
from voice.sound.port import RATE
from voice.understand.meaning import Meaning, Words
from voice.walk.context import Context
from voice.walk.event import Doubted, Event, Heard, Resumed

# A few steps of every kind of answer, and of each of the eleven parts of the rule.
SHORT = (
    "chocks", "wipers", "triangles", "horn-air", "mirror-outside", "steering-lash", "brake-chamber", "rim-lugs",
    "tire-tread", "glad-hands", "locking-jaws", "brake-lights", "air-leak-applied", "low-air-warning", "air-build-up",
    "parking-brake-test",
)  # fmt: skip

# Step id -> what is said from its first question on: a phrase that can be said there, or a meaning outright.
Script = Mapping[str, Sequence[str | Meaning]]


class Walker(Talk):
    """A talk that is journalled as the loop journals it."""

    def __init__(self, context: Context, log: Journal, clips: Clips | None) -> None:
        self._log, self._clips = log, clips
        super().__init__(context)

    def mean(self, meaning: Meaning, seconds: float = 2.0) -> str:
        """Free speech leaves its words in the journal, as the ear puts them there."""
        self.clock += seconds
        said = meaning.text if isinstance(meaning, Words) else ""
        self.send(Heard(self.clock, meaning, said, onset=self.clock))
        return self.heard

    def send(self, event: Event) -> None:
        number = len(self.events)
        hearing: HearingNote = {}
        if isinstance(event, Heard | Doubted):
            hearing = {"engine": "tests", "model": "none", "noise_db": -40.5, "snr_db": 20.0}
            if self._clips is not None:
                tone = np.sin(np.arange(RATE // 50) * (number + 1) / 9).astype(np.float32) / np.float32(4)
                hearing |= self._clips.keep(number, tone)
        super().send(event)
        self._log.append(event, self.clock, hearing)


def walk(
    home: Path,
    script: Script | None = None,
    *,
    only: tuple[str, ...] = SHORT,
    carried: Sequence[OpenDefect] = (),
    clips: bool = True,
    interrupt: str | None = None,
    stop_at: str | None = None,
    vehicle: str | None = None,
) -> tuple[Session, Context]:
    """A session in home. What script leaves out is answered usually.

    interrupt: the step at which the program stops and goes on. stop_at: the step at which the walk is left off, open.
    """
    base = context(only=only)
    plan = with_review(base.plan, carried)
    if vehicle is not None:
        plan = plan.model_copy(update={"vehicle": plan.vehicle.model_copy(update={"id": vehicle})})
    known = replace(base, plan=plan)
    found, lock, log = session.create(
        home, plan, known.limits, session.Beginning(drivers=known.drivers, odometer="412,345")
    )
    with lock:
        walker = Walker(known, log, Clips(found.clips) if clips else None)
        said: set[str] = set()
        for _ in range(5000):
            if walker.closed or (stop_at is not None and walker.current == stop_at):
                break
            current = walker.current
            if current == interrupt and current not in said:
                walker.send(Resumed(walker.clock, torn=17))
            if script and current in script and current not in said:
                for each in script[current]:
                    walker.say(each) if isinstance(each, str) else walker.mean(each)
            else:
                answer_usually(walker)
            said.add(current)
        log.close()
    return found, known


def record_of(found: Session, known: Context) -> InspectionRecord:
    """The session's record, written as the command writes it."""
    file = journal.read(found.journal)
    return write_record(found, known.plan, file, session.replay(known, file), known.limits, known.defects)


def signed(home: Path, script: Script | None = None, **more: object) -> InspectionRecord:
    found, known = walk(home, script, **more)  # type: ignore[arg-type]
    return record_of(found, known)
