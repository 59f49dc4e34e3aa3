"""What a scripted driver says, as data, and the engine noise they say it in."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import numpy as np
from pydantic import Field

from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.errors import DataError
from voice.sound.port import RATE, Audio


class ScriptLine(Strict):
    """What the driver says at one step. Keys are the stages of the conversation.

    first: commands said before the answer, in order.
    ask: the answer.
    which: the defect, when asked which.
    follow: answers to follow-ups, by id.
    described: a defect that has no name.
    start: gauge readings at the beginning of a hold.
    end: gauge readings at its end.
    wait: seconds before a called moment.
    reason: for "not applicable".
    note: what is dictated.
    """

    step: str
    first: tuple[str, ...] = ()
    ask: str | None = None
    which: str | None = None
    follow: dict[str, str] = Field(default_factory=dict)
    described: str | None = None
    start: tuple[str, ...] = ()
    end: tuple[str, ...] = ()
    wait: float = 3.0
    reason: str | None = None
    note: str | None = None

    def reading(self, key: Literal["start", "end"], gauge: int) -> str:
        """What the gauge of this number shows. Raises DataError if the script does not say."""
        said = self.start if key == "start" else self.end
        if gauge >= len(said):
            raise DataError(
                f'the script does not say what gauge {gauge + 1} shows at "{self.step}".',
                f'Give that step "{key}", a reading for each gauge, as demo/driver.yaml does.',
            )
        return said[gauge]


class Script(Strict):
    """A whole driver.

    voice: the synthesizer's.
    snr_db: of the voice over the noise.
    noise_db: level of the engine noise, dB full scale.
    setup: answers before the walk, by topic.
    usual: the answer by kind of question.
    readings: by quantity.
    choices: by item.
    """

    name: str
    voice: str = "flite:slt"
    snr_db: float = 15.0
    noise_db: float = -42.0
    seed: int = 1
    setup: dict[str, str] = Field(default_factory=dict)
    usual: dict[Literal["condition", "done", "ready"], str] = Field(min_length=3)
    readings: dict[str, str]
    choices: dict[str, str] = Field(default_factory=dict)
    steps: tuple[ScriptLine, ...] = ()


def load_script(path: Path) -> Script:
    """Raises DataError with file and line."""
    return parse(Script, read_yaml(path), path)


def idle(seconds: float, seed: int) -> Audio:
    """A synthetic diesel idle, RMS 1: firing harmonics that wander a little, over low rumble and a little hiss."""
    rng = np.random.default_rng(seed)
    count = int(seconds * RATE)
    t = np.arange(count) / RATE
    wander = 1 + 0.01 * np.sin(2 * np.pi * 0.3 * t) + 0.004 * np.sin(2 * np.pi * 1.7 * t)
    phase = 2 * np.pi * np.cumsum(32.0 * wander) / RATE
    firing = sum(np.sin(k * phase + rng.uniform(0, 6.28)) / k**0.8 for k in range(1, 24))
    spectrum = np.fft.rfft(rng.standard_normal(count))
    frequency = np.fft.rfftfreq(count, 1 / RATE)
    rumble = np.fft.irfft(spectrum / np.maximum(frequency, 40.0) ** 0.5, count)
    noise = firing / np.std(firing) + 1.2 * rumble / np.std(rumble)
    return np.asarray(noise / np.sqrt(np.mean(noise**2)), np.float32)
