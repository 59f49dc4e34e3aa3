"""A headset: the driver cuts in on a question they know, and it stops. What says yes to it does not count then."""

from __future__ import annotations

import contextlib
import threading
from datetime import UTC, datetime
from pathlib import Path

from tests.walk.talkative import context, replayed
from voice.hear.port import Hearing, Speaking
from voice.journal.journal import Journal, read
from voice.journal.line import Heading, Line
from voice.session.loop import Devices, Loop
from voice.sound.recording import AudioClock
from voice.understand.question import Question
from voice.walk.event import CueName, Started
from voice.walk.machine import begin
from voice.walk.state import Stage, State


class LongWinded:
    """A speaker whose questions last until they are stopped; all else is spoken to its end.

    log: what was begun, and what was cut short.
    """

    name = "long-winded"

    def __init__(self) -> None:
        self.log: list[str] = []
        self.whole: set[str] = set()
        self._stopped = threading.Event()

    def say(self, text: str) -> None:
        self._stopped.clear()
        self.log.append(text)
        if threading.current_thread() is threading.main_thread() or text in self.whole:
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
    """An ear whose driver speaks into the question, or after it where `late` says so."""

    def __init__(self, *texts: str, late: bool = False) -> None:
        self.texts = list(texts)
        self.late = late
        self.cut: list[bool] = []

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        assert speaking is not None, "the ear is open while the question is spoken"
        if not self.texts:
            speaking.stop()
            raise IndexError("nothing more to say")
        while self.late and not speaking.over:
            pass
        self.cut.append(not speaking.over)
        speaking.stop()
        text = self.texts.pop(0)
        return Hearing("heard", question.meanings[text], text, 1.0, started=1.0 if self.late else 0.0)

    def close(self) -> None:
        """Nothing is held."""


def walked(tmp_path: Path, ear: Eager, speaker: LongWinded) -> tuple[State, list[Line]]:
    """The walk until the driver has nothing more to say."""
    walk = context(only=("hoses", "radiator"))
    path = tmp_path / "j"
    log = Journal.create(path, Heading("s", "test", datetime.now(UTC).astimezone(), "0" * 64))
    loop = Loop(
        walk,
        begin("normal"),
        Devices(ear, speaker, AudioClock(), recover=lambda: None, headset=speaker),
        journal=log,
        clips=None,
    )
    with contextlib.suppress(IndexError):
        loop.run(Started(0.0))
    log.close()
    return loop.state, list(read(path).lines)


def test_an_okay_into_the_question_does_not_count_and_the_question_comes_again(tmp_path: Path) -> None:
    speaker = LongWinded()
    state, lines = walked(tmp_path, Eager("okay", "okay"), speaker)
    assert not state.answers
    assert [getattr(line.event, "early", None) for line in lines] == [None, True, True]
    assert speaker.log.count(context().talk.early) == 2
    assert replayed(context(only=("hoses", "radiator")), [line.event for line in lines]) == state


def test_a_defect_by_name_may_cut_in(tmp_path: Path) -> None:
    speaker = LongWinded()
    ear = Eager("leaking")
    state, _ = walked(tmp_path, ear, speaker)
    assert state.stage is Stage.MORE
    assert ear.cut[0]


def test_an_okay_after_the_last_word_counts(tmp_path: Path) -> None:
    speaker = LongWinded()
    speaker.whole = {step.say.normal for step in context(only=("hoses", "radiator")).plan.steps}
    state, _ = walked(tmp_path, Eager("okay", "okay", late=True), speaker)
    assert {step: answer.kind for step, answer in state.answers.items()} == {"hoses": "ok", "radiator": "ok"}


def test_a_caution_is_never_in_what_can_be_cut_short(tmp_path: Path) -> None:
    """Said on the main thread, before the ear is open: with a headset and without."""
    speaker = LongWinded()
    walked(tmp_path, Eager("okay"), speaker)
    known = [said for each in context().cautions.values() for said in (each.say, each.again) if said]
    cautions = [said for said in known if any(said in text for text in speaker.log)]
    assert cautions
    for number, text in enumerate(speaker.log):
        if any(say in text for say in cautions):
            assert speaker.log[number + 1] != "(cut short)"
