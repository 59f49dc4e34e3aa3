"""What a spoken answer can mean. Small frozen values; they go into the journal as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from voice.measure import Measure

CommandName = Literal[
    "repeat", "explain", "back", "skip", "pause", "resume", "left", "where", "correct", "change", "note",
    "finish", "help", "terse", "normal", "full", "each-part", "by-place",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Command:
    """A request to the assistant, allowed at any time.

    target: a step id, for "change <name>".
    """

    name: CommandName
    target: str | None = None
    kind: Literal["command"] = "command"


@dataclass(frozen=True, slots=True)
class Ok:
    """The item was looked at and nothing is wrong with it."""

    kind: Literal["ok"] = "ok"


@dataclass(frozen=True, slots=True)
class Clear:
    """ "Nothing wrong": takes back, in so many words, what was reported or seemed to be."""

    kind: Literal["clear"] = "clear"


@dataclass(frozen=True, slots=True)
class Defect:
    """Something is wrong.

    id: the defect if it was named outright, else None.
    """

    id: str | None = None
    kind: Literal["defect"] = "defect"


@dataclass(frozen=True, slots=True)
class Part:
    """One of several parts asked about together: something is wrong with it.

    step: its id.
    defect: the defect if it was named in the same breath, else None.
    """

    step: str
    defect: str | None = None
    kind: Literal["part"] = "part"


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """The vehicle has no such thing."""

    kind: Literal["not-applicable"] = "not-applicable"


@dataclass(frozen=True, slots=True)
class Number:
    """A reading in the question's unit.

    approximate: said with "about"; to be confirmed.
    """

    value: Measure
    approximate: bool = False
    kind: Literal["number"] = "number"


@dataclass(frozen=True, slots=True)
class Either:
    """A number that can be two things ("one twenty" seconds: 120, or a minute and twenty); to be asked."""

    values: tuple[Measure, ...]
    kind: Literal["either"] = "either"


@dataclass(frozen=True, slots=True)
class Pair:
    """Two readings in one breath: of what is asked, and of what is measured beside it."""

    first: Measure
    second: Measure
    kind: Literal["pair"] = "pair"


@dataclass(frozen=True, slots=True)
class Same:
    """ "Same": the reading that the item takes for it, of the outer tire or of the last walk."""

    kind: Literal["same"] = "same"


@dataclass(frozen=True, slots=True)
class Chosen:
    """One of a closed list: an option's or a step's id."""

    id: str
    kind: Literal["chosen"] = "chosen"


@dataclass(frozen=True, slots=True)
class Yes:
    kind: Literal["yes"] = "yes"


@dataclass(frozen=True, slots=True)
class Correct:
    """ "Correct": yes, but too near to "cracked" by ear to count where that would say that something is good."""

    kind: Literal["correct"] = "correct"


@dataclass(frozen=True, slots=True)
class No:
    kind: Literal["no"] = "no"


@dataclass(frozen=True, slots=True)
class DoneIt:
    """ "done", "ready", "start": the driver has done what was asked."""

    kind: Literal["done"] = "done"


@dataclass(frozen=True, slots=True)
class Now:
    """ "now", "mark": it is happening at this moment."""

    kind: Literal["now"] = "now"


@dataclass(frozen=True, slots=True)
class Stop:
    """ "stop", "abort": break off a timed check."""

    kind: Literal["stop"] = "stop"


@dataclass(frozen=True, slots=True)
class Signed:
    """The driver signs.

    name: as it stands in the list of drivers; None if only "signed" was said.
    """

    name: str | None = None
    kind: Literal["signed"] = "signed"


@dataclass(frozen=True, slots=True)
class Why:
    """ "Why": the rule and the limit behind each finding."""

    kind: Literal["why"] = "why"


@dataclass(frozen=True, slots=True)
class Details:
    """ "Details": the whole summary, as it stands in the record."""

    kind: Literal["details"] = "details"


@dataclass(frozen=True, slots=True)
class Words:
    """Free speech: a note, a name, a reason."""

    text: str
    kind: Literal["words"] = "words"


Meaning = Annotated[
    Command
    | Ok
    | Clear
    | Defect
    | Part
    | NotApplicable
    | Number
    | Either
    | Pair
    | Same
    | Chosen
    | Yes
    | Correct
    | No
    | DoneIt
    | Now
    | Stop
    | Signed
    | Why
    | Details
    | Words,
    Field(discriminator="kind"),
]
MEANING: TypeAdapter[Meaning] = TypeAdapter(Meaning)


def describe(meaning: Meaning) -> str:
    """The meaning in a few words, for error messages."""
    match meaning:
        case Command(name, target):
            return f'the command "{name}"' + (f' of "{target}"' if target else "")
        case Defect(id_):
            return f'the defect "{id_}"' if id_ else '"defect"'
        case Part(step, defect):
            return f'the defect "{defect or "defect"}" of "{step}"'
        case Chosen(id_):
            return f'the choice "{id_}"'
        case Number(value):
            return f"{value.value} {value.unit}"
        case Either(values):
            return " or ".join(f"{value.value} {value.unit}" for value in values)
        case Pair(first, second):
            return f"{first.value} {first.unit} and {second.value} {second.unit}"
        case _:
            return f'"{meaning.kind}"'
