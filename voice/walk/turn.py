"""One turn of the conversation: the new state and what is to be said and asked.

Every turn ends in exactly one Listen, or in Close, or (microphone lost) in nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from voice.walk.ask import prompt, question
from voice.walk.context import Context
from voice.walk.event import Close, Cue, Effect, Listen, Say
from voice.walk.state import Aside, Stage, State

Turn = tuple[State, tuple[Effect, ...]]

# Here a tone before listening would disturb: the driver is not asked anything, only overheard.
_SILENT_STAGES = {Stage.QUIET, Stage.WATCH}


class IllegalEvent(Exception):  # noqa: N818 - it is what happened, as in h11's LocalProtocolError
    """An event that cannot happen in this state: a mistake in the program. The state is unchanged."""


def _listen(context: Context, state: State) -> list[Effect]:
    effects: list[Effect] = []
    if state.aside is not Aside.PAUSED and not (state.aside is None and state.stage in _SILENT_STAGES):
        effects.append(Cue("listening"))
    effects.append(Listen(question(context, state)))
    return effects


def ask(
    context: Context,
    state: State,
    *lead: str,
    cues: Sequence[Cue] = (),
    wording: str | None = None,
    whole: bool = True,
) -> Turn:
    """Say the lead and then the present question (or the wording given instead), and listen."""
    question_text = prompt(context, state, whole=whole) if wording is None else wording
    text = " ".join(part for part in (*lead, question_text) if part)
    effects: list[Effect] = [*cues]
    if text:
        effects.append(Say(text))
    return state, (*effects, *_listen(context, state))


def understood(context: Context, state: State, *lead: str, whole: bool = True) -> Turn:
    """The answer was taken; go on with the next question. The count of misses starts again."""
    fresh = replace(state, silences=0, unclear=0, doubted=None, doubted_words="", doubted_others=())
    return ask(context, fresh, *lead, cues=(Cue("understood"),), whole=whole)


def listen_on(context: Context, state: State, *cues: Cue) -> Turn:
    """Say nothing and listen on."""
    return state, (*cues, Listen(question(context, state)))


def close(state: State, signed: bool, *texts: str) -> Turn:
    return state, (Cue("understood"), *(Say(text) for text in texts), Close(signed))
