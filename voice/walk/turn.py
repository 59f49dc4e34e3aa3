"""What comes of one event: the new state, and what is to be said before the next question.

A handler decides; `voice.walk.machine` then speaks the question that the table has for the new state.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from voice.walk.context import Context
from voice.walk.event import CueName, Heard
from voice.walk.state import Aside, Stage, State

# Which sentence asks: the row's prompt; help, or help after what was not understood, and then the prompt; the full
# wording; none, nobody is asked anything; nothing is said and nothing is listened for.
Asking = Literal["prompt", "help", "unclear", "explain", "silent", "deaf"]


class IllegalEvent(Exception):  # noqa: N818 - it is what happened, as in h11's LocalProtocolError
    """An event that cannot happen in this state: a mistake in the program. The state is unchanged."""


@dataclass(frozen=True, slots=True)
class Turn:
    """One step of the conversation.

    lead: sentences said before the question, to their end.
    cues: tones before them.
    wording: said instead of the row's prompt.
    whole: with the whole place, not only what is new of it.
    closed: the walk is over; whether it was signed.
    redo: an event to be taken in this state instead: what was doubted is now certain.
    """

    state: State
    lead: tuple[str, ...] = ()
    cues: tuple[CueName, ...] = ()
    asking: Asking = "prompt"
    wording: str | None = None
    whole: bool = True
    closed: bool | None = None
    redo: Heard | None = None


Handler = Callable[[Context, State, Heard], Turn]


def ask(state: State, *lead: str, wording: str | None = None) -> Turn:
    """Say the lead and then the present question (or the wording given instead), and listen."""
    return Turn(state, lead, wording=wording)


def understood(state: State, *lead: str, whole: bool = True, asking: Asking = "prompt") -> Turn:
    """The answer was taken; go on with the next question. The count of misses starts again."""
    return Turn(replace(state, silences=0, unclear=0), lead, ("understood",), asking, whole=whole)


def listen_on(state: State, *cues: CueName) -> Turn:
    """Say nothing and listen on."""
    return Turn(state, cues=cues, asking="silent")


def settled(state: State) -> State:
    """Nothing is in doubt any more."""
    return replace(
        state,
        aside=None if state.aside is Aside.DOUBT else state.aside,
        doubted=None,
        doubted_words="",
        doubted_onset=None,
        doubted_others=(),
    )


def back(state: State) -> State:
    """Out of an interruption, to the doubt that it interrupted if there is one."""
    return replace(state, aside=None if state.doubted is None else Aside.DOUBT)


def overheard(state: State) -> bool:
    """Nobody is asked anything: a tone would disturb, and what is not understood does not matter."""
    return state.aside is Aside.PAUSED or (state.aside is None and state.stage in (Stage.QUIET, Stage.WATCH))
