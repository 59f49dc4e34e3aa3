"""A process that walks by the demo's script, slowly enough to be killed: python -m tests.walk.killed_walk HOME PAUSE.

Begins a session, or goes on with the open one. Each tone that acknowledges an answer is appended to HOME/spoken,
unbuffered, as it would be heard, and to HOME/acknowledged how many events the journal had then; so a test can compare
what was acknowledged aloud with what is on the disk.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

from tests.walk.scripted_walk import DEMO, Quiet, Transcript
from voice.hear.port import Hearing, Speaking
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.clips import Clips
from voice.journal.journal import Journal
from voice.judge import load_limits
from voice.record.files import write_record
from voice.route import load_vehicle, make_plan
from voice.session.loop import Devices, Loop
from voice.session.resources import open_resources
from voice.sound.recording import AudioClock
from voice.understand.question import Question
from voice.walk.event import CueName, Event, Resumed, Started
from voice.walk.machine import begin


class Aloud(Transcript):
    """Writes down the tones that were heard in the yard."""

    def __init__(self, clock: AudioClock, home: Path, log: Journal) -> None:
        super().__init__(clock)
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND
        self._spoken, self._acknowledged = (os.open(home / name, flags) for name in ("spoken", "acknowledged"))
        self._log = log

    def cue(self, name: CueName) -> None:
        if name == "understood":
            os.write(self._acknowledged, b"%d\n" % self._log.count)
            os.write(self._spoken, b"+")


def main(home: Path, pause: float) -> None:
    from tests.walk.scripted_walk import PerfectEar

    class SlowEar(PerfectEar):
        def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
            time.sleep(pause)
            return super().listen(question, speaking)

    resources = open_resources(home)
    found = next(session.open_sessions(home), None)
    event: Event
    if found is None:
        plan = make_plan(resources.library, load_vehicle(DEMO / "fleet" / "tractor-12-trailer-40.yaml"))
        limits = load_limits()
        found, lock, log = session.create(home, plan, limits, session.Beginning(drivers=("Rosa Quill",)))
        context, state, event = resources.context(plan, limits, ("Rosa Quill",)), begin("normal"), Started(0.0)
    else:
        lock = found.lock()
        plan, limits = session.load_snapshot(found)
        context = resources.context(plan, limits, ("Rosa Quill",))
        file = journal.read(found.journal)
        state = session.replay(context, file)
        log, event = Journal.reopen(file), Resumed(file.last_at, file.torn)
    driver = Quiet()
    driver.meet(context)
    with lock:
        speaker = Aloud(driver.clock, home, log)
        loop = Loop(
            context,
            state,
            Devices(SlowEar(driver), speaker, driver.clock, recover=lambda: None),
            journal=log,
            clips=Clips(found.clips),
            watchers=(driver,),
        )
        state = loop.run(event)
        log.close()
        write_record(found, plan, journal.read(found.journal), state, limits, resources.library.defects)


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]))
