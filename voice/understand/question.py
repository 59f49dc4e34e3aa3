"""What was asked, and so all that can be heard in answer to it.

The recognizer gets exactly these phrases; what it hears is looked up in the same list. So what can be said and
what is understood cannot drift apart.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from voice.errors import DataError
from voice.understand.meaning import Meaning, describe

Asks = Literal[
    "condition", "defect", "yes-no", "reading", "choice", "done", "now", "quiet", "paused", "idle", "which",
    "note", "kept-note", "name", "reason", "take-back", "look", "part",
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
    step: id of the step asked about, if any.
    unit: of a reading.
    free: any speech counts (a note, a name) and is transcribed; a phrase of the list still wins over free speech.
    patience: seconds of silence before Silence is reported.
    cut_in: nothing that was captured before is dropped (speech that goes on).
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


def join(*lists: Iterable[Phrase]) -> tuple[Phrase, ...]:
    """The lists one after another without repetition; DataError if a text would mean two things."""
    known: dict[str, Phrase] = {}
    for phrase in itertools.chain(*lists):
        first = known.setdefault(phrase.text, phrase)
        if first.meaning != phrase.meaning:
            raise DataError(
                f'"{phrase.text}" would mean both {describe(first.meaning)} and {describe(phrase.meaning)}.',
                "Say one of them with other words.",
            )
    return tuple(known.values())
