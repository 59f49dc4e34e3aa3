"""gladhand soundcheck: its judgement, and the whole command on a virtual sound card and on none."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import get_args

import numpy as np
import pytest

from tests.devices.espeak import say
from tests.devices.pulse import VirtualCard
from voice.data.folders import prompts_dir
from voice.errors import DataError
from voice.hear.port import Hearing, Speaking
from voice.sound.loudspeaker import Loudspeaker
from voice.sound.port import BLOCK, RATE, Audio
from voice.soundcheck import Advice, HeardWord, Room, judge, load_wording, measure_room, run
from voice.understand.meaning import Defect, Ok
from voice.understand.question import Phrase, Question
from voice.walk.event import CueName

OKAY = Hearing("heard", Ok(), "okay", 0.98)
QUIET = Room(-60.0, 0.05)
GOOD = HeardWord(OKAY, -20.0, 0.0)


class Recorded:
    """A microphone that plays samples and notes what was asked of it."""

    name = "recorded"

    def __init__(self, samples: Audio) -> None:
        self.samples, self.at, self.log = samples, 0, list[str]()

    def read(self) -> Audio:
        self.at += BLOCK
        return self.samples[self.at - BLOCK : self.at]

    def flush(self) -> None:
        self.log.append("flush")

    def close(self) -> None:
        self.log.append("close")


@pytest.mark.parametrize(
    ("room", "word", "advice"),
    [
        (QUIET, GOOD, ("ready",)),
        (Room(-10.0, 0.0), HeardWord(OKAY, -5.0, 0.0), ("noisy",)),
        (QUIET, HeardWord(Hearing("silence"), None, 0.0), ("unheard",)),
        (QUIET, HeardWord(OKAY, -3.0, 0.05), ("clipped",)),
        (Room(-80.0, 0.0), HeardWord(OKAY, -50.0, 0.0), ("faint",)),
        (Room(-30.0, 0.0), HeardWord(OKAY, -24.0, 0.0), ("close_to_noise",)),
        (QUIET, HeardWord(Hearing("heard", Defect(), "defect", 0.9), -20.0, 0.0), ("misheard",)),
        (QUIET, HeardWord(Hearing("unclear", None, "the effect"), -20.0, 0.0), ("misheard",)),
        (Room(-60.0, 1.2), GOOD, ("echo",)),
        (QUIET, None, ("no_ear",)),
        (Room(-10.0, 1.0), HeardWord(Hearing("noisy"), None, 0.0), ("noisy", "unheard", "echo")),
    ],
)
def test_what_is_found_is_what_is_advised(room: Room, word: HeardWord | None, advice: tuple[Advice, ...]) -> None:
    assert judge(room, word) == advice


class Lacking:
    """An ear with an engine left out, which hears one okay."""

    complete = False

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        return replace(OKAY, audio=np.full(RATE, 0.1, np.float32))

    def close(self) -> None:
        """Nothing is held."""


class Told:
    """A loudspeaker that notes what it said."""

    name = "told"

    def __init__(self) -> None:
        self.log: list[str] = []

    def say(self, text: str) -> None:
        self.log.append(text)

    def cue(self, name: CueName) -> None:
        self.log.append(name)

    def close(self) -> None:
        """Nothing is held."""


def test_an_engine_that_is_left_out_is_said_aloud_and_printed() -> None:
    wording, speaker, printed = load_wording(), Told(), list[str]()
    microphone = Recorded(np.random.default_rng(5).normal(0, 0.001, 4 * RATE).astype(np.float32))
    question = Question("condition", (Phrase("okay", Ok()),))
    assert run(microphone, speaker, Lacking(), question, wording, printed.append) == ("engine_left_out",)
    assert speaker.log[-1] == wording.engine_left_out
    assert printed[-1] == wording.engine_left_out


def test_noise_and_the_tail_of_the_own_voice_are_measured() -> None:
    """Noise of known level (RMS 0.01 is -40 dB full scale by definition), louder for the first 0.4 s."""
    rng = np.random.default_rng(5)
    samples = rng.normal(0, 0.01, 4 * RATE).astype(np.float32)
    samples[: int(0.4 * RATE)] += rng.normal(0, 0.2, int(0.4 * RATE)).astype(np.float32)
    microphone = Recorded(samples)
    room = measure_room(microphone)
    assert room.noise_db == pytest.approx(-40, abs=0.3)
    assert room.tail_s == pytest.approx(0.4, abs=BLOCK / RATE)
    assert microphone.log == ["flush"]


def test_every_sentence_is_in_the_file_and_no_other(tmp_path: Path) -> None:
    wording = load_wording()
    for name in get_args(Advice):
        assert wording.advice(name).endswith(".")
    file = tmp_path / "soundcheck.yaml"
    shipped = (prompts_dir() / "soundcheck.yaml").read_text(encoding="utf-8")
    file.write_text(shipped + "bye: Bye.\n", encoding="utf-8")
    with pytest.raises(DataError, match="bye"):
        load_wording(file)
    file.write_text(shipped.replace("ready:", "# ready:"), encoding="utf-8")
    with pytest.raises(DataError, match="ready"):
        load_wording(file)


def gladhand(*arguments: str, answer: Callable[[str], None] = lambda line: None) -> tuple[int, list[str], str]:
    """Runs the command in a process of its own; `answer` gets each line it prints, when it prints it."""
    process = subprocess.Popen(
        [sys.executable, "-c", "from voice.cli import main; main()", "soundcheck", *arguments],
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ},
    )  # fmt: skip
    assert process.stdout is not None
    assert process.stderr is not None
    lines = []
    with process.stdout, process.stderr:
        for line in process.stdout:
            lines.append(line.rstrip("\n"))
            answer(lines[-1])
        errors = process.stderr.read()
    return process.wait(), lines, errors


@pytest.mark.soundcard
@pytest.mark.slow
def test_a_driver_who_says_okay_is_ready(card: VirtualCard, tmp_path: Path) -> None:
    wording = load_wording()
    okay = say("okay", tmp_path)
    mouth = Loudspeaker("driver_mouth")

    def answer(line: str) -> None:
        if line == wording.listening:
            mouth.play(np.concatenate([np.zeros(RATE // 2, np.float32), okay * 0.8]))

    try:
        code, lines, errors = gladhand("--input", "cab_microphone", "--output", "cab_loudspeaker", answer=answer)
    finally:
        mouth.close()
    text = "\n".join(lines)
    assert 'Heard "okay"' in text, text + errors
    assert wording.ready in lines
    assert code == 0
    assert "Microphone: cab_microphone" in text
    assert any("Room noise: -5" in line or "Room noise: -4" in line for line in lines)  # hum of RMS 0.002 is -54 dB
    assert errors == ""  # neither a traceback nor what libraries print about themselves at the end


@pytest.mark.soundcard
@pytest.mark.slow
def test_a_driver_who_says_nothing_is_told_so_aloud(card: VirtualCard) -> None:
    from voice.sound.soundcard import SoundCardMicrophone

    wording = load_wording()
    ear = SoundCardMicrophone("loudspeaker_ear", silent_after=None)
    loud: list[float] = []

    def listen(line: str) -> None:
        if line == wording.listening:
            ear.flush()

    try:
        code, lines, _ = gladhand("--input", "cab_microphone", "--output", "cab_loudspeaker", answer=listen)
        for _ in range(int(10 * RATE / BLOCK)):  # eight of waiting, then what it says; kept until now
            loud.append(float(np.abs(ear.read()).max()))
    finally:
        ear.close()
    assert code == 1
    assert lines[-1] == wording.unheard
    assert max(loud) > 0.1  # it came out of the loudspeaker


@pytest.mark.soundcard
@pytest.mark.slow
def test_a_muted_microphone_is_said_and_printed(card: VirtualCard) -> None:
    card.mute()
    code, lines, errors = gladhand("--input", "cab_microphone", "--output", "cab_loudspeaker")
    assert code == 2
    assert load_wording().silent in lines
    assert errors.count("\n") == 1
    assert "no sound at all" in errors


@pytest.mark.soundcard
@pytest.mark.slow
def test_a_walk_does_not_begin_with_a_muted_microphone(card: VirtualCard, tmp_path: Path) -> None:
    """It would be noticed only after the first prompt."""
    card.mute()
    command = [sys.executable, "-m", "voice", "walk", "--vehicle", "school-bus", "--driver", "A. Sample"]
    more = ["--home", str(tmp_path), "--input", "cab_microphone", "--output", "cab_loudspeaker", "--voice", "espeak"]
    done = subprocess.run([*command, *more], capture_output=True, text=True, timeout=120, check=False)
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert "no sound at all" in done.stderr
    assert not list((tmp_path / "sessions").glob("*"))


@pytest.mark.soundcard
def test_devices_are_listed(card: VirtualCard) -> None:
    code, lines, _ = gladhand("--list")
    assert code == 0
    assert "Microphones:" in lines
    assert any("cab_microphone" in line for line in lines)
    assert any(line.startswith(" *") for line in lines)


@pytest.mark.parametrize("arguments", [(), ("--list",), ("--input", "cab")])
def test_without_a_sound_card_it_is_one_sentence_and_code_two(no_card: None, arguments: tuple[str, ...]) -> None:
    code, lines, errors = gladhand(*arguments)
    assert code == 2
    assert lines == []
    assert errors == (
        "gladhand: There is no sound card here: no microphone, no loudspeaker. Plug in a headset, run it again.\n"
    )
