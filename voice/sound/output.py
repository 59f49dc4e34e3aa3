"""Where sound goes: a sound card (see voice/sound/soundcard.py), ALSA's own player, or nowhere but onto a clock."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from typing import Protocol

import numpy as np

from voice.errors import DeviceError, SetupError, remedy
from voice.sound.port import RATE, Audio


class Output(Protocol):
    """Plays mono samples in -1..1; `play` returns when the sound has ended. Raises DeviceError."""

    name: str

    def play(self, audio: Audio, rate: float = RATE) -> None: ...

    def stop(self) -> None:
        """Cuts short what is playing, from another thread; `play` returns then. Does nothing if it cannot."""
        ...

    def close(self) -> None: ...


class ClockOutput:
    """No sound: moves a virtual clock on by the length of what is played, and hands the sound on if asked to.

    advance: called with the seconds played.
    record: called with the samples, at 16 kHz.
    """

    name = "clock"

    def __init__(self, advance: Callable[[float], None], record: Callable[[Audio], None] | None = None) -> None:
        self._advance = advance
        self._record = record

    def play(self, audio: Audio, rate: float = RATE) -> None:
        if self._record is not None:
            self._record(_resampled(audio, rate))
        self._advance(len(audio) / rate)

    def stop(self) -> None:
        """What is played here takes no time."""

    def close(self) -> None:
        """Nothing is held."""


def _resampled(audio: Audio, rate: float) -> Audio:
    if rate == RATE:
        return audio
    import soxr

    return np.asarray(soxr.resample(audio, rate, RATE), np.float32)


class AplayOutput:
    """ALSA's `aplay`, the player that pyttsx3 uses on Linux; so tones go where the voice goes."""

    name = "aplay"

    def __init__(self) -> None:
        path = shutil.which("aplay")
        if path is None:
            raise SetupError("The player aplay is not installed.", "On Debian and Ubuntu: sudo apt install alsa-utils.")
        self._path = path

    def play(self, audio: Audio, rate: float = RATE) -> None:
        samples = (np.clip(audio, -1.0, 1.0) * 32767).astype("<i2").tobytes()
        command = [self._path, "-q", "-t", "raw", "-f", "S16_LE", "-c", "1", "-r", str(round(rate)), "-"]
        limit = len(audio) / rate + 10
        try:
            done = subprocess.run(command, input=samples, capture_output=True, check=False, timeout=limit)  # noqa: S603
        except subprocess.TimeoutExpired:
            raise DeviceError("The loudspeaker does not take sound.", "Run gladhand soundcheck.", retry=True) from None
        except OSError as error:
            hint = remedy(error, "Run gladhand soundcheck.")
            raise DeviceError(f"The player aplay cannot be run: {error.strerror}.", hint, retry=True) from error
        if done.returncode:
            why = done.stderr.decode(errors="replace").strip().splitlines()[-1:] or ["no reason given"]
            raise DeviceError(
                f"The loudspeaker cannot be used: {why[0]}.", "Connect one and run gladhand soundcheck.", retry=True
            )

    def stop(self) -> None:
        """The player cannot be cut short; the sentence is spoken to its end."""

    def close(self) -> None:
        """Nothing is held."""
