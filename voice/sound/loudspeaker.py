"""The real loudspeaker: plays float32 audio and returns when the sound has ended."""

from __future__ import annotations

import json

import numpy as np

from voice.errors import DeviceError
from voice.sound.cardlink import CardLink
from voice.sound.cardprocess import FLAGS
from voice.sound.port import RATE, Audio

PATIENCE = 3.0  # seconds beyond the sound's own length before the loudspeaker counts as lost


class Loudspeaker:
    """A loudspeaker of this machine, by name (a part of it will do), or the system's default.

    The device stays open between sounds, so a prompt starts at once.
    name: the device's own name; the same one is opened again after a loss.
    rate: to open it with, Hz; its own if None.
    Raises DeviceError (retry: it may come back) or SetupError.
    """

    def __init__(self, device: str | None = None, *, rate: float | None = None) -> None:
        self._wanted = device
        self._rate = rate
        self._mark = 0
        self._open()

    def play(self, audio: Audio, rate: float = RATE) -> None:
        """Plays the samples (-1..1, mono, at rate Hz) and returns when they have been heard.

        If the device was lost since, it is opened once more first.
        """
        if not self._link.alive:
            self.reopen()
        self._mark += 1
        self._link.send(b"A", FLAGS.pack(0) + self._fitted(audio, rate))
        self._link.send(b"J", json.dumps({"mark": self._mark}).encode())
        limit = len(audio) / rate + self.latency + PATIENCE
        try:
            while self._link.expect("ended", limit)["mark"] != self._mark:
                pass
        except DeviceError:
            self._link.close()  # it may hang for ever; the next sound gets a new one
            raise DeviceError(
                f'The loudspeaker "{self.name}" is gone.', "Plug it in or connect it again.", retry=True
            ) from None

    def stop(self) -> None:
        """Cuts short what is playing; from another thread. `play` returns then."""
        self._link.send(b"J", json.dumps({"stop": True}).encode())

    def reopen(self) -> None:
        """Tries once to open the same device again."""
        self.close()
        self._open()

    def close(self) -> None:
        self._link.close()

    def _open(self) -> None:
        link = CardLink("play", self._wanted, self._rate)
        opened = link.opened()
        self._link = link
        self._wanted = opened.label
        self.name = opened.name
        self.latency = opened.latency
        self._own_rate = opened.rate
        self._channels = opened.channels

    def _fitted(self, audio: Audio, rate: float) -> bytes:
        samples = np.clip(np.asarray(audio, np.float32), -1.0, 1.0)
        if rate != self._own_rate:
            import soxr

            samples = soxr.resample(samples, rate, self._own_rate).astype(np.float32)
        return np.repeat(samples[:, None], self._channels, axis=1).tobytes()
