"""The short tones. Told apart by melody and rhythm, not by pitch alone, so that they survive engine noise and age.

All are within 0.5 s and between 500 and 1,700 Hz: above most of an engine's noise, below where hearing fades first.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from voice.sound.port import RATE, Audio
from voice.walk.event import CueName

FADE = 0.008  # seconds of rise and fall of each tone, against clicks
LEVEL = 0.5


@dataclass(frozen=True, slots=True)
class Tone:
    """A tone of a cue.

    hz: its pitch; 0 is a pause.
    seconds: length.
    """

    hz: int
    seconds: float


CUES: dict[CueName, tuple[Tone, ...]] = {
    "listening": (Tone(880, 0.09),),
    "understood": (Tone(880, 0.07), Tone(1319, 0.10)),
    "not-understood": (Tone(784, 0.10), Tone(523, 0.16)),
    "half": (Tone(988, 0.07), Tone(0, 0.06), Tone(988, 0.07)),
    "ten": (Tone(1175, 0.06), Tone(0, 0.05), Tone(1175, 0.06), Tone(0, 0.05), Tone(1175, 0.06)),
    "end": (Tone(1047, 0.10), Tone(1319, 0.10), Tone(1568, 0.18)),
    "trouble": (Tone(659, 0.12), Tone(0, 0.05), Tone(659, 0.12), Tone(0, 0.05), Tone(523, 0.16)),
}

MEANS: dict[CueName, str] = {
    "listening": "your turn: it listens",
    "understood": "the answer was taken",
    "not-understood": "speech was heard, but not understood",
    "half": "half of a timed check is over",
    "ten": "ten seconds of a timed check are left",
    "end": "the time is over: read the gauge",
    "trouble": "a device is lost, or something needs attention",
}


@cache
def tone(name: CueName) -> Audio:
    """The cue as float32 mono at 16 kHz."""
    sound: Audio = np.concatenate([_sine(part) for part in CUES[name]])
    sound.flags.writeable = False
    return sound


def length(name: CueName) -> float:
    """Seconds."""
    return len(tone(name)) / RATE


def table() -> str:
    """The cues as a Markdown table, for the README."""
    rows = [
        f"| {name} | {MEANS[name]} | {_melody(parts)} | {sum(part.seconds for part in parts):.2f} |"
        for name, parts in CUES.items()
    ]
    return "\n".join(["| cue | means | tones, Hz | seconds |", "|---|---|---|---|", *rows])


def _melody(parts: tuple[Tone, ...]) -> str:
    return " ".join(str(part.hz) if part.hz else "-" for part in parts)


def _sine(part: Tone) -> Audio:
    count = round(part.seconds * RATE)
    if not part.hz:
        return np.zeros(count, np.float32)
    wave = np.sin(2 * np.pi * part.hz * np.arange(count) / RATE)
    ramp = np.minimum(1.0, np.minimum(np.arange(count), np.arange(count)[::-1]) / (FADE * RATE))
    return (LEVEL * wave * ramp).astype(np.float32)
