"""Speaking while the microphone is already open, for a headset: a driver who knows the prompt may cut in on it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Protocol

from voice.errors import GladhandError
from voice.speak.port import Speaker


class Stoppable(Speaker, Protocol):
    """A speaker that can be cut short from another thread; `say` returns then."""

    def stop(self) -> None: ...


class Overlap:
    """One question being spoken on a thread of its own. Raises in `finish` what the speaker raised.

    now: the clock on which the driver's answer is timed.
    ended: when its last word had been spoken, on that clock; None while it goes on, and if it was cut short.
    """

    def __init__(self, speaker: Stoppable, text: str, now: Callable[[], float]) -> None:
        self.ended: float | None = None
        self._speaker = speaker
        self._now = now
        self._stopped = False
        self._failed: GladhandError | None = None
        self._thread = threading.Thread(target=self._say, args=(text,), daemon=True)
        self._thread.start()

    def _say(self, text: str) -> None:
        try:
            self._speaker.say(text)
            if not self._stopped:
                self.ended = self._now()
        except GladhandError as error:
            self._failed = error

    @property
    def over(self) -> bool:
        return not self._thread.is_alive()

    def stop(self) -> None:
        """Cuts the sentence short, if it is still going on."""
        if not self.over:
            self._stopped = True
            self._speaker.stop()

    def heard(self, onset: float) -> bool:
        """Whether all of it had been spoken when the driver began. Known once `finish` has returned."""
        return self.ended is not None and self.ended <= onset

    def finish(self) -> None:
        """Waits for the end of the sound."""
        self._thread.join()
        if self._failed is not None:
            raise self._failed
