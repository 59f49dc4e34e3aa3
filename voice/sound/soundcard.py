"""The real microphone and the real clock. Heard in real time, at the device's own rate, lost and found again."""

from __future__ import annotations

import math
import threading
import time
from collections import deque
from collections.abc import Callable

from voice.errors import DeviceError
from voice.sound.blocks import Intake
from voice.sound.cardlink import CardLink, list_devices
from voice.sound.cardprocess import OVERFLOW
from voice.sound.loudspeaker import Loudspeaker
from voice.sound.port import Audio

__all__ = ["Loudspeaker", "RealClock", "SoundCardMicrophone", "list_devices", "open_microphone"]

FIRST_WITHIN = 5.0  # seconds from opening to the first block: a wireless headset changes its mode first
LOST_AFTER = 1.5  # seconds without a block: a stream delivers some 10 a second, and the driver is to know within 2
SILENT_AFTER = 1.7  # seconds of exact zeros: no room and no converter is that quiet
KEEP = 60.0  # seconds of sound kept for a reader who is late; beyond that the oldest goes


class RealClock:
    """Seconds since it was made, from the monotonic clock."""

    def __init__(self) -> None:
        self._start = time.monotonic()

    def now(self) -> float:
        return time.monotonic() - self._start


class _Captured:
    """What one stream has delivered and nobody read yet. Filled by the link's thread, emptied by the reader's."""

    def __init__(self) -> None:
        self._chunks: deque[bytes] = deque()
        self._changed = threading.Condition()
        self._size = 0
        self._zeros = 0  # bytes of exact zeros up to the newest, read or not
        self._last = time.monotonic()
        self.most = math.inf  # bytes kept
        self.overflows = 0
        self.dropped = 0  # bytes

    def put(self, flags: int, chunk: bytes) -> None:
        with self._changed:
            self.overflows += bool(flags & OVERFLOW)
            self._chunks.append(chunk)
            self._size += len(chunk)
            self._zeros = 0 if chunk.strip(b"\0") else self._zeros + len(chunk)
            while self._size > self.most:
                self.dropped += len(self._chunks[0])
                self._size -= len(self._chunks.popleft())
            self._last = time.monotonic()
            self._changed.notify()

    def get(self, patience: float) -> bytes | None:
        """The next chunk; None if none has come for patience seconds, counted from the last that came."""
        with self._changed:
            while not self._chunks:
                left = self._last + patience - time.monotonic()
                if left <= 0 or not self._changed.wait(left):
                    return None
            chunk = self._chunks.popleft()
            self._size -= len(chunk)
            return chunk

    @property
    def zeros(self) -> int:
        """Bytes of nothing but exact zeros that came last, also while nobody read."""
        with self._changed:
            return self._zeros

    def started(self, limit: float) -> bool:
        """Whether a first chunk comes within limit seconds."""
        with self._changed:
            return self._changed.wait_for(lambda: bool(self._chunks), limit)

    def clear(self) -> None:
        with self._changed:
            self._chunks.clear()
            self._size = 0


class SoundCardMicrophone:
    """A microphone of this machine, by name (a part of it will do), or the system's default.

    name: the device's own name. The same device is opened again after a loss, whatever is the default by then.
    latency: seconds from the air to the reader, as the audio library reckons.
    read and flush are for one thread. read raises DeviceError(retry=True) when no block comes (unplugged) or only
    exact zeros (muted, or recording not allowed); silent_after=None switches the latter off, for a headset that
    gates its noise to nothing.
    """

    def __init__(
        self,
        device: str | None = None,
        *,
        rate: float | None = None,
        lost_after: float = LOST_AFTER,
        silent_after: float | None = SILENT_AFTER,
    ) -> None:
        self._wanted = device
        self._rate = rate
        self._lost_after = lost_after
        self._silent_after = silent_after
        self._past_overflows = 0
        self._past_dropped = 0.0
        self._open()

    @property
    def overflows(self) -> int:
        """How often the audio library said that it lost samples."""
        return self._past_overflows + self._captured.overflows

    @property
    def dropped(self) -> float:
        """Seconds of sound thrown away because nobody read for a minute."""
        return self._past_dropped + self._captured.dropped / self._second

    def read(self) -> Audio:
        """The next 512 samples; waits for them."""
        while (block := self._intake.take()) is None:
            if self._silent_after is not None and self._captured.zeros >= self._silent_after * self._second:
                raise self._mute()
            self._intake.add(self._next_chunk())
        return block

    def flush(self) -> None:
        """Drops what was captured so far, and what the audio library has captured but not delivered yet."""
        self._captured.clear()
        self._intake.reset()
        self._skip = self._frame * round(self.latency * self._second / self._frame)

    def reopen(self) -> None:
        """Tries once to have the same device back. Raises DeviceError if it is not there, or still silent."""
        if not self._flowing():
            self.close()
            self._open()
        if self._silent_after is not None and not self._sounds():
            raise self._mute()
        self.flush()

    def expect_sound(self) -> None:
        """To be called before the first prompt. Raises DeviceError if there is nothing but zeros: it is muted."""
        if self._silent_after is not None and not self._sounds(self._silent_after):
            raise self._mute()
        self.flush()

    def wait_back(self, limit: float | None = None, wait: Callable[[float], None] = time.sleep) -> bool:
        """Tries to reopen, twice a second, until it is back (True) or limit seconds are over (False)."""
        start = time.monotonic()
        while True:
            try:
                self.reopen()
            except DeviceError:
                if limit is not None and time.monotonic() - start >= limit:
                    return False
                wait(0.5)
            else:
                return True

    def close(self) -> None:
        self._link.close()

    def _open(self) -> None:
        if hasattr(self, "_captured"):
            self._past_overflows, self._past_dropped = self.overflows, self.dropped
        captured = _Captured()
        link = CardLink("capture", self._wanted, self._rate, captured.put)
        opened = link.opened()
        self._link, self._captured = link, captured
        self._wanted = opened.label
        self.name = opened.name
        self.latency = opened.latency
        self._frame = 4 * opened.channels
        self._second = self._frame * opened.rate
        captured.most = KEEP * self._second
        self._intake = Intake(opened.rate, opened.channels)
        self._skip = 0
        if not captured.started(FIRST_WITHIN):
            link.close()
            raise self._gone()

    def _next_chunk(self) -> bytes:
        while True:
            chunk = self._captured.get(self._lost_after)
            if chunk is None:
                raise self._gone()
            skipped = min(self._skip, len(chunk))
            self._skip -= skipped
            if skipped < len(chunk):
                return chunk[skipped:]

    def _flowing(self) -> bool:
        """The stream still delivers: then it is silent, not lost, and there is no need for a new one."""
        if not self._link.alive:
            return False
        self._captured.clear()
        return self._captured.get(0.5) is not None

    def _sounds(self, limit: float = 0.5) -> bool:
        """Whether anything but zeros comes within so many seconds of sound."""
        self._intake.reset()
        heard = 0.0
        while heard < limit:
            chunk = self._next_chunk()
            heard += len(chunk) / self._second
            self._intake.add(chunk)
            if heard - self._intake.silent > 1e-6:
                return True
        return False

    def _gone(self) -> DeviceError:
        return DeviceError(f'The microphone "{self.name}" is gone.', "Plug it in or connect it again.", retry=True)

    def _mute(self) -> DeviceError:
        return DeviceError(
            f'The microphone "{self.name}" gives no sound at all.',
            "Switch off its mute, and allow this program to use it.",
            retry=True,
        )


def open_microphone(name: str | None = None) -> SoundCardMicrophone:
    """The microphone of that name, or the system's default. Raises DeviceError or SetupError with what to do."""
    return SoundCardMicrophone(name)
