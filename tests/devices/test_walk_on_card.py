"""A whole short walk through a real (virtual) sound card: the driver's voice goes out of one device and in by another,
and so does the assistant's. The microphone is unplugged in the middle and comes back."""

from __future__ import annotations

import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.devices.pulse import VirtualCard
from tests.walk.talkative import context
from voice.errors import DeviceError
from voice.hear.ear import VoiceEar
from voice.journal.clips import Clips
from voice.journal.journal import Journal, read
from voice.journal.line import Heading
from voice.models.engines import load_engines
from voice.session.loop import Devices, Loop
from voice.sound.loudspeaker import Loudspeaker
from voice.sound.soundcard import RealClock, open_microphone
from voice.speak.synth import synthesize
from voice.speak.synthesis import SynthesisSpeaker
from voice.understand.question import Question
from voice.walk.event import Event, Heard, Lost, Regained, Started
from voice.walk.machine import begin
from voice.walk.state import State

pytestmark = [pytest.mark.soundcard, pytest.mark.slow]

VOICE = "flite:slt"


class Driver:
    """Speaks into the microphone from outside, by the kind of question. unplug_at: question before which they trip."""

    def __init__(self, card: VirtualCard, says: dict[str, str], unplug_at: int) -> None:
        self.card = card
        self.says = says
        self.unplug_at = unplug_at
        self.count = 0
        self.mouth = Loudspeaker("driver_mouth")
        self.log: list[str] = []
        self._threads: list[threading.Thread] = []

    def asked(self, state: State | None, question: Question) -> None:
        self.count += 1
        if self.count == self.unplug_at:
            self.card.unplug()
            threading.Timer(4.0, self._plug).start()
            return
        text = self.says[question.asks]
        self.log.append(text)
        thread = threading.Thread(target=self._speak, args=(text,), daemon=True)
        thread.start()

    def _plug(self) -> None:
        self.card.plug()
        self.card.hum()
        self.mouth.reopen()

    def _speak(self, text: str) -> None:
        threading.Event().wait(0.5)  # a person's reaction; the audio itself runs in real time here
        self.mouth.play(synthesize(text, VOICE))

    def turned(self, state: State, event: Event) -> None:
        self.log.append(event.kind)

    def said(self, text: str) -> None:
        self.log.append(text)


def test_a_walk_through_the_card_with_the_microphone_unplugged_in_the_middle(card: VirtualCard, tmp_path: Path) -> None:
    card.hum()
    walk = context(only=("hoses", "radiator", "belt-play"))
    says = {"condition": "okay", "reading": "five eighths of an inch", "yes-no": "yes", "name": "signed Rosa Quill"}
    driver = Driver(card, says, unplug_at=2)
    microphone = open_microphone("cab_microphone")
    clock = RealClock()
    engines = load_engines()
    ear = VoiceEar(microphone, engines.judge, engines.writer, clock=clock, tail=0.15)
    speaker = SynthesisSpeaker(Loudspeaker("cab_loudspeaker"), "espeak:en-us")
    path = tmp_path / "journal.jsonl"
    log = Journal.create(path, Heading("card", "test", datetime.now(UTC).astimezone(), "0" * 64))

    def recover() -> None:
        assert microphone.wait_back(limit=60)
        for _ in range(40):
            try:
                speaker.cue("trouble")
            except DeviceError:
                threading.Event().wait(0.5)
            else:
                return

    loop = Loop(
        walk,
        begin("terse"),
        Devices(ear, speaker, clock, recover),
        journal=log,
        clips=Clips(tmp_path / "clips"),
        watchers=(driver,),
    )
    try:
        state = loop.run(Started(0.0))
    finally:
        ear.close()
        speaker.close()
        driver.mouth.close()
        log.close()
    assert state.signature is not None
    assert {answer.kind for answer in state.answers.values()} == {"ok", "reading"}
    assert str(state.answers["belt-play"].taken[0].value.value) == "5/8"
    events = [line.event for line in read(path).lines]
    assert sum(isinstance(event, Lost) for event in events) == 1
    assert sum(isinstance(event, Regained) for event in events) == 1
    heard = [line for line in read(path).lines if isinstance(line.event, Heard)]
    assert all((tmp_path / line.hearing["clip"]).stat().st_size > 1000 for line in heard)
