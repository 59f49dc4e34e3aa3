"""What the loop promises when the disk, a device or the words fail. The journal and the walk are the real ones."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.walk.talkative import context
from voice.errors import DeviceError, JournalError
from voice.hear.port import Hearing, Speaking
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.clips import Clips
from voice.measure import Measure
from voice.route.answer import Hold
from voice.session.loop import Devices, Loop
from voice.sound.port import RATE
from voice.sound.recording import AudioClock
from voice.understand.meaning import Command, DoneIt, Meaning, Now, Number, Ok, Stop, Words, Yes
from voice.understand.question import Question
from voice.walk.event import CueName, Doubted, Event, Heard, Lost, Regained, Silence, Started, Unclear
from voice.walk.machine import begin
from voice.walk.state import Stage

LOUD = np.full(800, 0.01, np.float32)


class Voice:
    """A speaker that keeps what it said and sounded. breaks: what it cannot say, with the error then raised."""

    name = "voice"

    def __init__(self, log: list[str]) -> None:
        self.log = log
        self.breaks: dict[str, DeviceError] = {}

    def say(self, text: str) -> None:
        for words, error in self.breaks.items():
            if words in text:
                raise error
        self.log.append(text)

    def cue(self, name: CueName) -> None:
        self.log.append(f"({name})")

    def close(self) -> None:
        """Nothing is held."""


class GivenEar:
    """An ear that gives the next of what it is to hear, or raises it."""

    def __init__(self, clock: AudioClock, log: list[str]) -> None:
        self.clock, self.log = clock, log
        self.next: list[Hearing | DeviceError | Callable[[], Hearing]] = []

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        self.log.append("(listens)")
        self.clock.advance(2 * RATE)
        given = self.next.pop(0) if self.next else DeviceError("The test is over.")
        if isinstance(given, DeviceError):
            raise given
        return given if isinstance(given, Hearing) else given()

    def close(self) -> None:
        """Nothing is held."""


class Scene:
    """A session of one item, its loop, and everything that is heard and done, in order."""

    def __init__(self, home: Path, *items: str, clips: bool = True, start: float = 0.0) -> None:
        self.log: list[str] = []
        self.clock = AudioClock()
        self.voice, self.ear = Voice(self.log), GivenEar(self.clock, self.log)
        self.known = context(only=items)
        self.found, self.lock, self.journal = session.create(
            home, self.known.plan, self.known.limits, session.Beginning()
        )
        self.loop = Loop(
            self.known,
            replace(begin("normal"), at=start),
            Devices(self.ear, self.voice, self.clock, recover=lambda: self.log.append("(recovered)")),
            journal=self.journal,
            clips=Clips(self.found.clips) if clips else None,
        )

    def run(self, *heard: Hearing | DeviceError | Callable[[], Hearing]) -> None:
        """Until nothing more is to be heard."""
        self.ear.next = list(heard)
        with pytest.raises(DeviceError, match="The test is over"):
            self.loop.run(Started(0.0) if self.loop.state.stage is Stage.NEW else Silence(self.loop.now()))

    @property
    def events(self) -> list[Event]:
        return [line.event for line in journal.read(self.found.journal).lines]


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[Scene]:
    made = Scene(tmp_path, "wipers", "glad-hands")
    yield made
    made.lock.release()


def okay(started: float = 0.0) -> Hearing:
    return Hearing("heard", Ok(), "okay", 0.97, started=started, audio=LOUD)


def full(handle: int) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


# --- the disk ----------------------------------------------------------------------------------------------------


def test_an_answer_that_cannot_be_stored_is_not_acknowledged_but_told_aloud(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    def filling_up() -> Hearing:
        monkeypatch.setattr(os, "fsync", full)
        return okay()

    scene.ear.next = [filling_up]
    with pytest.raises(JournalError, match="stored"):
        scene.loop.run(Started(0.0))
    monkeypatch.undo()
    assert scene.log[-3:-1] == ["(listens)", "(trouble)"]
    assert "stored" in scene.log[-1]
    assert "(understood)" not in scene.log[1:]
    assert scene.events == [Started(0.0)]
    assert not scene.loop.state.answers, "the walk stands where it can be resumed"


def test_a_recording_that_cannot_be_stored_stops_its_answer_too(scene: Scene) -> None:
    scene.found.clips.rmdir()
    scene.found.clips.write_text("a file where the folder should be")
    scene.ear.next = [okay()]
    with pytest.raises(JournalError):
        scene.loop.run(Started(0.0))
    assert scene.log[-2] == "(trouble)"
    assert scene.events == [Started(0.0)]


def test_the_alarm_goes_on_when_there_is_nothing_left_to_sound_it_with(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full and the headset gone: the error is still the disk's."""
    scene.voice.breaks["stored"] = DeviceError("The loudspeaker is gone.", retry=True)

    def filling_up() -> Hearing:
        monkeypatch.setattr(os, "fsync", full)
        return okay()

    scene.ear.next = [filling_up]
    with pytest.raises(JournalError):
        scene.loop.run(Started(0.0))
    monkeypatch.undo()


# --- recordings --------------------------------------------------------------------------------------------------


def test_each_answer_has_its_own_recording(scene: Scene) -> None:
    scene.run(okay(), okay())
    lines = journal.read(scene.found.journal).lines
    assert [line.hearing.get("clip") for line in lines] == [None, "clips/00001.flac", "clips/00002.flac"]
    assert sorted(path.name for path in scene.found.clips.iterdir()) == ["00001.flac", "00002.flac"]
    assert (lines[1].hearing["confidence"], lines[1].hearing["words"]) == (0.97, "okay")


def test_without_clips_nothing_of_the_voice_is_kept(tmp_path: Path) -> None:
    scene = Scene(tmp_path, "wipers", "glad-hands", clips=False)
    with scene.lock:
        scene.run(okay(), okay())
    assert all("clip" not in line.hearing for line in journal.read(scene.found.journal).lines)
    assert not list(scene.found.path.rglob("*.flac"))


def test_of_what_was_no_answer_no_recording_is_kept(scene: Scene) -> None:
    scene.run(Hearing("unclear", words="mumble", audio=LOUD), Hearing("noisy", audio=LOUD), Hearing("silence"))
    assert [type(event) for event in scene.events[1:]] == [Unclear, Unclear, Silence]
    assert [getattr(event, "noisy", None) for event in scene.events[1:]] == [False, True, None]
    assert not list(scene.found.clips.iterdir())


# --- words -------------------------------------------------------------------------------------------------------


def test_what_cannot_be_answered_here_is_not_understood_and_changes_nothing(scene: Scene) -> None:
    scene.run(Hearing("heard", Now(), "now", 1.0, audio=LOUD), Hearing("heard", Stop(), "stop", 1.0, audio=LOUD))
    assert [type(event) for event in scene.events[1:]] == [Unclear, Unclear]
    assert scene.log.count("(not-understood)") == 2
    assert not scene.loop.state.answers
    assert not list(scene.found.clips.iterdir())


def test_what_is_not_sure_is_only_doubted(scene: Scene) -> None:
    scene.run(Hearing("unsure", Ok(), "okay", 0.8, started=1.0, audio=LOUD))
    (doubted,) = scene.events[1:]
    assert doubted == Doubted(2.0, Ok(), "okay", 0.8, 1.0)
    assert not scene.loop.state.answers
    assert "okay" in scene.log[-3]


def test_a_change_asked_for_in_one_breath_is_asked_back(scene: Scene) -> None:
    scene.run(okay(), Hearing("unclear", words="Change wipers."))
    assert scene.events[-1] == Doubted(4.0, Command("change", "wipers"), "change wipers", onset=2.0)
    assert scene.loop.state.answers["wipers"].corrected == 0


# --- time --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("started", "onset"),
    [(0.5, 0.5), (2.0, 2.0), (-3.0, 0.0), (9.0, 2.0)],  # never before the last event, never after now
)
def test_an_answer_began_when_the_speech_did(scene: Scene, started: float, onset: float) -> None:
    scene.run(okay(started))
    heard = scene.events[1]
    assert isinstance(heard, Heard)
    assert (heard.at, heard.onset) == (2.0, onset)


def test_a_timed_hold_is_timed_by_the_speech_and_not_by_the_computers_speed(tmp_path: Path) -> None:
    """Each answer is understood two seconds after it began."""
    scene = Scene(tmp_path, "air-leak-applied")
    hold = scene.known.plan.steps[0].item.answer
    assert isinstance(hold, Hold)
    readings = [DoneIt()] * len(hold.ready)

    def said(meaning: Meaning) -> Callable[[], Hearing]:
        return lambda: Hearing("heard", meaning, "", 1.0, started=scene.clock.now() - 2.0)

    def quiet() -> Hearing:
        scene.clock.advance(28 * RATE)
        return Hearing("silence")

    start, end = (Number(Measure(Fraction(psi), "psi")) for psi in (120, 118))
    with scene.lock:
        scene.run(*map(said, readings), said(start), said(DoneIt()), quiet, quiet, quiet, said(end))
    (answer,) = scene.loop.state.answers.values()
    events = [event for event in scene.events if isinstance(event, Heard)]
    assert events[-1].onset is not None
    assert events[-2].onset is not None
    (passed,) = [taken.value.value for taken in answer.taken if taken.quantity == "hold-time"]
    assert float(passed) == pytest.approx(events[-1].onset - events[-2].onset)
    assert float(passed) == pytest.approx(92.0)


@pytest.mark.parametrize("words", ["Ok, ok, ok.", "Okay, okay, keyfect.", "Good-good looking", "Yes, yes, ok"])
def test_of_several_answers_that_it_is_good_none_counts(scene: Scene, words: str) -> None:
    scene.run(Hearing("unclear", words=words), okay(), okay())
    assert [type(event) for event in scene.events] == [Started, Unclear, Heard, Heard]
    assert "One at a time, please." in " ".join(scene.log)
    assert "Nothing wrong?" in " ".join(scene.log)
    assert list(scene.loop.state.answers) == ["wipers"]


def test_a_defect_among_several_answers_is_asked_back(scene: Scene) -> None:
    scene.run(Hearing("unclear", words="Ok, ok, defect."))
    assert [type(event) for event in scene.events] == [Started, Doubted]
    assert scene.loop.state.reported


def test_a_resumed_session_goes_on_after_its_last_event(tmp_path: Path) -> None:
    scene = Scene(tmp_path, "wipers", start=500.0)
    with scene.lock:
        scene.ear.next = [Hearing("silence")]
        with pytest.raises(DeviceError):
            scene.loop.run(Started(500.0))
    assert scene.events == [Started(500.0), Silence(502.0)]


# --- devices -----------------------------------------------------------------------------------------------------


def test_a_lost_microphone_is_noted_told_and_waited_for(scene: Scene) -> None:
    scene.run(DeviceError("The microphone was unplugged.", retry=True), okay())
    assert [type(event) for event in scene.events] == [Started, Lost, Regained, Heard]
    at = scene.log.index("(recovered)")
    assert scene.log[at - 2 : at] == ["(trouble)", scene.known.talk.lost]
    assert list(scene.loop.state.answers) == ["wipers"]


def test_a_loudspeaker_lost_in_the_middle_of_a_prompt_loses_no_answer(scene: Scene) -> None:
    name = scene.known.steps["glad-hands"].say.normal
    scene.voice.breaks[name] = DeviceError("The loudspeaker was unplugged.", retry=True)

    def back() -> None:
        scene.log.append("(recovered)")
        scene.voice.breaks.clear()

    scene.loop.devices = replace(scene.loop.devices, recover=back)
    scene.run(okay())
    assert [type(event) for event in scene.events] == [Started, Heard, Lost, Regained]
    assert list(scene.loop.state.answers) == ["wipers"]
    assert name in scene.log[-3]


def test_a_device_that_is_gone_for_good_ends_the_walk_which_can_be_resumed(scene: Scene) -> None:
    scene.run(okay(), DeviceError("The test is over.", retry=False))
    assert [type(event) for event in scene.events] == [Started, Heard]
    (again,) = session.open_sessions(scene.found.path.parent.parent)
    assert again.id == scene.found.id


def test_a_goodbye_that_nobody_hears_does_not_undo_the_signature(tmp_path: Path) -> None:
    scene = Scene(tmp_path, "wipers")
    with scene.lock:
        scene.voice.breaks[scene.known.talk.closed] = DeviceError("The loudspeaker is gone.", retry=True)
        scene.ear.next = [
            okay(),
            Hearing("heard", Words("signed Rosa Quill"), "signed Rosa Quill", 1.0),
            Hearing("heard", Yes(), "yes", 1.0),
        ]
        state = scene.loop.run(Started(0.0))
    assert state.stage is Stage.CLOSED
    assert state.signature is not None
    assert not any(isinstance(event, Lost) for event in scene.events)
