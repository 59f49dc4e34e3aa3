"""What the loop needs of a voice."""

from __future__ import annotations

from typing import Protocol

from voice.walk.event import CueName


class Speaker(Protocol):
    """Speaks and makes short tones. Both return when the sound has ended, and advance a virtual clock by its length."""

    name: str

    def say(self, text: str) -> None: ...

    def cue(self, name: CueName) -> None: ...

    def close(self) -> None: ...
