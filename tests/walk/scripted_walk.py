"""A whole walk by the demo's script, without sound: the driver's words reach the loop as a perfect ear would hear them.

For tests of everything behind the ears. The demo and its test go through real audio.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from voice.hear.port import Hearing, Speaking
from voice.journal.clips import Clips
from voice.journal.journal import Journal
from voice.session.loop import Devices, Loop
from voice.session.script import Script, load_script
from voice.session.scripted import ScriptedDriver
from voice.sound.port import RATE
from voice.sound.recording import AudioClock
from voice.understand.meaning import Meaning, Words
from voice.understand.question import Question
from voice.walk.context import Context
from voice.walk.event import CueName, Event
from voice.walk.state import State

DEMO = Path(__file__).resolve().parents[2] / "demo"


class Quiet(ScriptedDriver):
    """The demo's driver, but their words are kept instead of being spoken."""

    def __init__(self, script: Path | Script = DEMO / "driver.yaml") -> None:
        super().__init__(script if isinstance(script, Script) else load_script(script), AudioClock())
        self.line: tuple[str, float] = ("", 0.0)

    def speak(self, text: str, wait: float = 0.35) -> None:
        self.line = (text, wait)


class PerfectEar:
    """Hears every word of the script. asked: what it was asked, for tests."""

    def __init__(self, driver: Quiet) -> None:
        self.driver = driver
        self.asked: list[Question] = []

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        self.asked.append(question)
        text, wait = self.driver.line
        self.driver.line = ("", 0.0)
        clock = self.driver.clock
        if not text:
            clock.advance(round(question.patience * RATE))
            return Hearing("silence")
        meaning: Meaning | None = question.meanings.get(text)
        if meaning is None and question.free:
            meaning = Words(text)
        clock.advance(round(wait * RATE))
        onset = clock.now()
        clock.advance(RATE)
        if meaning is None:
            return Hearing("unclear", words=text)
        audio = np.full(1600, 0.01, np.float32)
        return Hearing("heard", meaning, text, 1.0, engine="test", model="none", started=onset, audio=audio)

    def close(self) -> None:
        """Nothing is held."""


class Transcript:
    """A speaker that keeps what it said and sounded."""

    name = "transcript"

    def __init__(self, clock: AudioClock) -> None:
        self.clock = clock
        self.log: list[str] = []

    def say(self, text: str) -> None:
        self.log.append(text)
        self.clock.advance(round(len(text) / 15 * RATE))

    def cue(self, name: CueName) -> None:
        self.log.append(f"({name})")

    def close(self) -> None:
        """Nothing is held."""


def run(
    context: Context,
    state: State,
    journal: Journal,
    event: Event,
    *,
    clips: Path | None = None,
    driver: Quiet | None = None,
) -> tuple[State, Transcript, Quiet]:
    """From the event to the end of the walk."""
    driver = driver or Quiet()
    driver.meet(context)
    speaker = Transcript(driver.clock)

    def recover() -> None:
        raise AssertionError("nothing is lost here")

    loop = Loop(
        context,
        state,
        Devices(PerfectEar(driver), speaker, driver.clock, recover),
        journal=journal,
        clips=None if clips is None else Clips(clips),
        watchers=(driver,),
    )
    return loop.run(event), speaker, driver
