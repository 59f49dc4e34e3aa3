"""Speech made at test time by a synthesizer, and scenes around it."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from num2words import num2words

from voice.measure import Measure
from voice.sound.port import RATE, Audio
from voice.sound.recording import load
from voice.understand.meaning import Command, Defect, Meaning, Number, Ok, Stop
from voice.understand.question import Phrase, Question

VOICES = (("flite", "slt"), ("flite", "rms"), ("espeak-ng", "en-us"))


@cache
def say(text: str, program: str = "flite", voice: str = "slt") -> Audio:
    """Speech at 16 kHz; skips the test if the synthesizer is not installed."""
    if shutil.which(program) is None:
        pytest.skip(f"the synthesizer {program} is not installed")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        spelled = text.replace("psi", "P S I")
        if program == "flite":
            order = ["flite", "-voice", voice, "-t", spelled, "-o", str(path)]
        else:
            order = ["espeak-ng", "-v", voice, "-w", str(path), spelled]
        subprocess.run(order, check=True)
        audio = load(path)
    audio = audio * np.float32(0.5 / np.abs(audio).max())
    audio.setflags(write=False)
    return audio


def hiss(seconds: float, db: float = -60.0, seed: int = 0) -> Audio:
    """White noise at a level in dB full scale."""
    random = np.random.default_rng(seed)
    return (10 ** (db / 20) * random.standard_normal(int(seconds * RATE))).astype(np.float32)


def scene(*parts: Audio | float, db: float = -60.0) -> Audio:
    """Speech and pauses (numbers: seconds) in a row, over faint noise."""
    clean = np.concatenate(
        [np.zeros(int(part * RATE), np.float32) if isinstance(part, int | float) else part for part in parts]
    )
    return clean + hiss(len(clean) / RATE + 1, db)[: len(clean)]


def _commands() -> list[tuple[str, Meaning]]:
    return [
        ("repeat", Command("repeat")),
        ("explain", Command("explain")),
        ("go back", Command("back")),
        ("skip", Command("skip")),
        ("pause", Command("pause")),
        ("where am i", Command("where")),
        ("help", Command("help")),
    ]


_CONDITIONS: list[tuple[str, Meaning]] = [
    ("okay", Ok()),
    ("good", Ok()),
    ("looks good", Ok()),
    ("defect", Defect()),
    ("not okay", Defect()),
    ("not good", Defect()),
    ("bad", Defect()),
    ("cracked", Defect("cracked")),
    ("leaking", Defect("leaking")),
    *_commands(),
]

CONDITION = Question(
    "condition",
    tuple(Phrase(text, meaning) for text, meaning in _CONDITIONS),
    patience=3.0,
)


def spell(value: int) -> str:
    """How people say a whole number up to 199, by num2words (PyPI)."""
    return str(num2words(value)).replace("-", " ").replace(" and ", " ")


READING = Question(
    "reading",
    tuple(
        Phrase(spell(value) + unit, Number(Measure(Fraction(value), "psi")))
        for value in range(131)
        for unit in ("", " psi")
    )
    + tuple(Phrase(text, meaning) for text, meaning in _commands()),
    unit="psi",
    patience=3.0,
)
QUIET = Question("quiet", (Phrase("stop", Stop()), Phrase("abort", Stop())), patience=6.0)
