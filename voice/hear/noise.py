"""Levels: of a piece of audio, and of the surroundings as they change."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence

import numpy as np

from voice.sound.port import BLOCK, RATE, Audio

SILENCE_DB = -120.0


def level(audio: Audio) -> float:
    """Root mean square level in dB full scale (a full-scale square wave is 0); -120 for nothing."""
    if not len(audio):
        return SILENCE_DB
    power = float(np.mean(np.square(audio, dtype=np.float64)))
    return max(SILENCE_DB, 10 * math.log10(power + 1e-12))


class NoiseFloor:
    """Level of the surroundings: the median over the latest blocks without speech, kept from answer to answer.

    Where nearly everything sounds like speech (a chainsaw), it is taken from the quietest of all blocks instead.
    """

    def __init__(self, seconds: float = 2.0) -> None:
        blocks = round(seconds * RATE / BLOCK)
        self._still: deque[float] = deque(maxlen=blocks)
        self._all: deque[float] = deque(maxlen=2 * blocks)

    def add(self, block: Audio, *, speech: bool) -> None:
        """A block of BLOCK samples, and whether there may be speech in it."""
        loudness = level(block)
        self._all.append(loudness)
        if not speech:
            self._still.append(loudness)

    def forget(self) -> None:
        """Start over, for other surroundings."""
        self._still.clear()
        self._all.clear()

    @property
    def db(self) -> float:
        """dB full scale; -120 while nothing has been heard."""
        if len(self._still) >= 4:
            return float(np.median(self._still))
        return float(np.percentile(self._all, 15)) if self._all else SILENCE_DB


def snr_db(blocks: Sequence[Audio], floor_db: float) -> float:
    """How far (dB) the loudest quarter of the blocks is over the level of the surroundings."""
    levels = sorted(level(block) for block in blocks)
    loud = levels[-max(1, len(levels) // 4) :] if levels else [floor_db]
    return float(np.mean(loud)) - floor_db


def tail(after: Audio, floor_db: float, margin_db: float = 3.0) -> float:
    """Seconds until the tool's own voice has died away in audio recorded from the prompt's end on.

    floor_db: level of the surroundings, dB full scale. The soundcheck measures this once for a device.
    """
    blocks = len(after) // BLOCK
    loud = [n for n in range(blocks) if level(after[n * BLOCK : (n + 1) * BLOCK]) > floor_db + margin_db]
    return (loud[-1] + 1) * BLOCK / RATE if loud else 0.0
