"""The state of a session: plain frozen values, rebuilt from the journal by replay."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from voice.judge.answer import Answer, DefectFound, Kind, Taken
from voice.measure import Measure
from voice.route.model import Depth, Length
from voice.understand.meaning import Meaning
from voice.walk.event import RULES


class Stage(StrEnum):
    """What the assistant is waiting for. The first group belongs to a step, the second to the end of the walk."""

    NEW = "new"  # nothing was said yet
    ASK = "ask"  # the step's own question
    LOOK = "look"  # the one question of several steps that are seen in one look
    PART = "part"  # of which of them
    WHICH = "which"  # which defect
    DESCRIBE = "describe"  # a defect outside the list, in the driver's words
    FOLLOW = "follow"  # a follow-up question
    MORE = "more"  # anything else wrong with it
    CONFIRM = "confirm"  # a reading beyond its limit, or an approximate one, is confirmed
    TAKE_BACK = "take-back"  # it is no defect after all? asked before a report gives way to another answer
    UNHEARD = "unheard"  # nothing wrong? asked before an okay counts after words that were not understood
    REASON = "reason"  # why it does not apply, or was not inspected
    READY = "ready"  # a timed check: engine and key state, line by line
    GAUGE = "gauge"  # a timed hold: the start reading
    BEGIN = "begin"  # a timed hold: the spoken start
    QUIET = "quiet"  # a timed hold: the quiet time
    END = "end"  # a timed hold: the end reading
    FIRST = "first"  # a climb: the first mark
    SECOND = "second"  # a climb: the second mark
    WATCH = "watch"  # a call: until it happens
    CALLED = "called"  # a call: "now" was said, the number is asked for

    NAME = "name"  # the driver's spoken sign-off
    SIGN = "sign"  # the name is confirmed
    CLOSED = "closed"


class Aside(StrEnum):
    """A short interruption after which the stage goes on where it was."""

    DOUBT = "doubt"  # did you say ...?
    PAUSED = "paused"
    NOTE = "note"
    NOTED = "noted"  # the note is read back
    CHANGE = "change"  # which earlier answer
    FINISHING = "finishing"  # finish with items still open?
    LOST = "lost"  # the microphone is gone


@dataclass(frozen=True, slots=True)
class Report:
    """What stands against an OK of a step: it was heard, or seemed to be, and was not taken back.

    words: as it was said.
    sure: it was heard, not only doubted.
    """

    meaning: Meaning
    words: str
    sure: bool


@dataclass(frozen=True, slots=True)
class Denial:
    """Not what was said.

    question: which of the step's.
    words: as it was asked back.
    """

    question: str
    meaning: Meaning
    words: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Draft:
    """The answer being put together.

    step: the step asked about; of a look the first.
    look, group: the look, and those of its steps that are asked.
    pending: what was said of a part before it was said of which.
    asked: when the step was first asked.
    outcome: what it will be, once known.
    defect, details: the defect being described.
    number: the reading to be confirmed.
    stamp: the start of a timed part.
    line, gauge, follow: how far ready lines, gauges and follow-ups have come.
    against: what else was in doubt when an okay was heard.
    cleared: what stood against the answer was taken back.
    second: the reading of the item beside this one, told in the same breath; it is taken once this one is kept.
    same, beside: as in an `Answer`.
    taken_back: the step or look, and the words, of each report that was taken back aloud.
    denied: what "did you say" was answered with a sure no for, see voice.walk.denied.
    """

    step: str
    asked: float
    events: tuple[int, ...] = ()
    look: str = ""
    group: tuple[str, ...] = ()
    pending: Meaning | None = None
    outcome: Kind | None = None
    defects: tuple[DefectFound, ...] = ()
    defect: str | None = None
    details: tuple[tuple[str, str], ...] = ()
    taken: tuple[Taken, ...] = ()
    choice: str | None = None
    number: Measure | None = None
    number_at: float = 0.0
    stamp: float | None = None
    cues: int = 0
    line: int = 0
    gauge: int = 0
    follow: int = 0
    asked_again: int = 0
    against: tuple[Report, ...] = ()
    cleared: bool = False
    second: Measure | None = None
    same: str = ""
    beside: str = ""
    taken_back: tuple[tuple[str, str], ...] = ()
    denied: tuple[Denial, ...] = ()


@dataclass(frozen=True, slots=True)
class Note:
    """A spoken note.

    event: index of the journal's event with its words and clip.
    """

    at: float
    step: str | None
    text: str
    event: int


@dataclass(frozen=True, slots=True)
class Signature:
    """The spoken sign-off."""

    name: str
    words: str
    at: float
    event: int


@dataclass(frozen=True, slots=True)
class State:
    """All of it.

    events: how many were taken in, so that an answer can point at its lines in the journal.
    silences, unclear: in a row, for the present question.
    last: the step answered last, for "correct that".
    told: the section whose title and cautions were spoken.
    doubted: what "did you say" is about; it waits through a pause, a note or a loss.
    doubted_words, doubted_onset: of it.
    doubted_others: what is offered after a no.
    reported: what stands against an OK, for each step, and for each look where it was not said of which part.
    unheard: steps at whose question something was said that was not understood: it may have been a defect.
    rules: see voice.walk.event.RULES.
    brought: steps that were not due and are asked all the same, since the driver wanted each part.
    name: who is about to sign.
    spelled: the name was not on the list, and is read back letter by letter.
    signing: "signed" was said, the name is still wanted.
    misheard: the name as it was heard, while that of the driver who walks is read back first.
    denied: the driver who walks was read back, and was not who signs.
    """

    length: Length
    stage: Stage = Stage.NEW
    aside: Aside | None = None
    draft: Draft | None = None
    answers: Mapping[str, Answer] = field(default_factory=lambda: MappingProxyType({}))
    skipped: tuple[str, ...] = ()
    second_round: bool = False
    last: str | None = None
    told: str | None = None
    notes: tuple[Note, ...] = ()
    doubted: Meaning | None = None
    doubted_words: str = ""
    doubted_onset: float | None = None
    doubted_others: tuple[Report, ...] = ()
    reported: Mapping[str, tuple[Report, ...]] = field(default_factory=lambda: MappingProxyType({}))
    unheard: frozenset[str] = frozenset()
    rules: int = RULES
    depth: Depth = "each-part"
    brought: tuple[str, ...] = ()
    signing: bool = False
    spelled: bool = False
    misheard: str = ""
    denied: bool = False
    name: str | None = None
    name_words: str = ""
    name_event: int = 0
    signature: Signature | None = None
    silences: int = 0
    unclear: int = 0
    events: int = 0
    at: float = 0.0
