"""What a source of sound is.

Audio is float32 mono at 16 kHz in -1..1 everywhere inside; adapters resample at the edge.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

RATE = 16_000


BLOCK = 512  # samples: what the voice-activity model takes at a time, 32 ms


Audio = NDArray[np.float32]


class Clock(Protocol):
    def now(self) -> float:
        """Seconds since the session's clock was made; never goes back."""
        ...


class Microphone(Protocol):
    """A source of audio. Raises DeviceError when it is lost or stays silent (exact zeros)."""

    name: str

    def read(self) -> Audio:
        """The next BLOCK samples; waits for them. Advances the clock by BLOCK / RATE when it is a recording."""
        ...

    def flush(self) -> None:
        """Drop what was captured so far (the tool's own voice)."""
        ...

    def close(self) -> None: ...
