"""Checks voice and ears before a walk: is the loudspeaker heard, how loud is it here, is a word understood."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

import numpy as np

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.hear.noise import SILENCE_DB, level, tail
from voice.hear.port import Ear, Hearing
from voice.hear.thresholds import DEFAULT
from voice.sound.port import BLOCK, RATE, Audio, Microphone
from voice.speak.port import Speaker
from voice.understand.question import Question

Advice = Literal[
    "noisy", "unheard", "clipped", "faint", "close_to_noise", "misheard", "echo", "no_microphone", "silent", "no_ear",
    "engine_left_out", "ready",
]  # fmt: skip

# Chosen here, no source; the first is the ear's own.
NOISY_DB = DEFAULT.noisy_db  # surroundings, dB full scale
FAINT_DB = -45.0  # speech, dB full scale: 16-bit samples would use no more than 8 bits of it
NEAR_NOISE_DB = 10.0  # speech over the surroundings: below it the hearing benchmark drops fastest
CLIPPED = 0.999  # full scale
CLIPPED_SHARE = 0.001
LONG_TAIL = 0.5  # seconds of the tool's own voice still in the air; an answer starts about then
QUIET_SECONDS = 3.0
PATIENCE = 8.0


class SoundcheckWording(Strict):
    """prompts/soundcheck.yaml: what is said and printed."""

    hello: str
    ask: str
    listening: str
    noisy: str
    unheard: str
    clipped: str
    faint: str
    close_to_noise: str
    misheard: str
    echo: str
    no_microphone: str
    silent: str
    no_ear: str
    engine_left_out: str
    ready: str

    def advice(self, name: Advice) -> str:
        return str(getattr(self, name))


def load_wording(file: Path | None = None) -> SoundcheckWording:
    path = file or prompts_dir() / "soundcheck.yaml"
    return parse(SoundcheckWording, read_yaml(path), path)


@dataclass(frozen=True, slots=True)
class Room:
    """What the microphone hears of the place.

    noise_db: dB full scale.
    tail_s: seconds the prompt was still heard.
    """

    noise_db: float
    tail_s: float


@dataclass(frozen=True, slots=True)
class HeardWord:
    """What came of the word asked for.

    speech_db: its level, None if nothing was heard.
    clipped: share of samples.
    """

    hearing: Hearing
    speech_db: float | None
    clipped: float


class CheckedEar(Ear, Protocol):
    """An ear that knows whether all its engines are there."""

    @property
    def complete(self) -> bool: ...


def measure_room(microphone: Microphone) -> Room:
    """Listens right after a prompt; the driver is quiet. Raises DeviceError."""
    microphone.flush()
    blocks = [microphone.read() for _ in range(round(QUIET_SECONDS * RATE / BLOCK))]
    later = blocks[len(blocks) // 2 :]
    noise = float(np.median([level(block) for block in later]))
    first: Audio = np.concatenate(blocks[: len(blocks) // 2])
    return Room(noise, tail(first, noise, margin_db=6.0))


def hear_word(ear: Ear, question: Question) -> HeardWord:
    """Listens for one answer. Raises DeviceError."""
    hearing = ear.listen(question)
    audio = hearing.audio
    if hearing.outcome in ("silence", "noisy") or audio is None or not len(audio):
        return HeardWord(hearing, None, 0.0)
    loud = [level(audio[at : at + BLOCK]) for at in range(0, len(audio), BLOCK)]
    speech = [each for each in loud if each > max(loud) - 20]  # the pauses around it are no speech
    clipped = float(np.mean(np.abs(audio) >= CLIPPED))
    return HeardWord(hearing, float(np.mean(speech)), clipped)


def judge(room: Room, word: HeardWord | None, *, complete: bool = True) -> tuple[Advice, ...]:
    """What to do, most important first; ("ready",) if nothing.

    word: None if no ear was there to try one.
    complete: whether the ear has all its engines.
    """
    found: list[Advice] = []
    if room.noise_db > NOISY_DB:
        found.append("noisy")
    if word is None:
        found.append("no_ear")
    elif word.speech_db is None:
        found.append("unheard")
    else:
        if word.clipped > CLIPPED_SHARE:
            found.append("clipped")
        if word.speech_db < FAINT_DB:
            found.append("faint")
        if word.speech_db - room.noise_db < NEAR_NOISE_DB and "noisy" not in found:
            found.append("close_to_noise")
        meaning = word.hearing.meaning
        if meaning is None or meaning.kind != "ok":
            found.append("misheard")
    if room.tail_s > LONG_TAIL:
        found.append("echo")
    if not complete:
        found.append("engine_left_out")
    return tuple(found) or ("ready",)


def run(
    microphone: Microphone,
    speaker: Speaker,
    ear: CheckedEar | None,
    question: Question,
    wording: SoundcheckWording,
    show: Callable[[str], None],
) -> tuple[Advice, ...]:
    """The whole check, spoken and printed. Raises DeviceError if a device is lost on the way."""
    show(wording.hello)
    speaker.say(wording.hello)
    room = measure_room(microphone)
    show(f"Room noise: {_db(room.noise_db)}. Own voice dies away within {room.tail_s:.2f} s.")
    word = None
    if ear is not None:
        show(wording.ask)
        speaker.say(wording.ask)
        speaker.cue("listening")
        show(wording.listening)
        word = hear_word(ear, question)
        if word.speech_db is not None:
            heard = (
                f'Heard "{word.hearing.words}", {word.hearing.confidence:.0%} sure' if word.hearing.words else "Heard"
            )
            show(f"{heard}. Voice: {_db(word.speech_db)}, {word.speech_db - room.noise_db:.0f} dB over the room.")
    advice = judge(room, word, complete=ear is None or ear.complete)
    for name in reversed(advice):
        show(wording.advice(name))
        speaker.say(wording.advice(name))
    return advice


def _db(value: float) -> str:
    return "no sound" if value <= SILENCE_DB else f"{value:.0f} dB full scale"
