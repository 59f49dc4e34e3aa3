"""What the loop needs of ears: ports that adapters fill. Time is counted in seconds of audio.

Audio is float32 mono at 16 kHz in -1..1 everywhere inside; adapters resample at the edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from voice.sound.port import Audio
from voice.understand.meaning import Meaning
from voice.understand.question import Phrase, Question


@dataclass(frozen=True, slots=True)
class Scored:
    """text: the phrase as given.
    score: log-likelihood ratio or other number that orders phrases; higher is better.
    """

    text: str
    score: float


class Recognizer(Protocol):
    """A speech recognizer told what it may hear."""

    name: str
    model: str

    def score(self, audio: Audio, phrases: Sequence[str]) -> list[Scored]:
        """Best first; may be pruned; empty if it hears none of them."""
        ...


class Transcriber(Protocol):
    """Free speech to text, for notes, names and rehearsals."""

    name: str
    model: str

    def transcribe(self, audio: Audio) -> str: ...


Outcome = Literal["heard", "unsure", "unclear", "silence", "noisy"]


@dataclass(frozen=True, slots=True)
class Hearing:
    """What came of one listening.

    outcome: how much of it was understood.
        heard: meaning is sure enough to act on.
        unsure: meaning is the best guess, to be confirmed ("did you say").
        unclear: speech, but none of the phrases.
        silence: nothing within the question's patience.
        noisy: too loud around to hear anything.
    words: the phrase or transcript.
    confidence: 0..1.
    started, ended: of the speech, on the clock.
    noise_db: level of the surroundings, dB full scale.
    snr_db: of the speech over it.
    compute_s: time spent deciding.
    """

    outcome: Outcome
    meaning: Meaning | None = None
    words: str = ""
    confidence: float = 0.0
    alternatives: tuple[Phrase, ...] = ()
    engine: str = ""
    model: str = ""
    started: float = 0.0
    ended: float = 0.0
    noise_db: float = -120.0
    snr_db: float = 0.0
    compute_s: float = 0.0
    audio: Audio | None = None


class Speaking(Protocol):
    """A prompt that goes on while the ear already listens (headset)."""

    @property
    def over(self) -> bool: ...

    def stop(self) -> None: ...


class Ear(Protocol):
    """Microphone, endpointing and recognition together. Raises DeviceError.

    speaking: the prompt still being spoken into the driver's headset; it is stopped when they begin to speak, and the
    question's patience counts from its end.
    """

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing: ...

    def close(self) -> None: ...
