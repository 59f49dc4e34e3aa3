"""A speaker made of a synthesizer program and an output: real voice, any device, or a virtual clock."""

from __future__ import annotations

import time

import numpy as np

from voice.sound.output import Output
from voice.sound.port import RATE, Audio
from voice.speak.cues import tone
from voice.speak.synth import synthesize
from voice.walk.event import CueName

QUIET = 0.003  # -50 dB full scale: below it a synthesizer only fades out
BREATH = RATE // 50  # samples, 20 ms


class SynthesisSpeaker:
    """Speaks with a voice of voice/speak/synth.py through an output.

    seconds_made: time spent synthesizing so far.
    seconds_spoken: length of what was said.
    The last 64 sentences are kept, to be said again. Raises SetupError at the start if the voice cannot speak.
    """

    def __init__(self, output: Output, voice: str = "espeak:en-us", *, pace: float = 1.0) -> None:
        self.name = voice
        self.seconds_made = 0.0
        self.seconds_spoken = 0.0
        self._output = output
        self._pace = pace
        self._kept: dict[str, Audio] = {}
        self._audio("a")

    def say(self, text: str) -> None:
        audio = self._audio(text)
        self.seconds_spoken += len(audio) / RATE
        if len(audio):
            self._output.play(audio)

    def cue(self, name: CueName) -> None:
        self._output.play(tone(name))

    def stop(self) -> None:
        """Cuts short what is being said, from another thread."""
        self._output.stop()

    def close(self) -> None:
        self._output.close()

    def _audio(self, text: str) -> Audio:
        if text in self._kept:
            return self._kept[text]
        start = time.perf_counter()
        audio = trimmed(synthesize(text, self.name, pace=self._pace))
        self.seconds_made += time.perf_counter() - start
        if len(self._kept) >= 64:
            del self._kept[next(iter(self._kept))]
        self._kept[text] = audio
        return audio


def trimmed(audio: Audio) -> Audio:
    """Without the silence before and after, but for a breath: so the driver's turn comes as soon as the words end."""
    loud = np.flatnonzero(np.abs(audio) > QUIET)
    if not len(loud):
        return audio
    return audio[max(0, loud[0] - BREATH) : loud[-1] + BREATH]
