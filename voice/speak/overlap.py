"""Speaking while the microphone is already open, for a headset: a driver who knows the prompt may cut in on it."""

from __future__ import annotations

import threading
from typing import Protocol

from voice.errors import GladhandError
from voice.speak.port import Speaker


class Stoppable(Speaker, Protocol):
    """A speaker that can be cut short from another thread; `say` returns then."""

    def stop(self) -> None: ...


class Overlap:
    """One sentence being spoken on a thread of its own. Raises in `finish` what the speaker raised."""

    def __init__(self, speaker: Stoppable, text: str) -> None:
        self._speaker = speaker
        self._failed: GladhandError | None = None
        self._thread = threading.Thread(target=self._say, args=(text,), daemon=True)
        self._thread.start()

    def _say(self, text: str) -> None:
        try:
            self._speaker.say(text)
        except GladhandError as error:
            self._failed = error

    @property
    def over(self) -> bool:
        return not self._thread.is_alive()

    def stop(self) -> None:
        """Cuts the sentence short, if it is still going on."""
        if not self.over:
            self._speaker.stop()

    def finish(self) -> None:
        """Waits for the end of the sound."""
        self._thread.join()
        if self._failed is not None:
            raise self._failed
