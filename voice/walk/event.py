"""What can happen to a session, and what it asks of the world. Plain frozen values; events go into the journal.

Every event carries `at`: seconds since the session began, on the session's clock (it goes on over a resume). The walk
has no other clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, TypeAdapter

from voice.understand.meaning import Meaning
from voice.understand.question import Question

# How doubts, corrections, notes and the sign-off are ruled. 1: until "okay" could no longer answer a doubt. 2: until a
# note was read back, "correct" to a condition was asked back, and skipped items came at the end of their section. 3:
# until a name that was heard badly gave way to that of the driver who walks. 4: until what was denied was no longer
# offered again, and a bad answer was no longer lost where its step was left open in doubt. 5: until an okay after words
# that were not understood was asked back. 6: until an answer kept what was taken back of it,
# "Nothing wrong?" that was not agreed to left a defect in doubt, and so did a reason that names one for "not
# applicable". A journal says by its events which rules they were taken under, so that an earlier one still gives what
# it gave.
RULES = 7


CueName = Literal["listening", "understood", "not-understood", "half", "ten", "end", "trouble"]


@dataclass(frozen=True, slots=True)
class Started:
    """The session begins: say where and ask the first step.

    rules: under which the events from here on are taken.
    """

    at: float
    rules: int = RULES
    kind: Literal["started"] = "started"


@dataclass(frozen=True, slots=True)
class Heard:
    """An answer, sure enough to act on.

    onset: when the speech began (counts for timed marks).
    early: it began before the prompt had been spoken to its last word (headset), so it cannot say yes to it.
    """

    at: float
    meaning: Meaning
    words: str
    confidence: float = 1.0
    onset: float | None = None
    early: bool = False
    kind: Literal["heard"] = "heard"


@dataclass(frozen=True, slots=True)
class Doubted:
    """A best guess that must be confirmed: "did you say ...?".

    onset, early: as in Heard.
    """

    at: float
    meaning: Meaning
    words: str
    confidence: float = 0.0
    onset: float | None = None
    early: bool = False
    kind: Literal["doubted"] = "doubted"


@dataclass(frozen=True, slots=True)
class Unclear:
    """Speech, but nothing that was expected.

    onset: when it began, if that is known.
    early: it cut the prompt short, which is then said again to its end.
    several: answers that something is good, more than one in a breath.
    spoken: False: it was only too loud to hear anything. Words may have told of a defect.
    """

    at: float
    noisy: bool = False
    onset: float | None = None
    early: bool = False
    several: bool = False
    spoken: bool = True
    kind: Literal["unclear"] = "unclear"


@dataclass(frozen=True, slots=True)
class Silence:
    """Nothing was said within the question's patience."""

    at: float
    kind: Literal["silence"] = "silence"


@dataclass(frozen=True, slots=True)
class Lost:
    """The microphone is gone."""

    at: float
    kind: Literal["lost"] = "lost"


@dataclass(frozen=True, slots=True)
class Regained:
    """The microphone is back."""

    at: float
    kind: Literal["regained"] = "regained"


@dataclass(frozen=True, slots=True)
class Resumed:
    """The program was stopped or died, and goes on.

    torn: bytes of an unfinished line that were cut off.
    rules: under which the events from here on are taken.
    """

    at: float
    torn: int = 0
    rules: int = RULES
    kind: Literal["resumed"] = "resumed"


Event = Annotated[
    Started | Heard | Doubted | Unclear | Silence | Lost | Regained | Resumed, Field(discriminator="kind")
]
EVENT: TypeAdapter[Event] = TypeAdapter(Event)


def _first_rules(content: Any) -> Any:
    """An event of a journal that names no rules was written under the first."""
    if isinstance(content, dict) and content.get("kind") in ("started", "resumed"):
        return {"rules": 1, **content}
    return content


StoredEvent = Annotated[Event, BeforeValidator(_first_rules)]  # an event as a journal has it


@dataclass(frozen=True, slots=True)
class Say:
    """Speak this. Already whole sentences in the driver's language."""

    text: str


@dataclass(frozen=True, slots=True)
class Cue:
    name: CueName


@dataclass(frozen=True, slots=True)
class Listen:
    question: Question


@dataclass(frozen=True, slots=True)
class Close:
    """The walk is over: signed, or stopped by the driver (it can be resumed)."""

    signed: bool


Effect = Say | Cue | Listen | Close
