"""What a sound card delivers, made into what the ears take: 16 kHz mono blocks of 512 samples."""

from __future__ import annotations

import numpy as np

from voice.sound.port import BLOCK, RATE, Audio


class Intake:
    """Resamples and cuts. Pure: the same chunks give the same blocks, however they were cut before.

    rate: of the device, Hz.
    channels: interleaved in a chunk; they are averaged.
    """

    def __init__(self, rate: float, channels: int) -> None:
        self._rate = rate
        self._channels = channels
        self.reset()

    def reset(self) -> None:
        """Forgets what is in it, the resampler's memory too."""
        import soxr

        self._stream = None if self._rate == RATE else soxr.ResampleStream(self._rate, RATE, 1, dtype="float32")
        self._ready: Audio = np.zeros(0, np.float32)
        self._zeros = 0

    @property
    def silent(self) -> float:
        """Seconds of exact zeros up to the last sample added: a muted microphone, or one that is not allowed."""
        return self._zeros / self._rate

    def add(self, chunk: bytes) -> None:
        """chunk: float32 frames as the device delivered them; what is no number there, or beyond -1..1, is made one."""
        frames = np.frombuffer(chunk, np.float32).reshape(-1, self._channels)
        frames = np.clip(np.nan_to_num(frames, nan=0.0), -1.0, 1.0)  # one such sample would stay in the resampler
        mono: Audio = frames[:, 0] if self._channels == 1 else frames.mean(axis=1, dtype=np.float32)
        sounding = np.flatnonzero(mono)
        self._zeros = self._zeros + len(mono) if not len(sounding) else len(mono) - 1 - int(sounding[-1])
        if self._stream is not None:
            mono = self._stream.resample_chunk(np.ascontiguousarray(mono))
        self._ready = np.concatenate([self._ready, mono])

    def take(self) -> Audio | None:
        """The next block, None if there is not a whole one yet."""
        if len(self._ready) < BLOCK:
            return None
        block, self._ready = self._ready[:BLOCK], self._ready[BLOCK:]
        return block
