"""What was asked, and so all that can be heard in answer to it.

The recognizer gets exactly these phrases; what it hears is looked up in the same list. So what can be said and
what is understood cannot drift apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from voice.understand.meaning import Meaning

Asks = Literal[
    "condition", "defect", "yes-no", "reading", "choice", "done", "now", "quiet", "paused", "idle", "which",
    "note", "name", "reason", "take-back", "look", "part",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Phrase:
    """text: as spoken, lower case words ("four thirty seconds")."""

    text: str
    meaning: Meaning


@dataclass(frozen=True)
class Question:
    """asks: what kind of answer is wanted.
    phrases: everything that can be heard, commands included.

    step: id of the step asked about, if any. unit: of a reading. free: any speech counts (a note, a name), it is
    transcribed; a phrase of the list still wins over free speech. patience: seconds of silence before Silence is
    reported. cut_in: nothing that was captured before is dropped (speech that goes on).
    """

    asks: Asks
    phrases: tuple[Phrase, ...]
    step: str | None = None
    unit: str | None = None
    free: bool = False
    patience: float = 6.0
    cut_in: bool = False
    urgent: bool = field(default=False)  # a timed moment: the stamp of the start of speech counts

    @cached_property
    def meanings(self) -> Mapping[str, Meaning]:
        return {phrase.text: phrase.meaning for phrase in self.phrases}
