"""Microphones that play a recording: the clock is the audio itself, so tests run at full speed and repeat exactly."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from voice.errors import DeviceError
from voice.sound.port import BLOCK, RATE, Audio

if TYPE_CHECKING:
    import soundfile


class AudioClock:
    """Clock that counts the audio that was read, in seconds. Never goes back."""

    def __init__(self) -> None:
        self._samples = 0

    def now(self) -> float:
        return self._samples / RATE

    def advance(self, samples: int) -> None:
        self._samples += samples


class ArrayMicrophone:
    """Plays given audio (float32, mono, 16 kHz) in blocks; when it is used up, faint noise for ever, or the end.

    noise_db: level of the noise that follows, dB full scale (digital zeros would mean a dead microphone).
    endless: if False, reading past the end raises DeviceError.
    flush() drops nothing by default: what is said after a prompt in a script is still to come. With live=True it
    behaves like a sound card: nothing is buffered while nobody reads, so there is nothing to drop either.
    """

    def __init__(
        self,
        audio: Audio | Iterable[float] = (),
        *,
        clock: AudioClock | None = None,
        noise_db: float = -70.0,
        endless: bool = True,
        name: str = "recording",
    ) -> None:
        self.name = name
        self.clock = clock or AudioClock()
        self._audio: Audio = np.asarray(audio, dtype=np.float32)
        self._at = 0
        self._noise = 10 ** (noise_db / 20)
        self._random = np.random.default_rng(11)
        self._endless = endless
        self.flushes = 0

    def now(self) -> float:
        return self.clock.now()

    def play(self, audio: Audio) -> None:
        """Put more audio behind what is still unread."""
        self._audio = np.concatenate([self._audio[self._at :], audio.astype(np.float32)])
        self._at = 0

    @property
    def left(self) -> float:
        """Seconds of given audio not read yet."""
        return (len(self._audio) - self._at) / RATE

    def read(self) -> Audio:
        block = self._audio[self._at : self._at + BLOCK]
        if not len(block) and not self._endless:
            raise DeviceError("The recording has ended.", "Give a longer one.")
        self._at += len(block)
        self.clock.advance(BLOCK)
        if len(block) == BLOCK:
            return block
        rest = self._noise * self._random.standard_normal(BLOCK - len(block)).astype(np.float32)
        return np.concatenate([block, rest])

    def flush(self) -> None:
        self.flushes += 1

    def close(self) -> None:
        """Nothing to let go of."""


class WavMicrophone(ArrayMicrophone):
    """Plays a sound file of any rate and number of channels (soundfile reads it, soxr resamples it)."""

    def __init__(self, path: Path, *, clock: AudioClock | None = None, endless: bool = True) -> None:
        super().__init__(load(path), clock=clock, endless=endless, name=path.name)


LONGEST = 4 * 3600  # seconds of a recording: more than any walk; and what a header claims beyond that is a mistake
RATES = (1_000, 768_000)  # Hz


def load(path: Path) -> Audio:
    """A sound file as float32 mono at 16 kHz, every sample a number in -1..1. Raises DeviceError."""
    import soundfile
    import soxr

    hint = "Give a WAV, FLAC or OGG file."
    try:
        path.open("rb").close()  # the library that reads it does not say why it cannot
        with soundfile.SoundFile(path) as file:
            rate = file.samplerate
            if not RATES[0] <= rate <= RATES[1]:
                raise DeviceError(f"The recording {path} claims {rate} samples a second.", hint)
            audio = _most(file, LONGEST * rate)
    except OSError as error:
        raise DeviceError(f"The recording {path} cannot be read: {error.strerror}.", "Check its name.") from error
    except (soundfile.SoundFileError, MemoryError) as error:
        raise DeviceError(f"The recording {path} cannot be read: {error}", hint) from error
    if not np.isfinite(audio).all():
        raise DeviceError(f"The recording {path} holds values that are no numbers.", hint)
    mono = np.clip(audio, -1.0, 1.0).mean(axis=1)
    if rate != RATE:
        mono = np.clip(soxr.resample(mono, rate, RATE), -1.0, 1.0)
    return np.ascontiguousarray(mono, np.float32)


def _most(file: soundfile.SoundFile, limit: int) -> Audio:
    """Its samples, (frames, channels), at most `limit` frames: read in pieces, since a header may claim any length."""
    pieces = [np.zeros((0, file.channels), np.float32)]
    left = limit
    while left > 0:
        piece = file.read(min(left, 1 << 20), dtype="float32", always_2d=True)
        if not len(piece):
            break
        pieces.append(piece)
        left -= len(piece)
    return np.concatenate(pieces)
