"""A headset: the driver cuts in on a prompt he knows; the prompt stops, and his answer counts."""

from __future__ import annotations

import threading
from datetime import UTC, datetime
from pathlib import Path

from tests.walk.talkative import context
from voice.hear.port import Hearing, Speaking
from voice.hear.recording import AudioClock
from voice.journal import Heading, Journal
from voice.loop import Loop
from voice.speak.port import CueName
from voice.understand.question import Question
from voice.walk.event import Started
from voice.walk.machine import begin


class LongWinded:
    """A speaker whose sentences last until they are stopped, but for the last one, which nobody cuts in on.

    log: what was begun, and what was cut short.
    """

    name = "long-winded"

    def __init__(self, last: str) -> None:
        self.log: list[str] = []
        self._last = last
        self._stopped = threading.Event()

    def say(self, text: str) -> None:
        self._stopped.clear()
        self.log.append(text)
        if text == self._last:
            return
        assert self._stopped.wait(20), "nobody stopped the prompt"
        self.log.append("(cut short)")

    def stop(self) -> None:
        self._stopped.set()

    def cue(self, name: CueName) -> None:
        self.log.append(f"({name})")

    def close(self) -> None:
        """Nothing is held."""


class Eager:
    """An ear whose driver speaks while the prompt goes on; the last answers end the walk."""

    def __init__(self, *texts: str) -> None:
        self.texts = list(texts)
        self.cut: list[bool] = []

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        assert speaking is not None, "the ear is open while the prompt is spoken"
        self.cut.append(not speaking.over)
        speaking.stop()
        text = self.texts.pop(0)
        return Hearing("heard", question.meanings[text], text, 1.0)

    def close(self) -> None:
        """Nothing is held."""


def test_the_prompt_is_cut_short_and_the_answer_counts(tmp_path: Path) -> None:
    walk = context(only=("hoses", "radiator"))
    speaker = LongWinded(walk.talk.closed)
    ear = Eager("okay", "okay", "signed rosa quill", "yes")
    log = Journal.create(tmp_path / "j", Heading("s", "test", datetime.now(UTC).astimezone(), "0" * 64))
    loop = Loop(
        walk, begin("normal"), ear=ear, speaker=speaker, journal=log, clock=AudioClock(), clips=None,
        recover=lambda: None, headset=speaker,
    )  # fmt: skip
    state = loop.run(Started(0.0))
    assert state.signature is not None
    assert ear.cut == [True] * 4
    assert speaker.log.count("(cut short)") == 4
    assert "(listening)" not in speaker.log
    assert speaker.log[-1] == walk.talk.closed
