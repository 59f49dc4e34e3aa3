"""Damaged and hostile recordings through the ways sound comes in: files, and what a sound card delivers."""

from __future__ import annotations

import io
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import soundfile

from tests.attack.run import Case
from voice.errors import GladhandError
from voice.hear.ear import VoiceEar
from voice.models.engines import load_engines
from voice.sound.blocks import Intake
from voice.sound.port import RATE, Audio
from voice.sound.recording import ArrayMicrophone, load
from voice.understand.meaning import Ok
from voice.understand.phrases import Phrasebook
from voice.understand.question import Question

ABOUT = "damaged and hostile sound files and samples: one sentence or sound within bounds, and never an okay"
SHARE = 60
LISTENED = 12  # of so many cases one is given to the whole ear, which takes most of the time

WEIRD = np.array([np.nan, np.inf, -np.inf, 3e38, -3e38, 1e-45, 0.0, 1.5], np.float32)
FORMS = (
    ("WAV", "PCM_16"),
    ("WAV", "FLOAT"),
    ("WAV", "DOUBLE"),
    ("WAV", "PCM_U8"),
    ("FLAC", "PCM_16"),
    ("OGG", "VORBIS"),
)
SIZES = (0, 1, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF, 0xFFFFFF00)


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    microphone = ArrayMicrophone()
    engines = load_engines()
    ear = VoiceEar(microphone, engines.judge, engines.writer, clock=microphone)
    question = Question("condition", Phrasebook().condition(), patience=2.0)

    def case(number: int, rng: random.Random) -> str | None:
        audio = _from_card(rng) if number % 3 == 2 else _from_file(folder / "clip", rng)
        if audio is None:
            return None
        if audio.dtype != np.float32 or audio.ndim != 1 or not np.isfinite(audio).all():
            return f"sound that is no sound: {audio.dtype}, {audio.shape}"
        if len(audio) and np.abs(audio).max() > 1.0:
            return f"a sample of {np.abs(audio).max()}"
        if number % LISTENED:
            return None
        given = ArrayMicrophone(audio[: 6 * RATE])
        ear.use(given, given)
        heard = ear.listen(question)
        return f"an okay from noise, {heard.confidence:.2f} sure" if _is_okay(heard.outcome, heard.meaning) else None

    yield case
    ear.close()


def _is_okay(outcome: str, meaning: object) -> bool:
    return outcome == "heard" and isinstance(meaning, Ok)


def _noise(rng: random.Random, count: int) -> np.ndarray:
    made = np.random.default_rng(rng.getrandbits(32))
    kind = rng.randrange(4)
    if kind == 0:
        return made.standard_normal(count) * 10 ** rng.uniform(-5, 1)
    if kind == 1:
        tone: np.ndarray = np.sin(np.arange(count) * rng.uniform(0.001, 1.0)) * rng.uniform(0, 2)
        return tone
    if kind == 2:
        steps: np.ndarray = np.repeat(made.standard_normal(count // 700 + 1), 700)[:count]  # bursts and steps
        return steps
    return np.zeros(count)


def _spoilt(samples: np.ndarray, rng: random.Random) -> np.ndarray:
    """With some values that are no sound."""
    out = samples.copy()
    for _ in range(rng.choice((0, 0, 1, 3, 50)) if out.size else 0):
        out.flat[rng.randrange(out.size)] = rng.choice(WEIRD)
    return out


def _from_file(path: Path, rng: random.Random) -> Audio | None:
    """What loading a damaged file gives; None if it is refused with a sentence."""
    form, kind = rng.choice(FORMS)
    rate, channels = rng.choice((8000, 16000, 22050, 44100, 48000, 192000)), rng.choice((1, 1, 2, 6))
    count = rng.choice((0, 1, 2, 511, 512, rng.randrange(4000), 40_000))
    samples = _noise(rng, count * channels).reshape(-1, channels)
    if kind in ("FLOAT", "DOUBLE"):
        samples = _spoilt(samples, rng)
    made = io.BytesIO()
    soundfile.write(made, samples, rate, format=form, subtype=kind)
    path.write_bytes(rng.choice(DAMAGES)(bytearray(made.getvalue() or bytes(64)), rng))
    try:
        return load(path)
    except GladhandError as error:
        if not error.message or "\n" in error.message.strip():
            raise AssertionError(f"no single sentence: {error.message!r}") from error
        return None


def _from_card(rng: random.Random) -> Audio:
    """What a sound card's chunks of any content come to."""
    channels = rng.choice((1, 2))
    intake = Intake(rng.choice((8000.0, 16000.0, 44100.0, 48000.0)), channels)
    blocks = []
    for _ in range(rng.randrange(1, 30)):
        frames = _spoilt(_noise(rng, channels * rng.choice((0, 1, 7, 441, 4800))), rng)
        intake.add(frames.astype(np.float32).tobytes())
        while (block := intake.take()) is not None:
            blocks.append(block)
    return np.clip(np.concatenate(blocks), -1, 1) if blocks else np.zeros(0, np.float32)


def _whole(data: bytearray, _: random.Random) -> bytes:
    return bytes(data)


def _cut(data: bytearray, rng: random.Random) -> bytes:
    return bytes(data[: rng.randrange(len(data) + 1)])


def _flipped(data: bytearray, rng: random.Random) -> bytes:
    for _ in range(rng.choice((1, 1, 8, 64))):
        at = rng.randrange(min(len(data), rng.choice((64, len(data)))))
        data[at] ^= 1 << rng.randrange(8)
    return bytes(data)


def _claims(data: bytearray, rng: random.Random) -> bytes:
    """Four bytes of the header claim another size, rate or number of channels."""
    at = rng.randrange(4, min(len(data), 60))
    data[at : at + 4] = rng.choice(SIZES).to_bytes(4, rng.choice(("little", "big")))
    return bytes(data)


def _other(data: bytearray, rng: random.Random) -> bytes:
    return rng.choice((b"", b"RIFF", b"fLaC", b"OggS", bytes(200), rng.randbytes(300), b"RIFF\xff\xff\xff\xffWAVEfmt "))


def _longer(data: bytearray, rng: random.Random) -> bytes:
    return bytes(data) + rng.randbytes(rng.randrange(5000))


DAMAGES: tuple[Callable[[bytearray, random.Random], bytes], ...] = (_whole, _cut, _flipped, _claims, _other, _longer)
