"""The end of the walk: what is still open, the spoken summary, the sign-off with the driver's name."""

from __future__ import annotations

import re
from dataclasses import replace
from types import MappingProxyType

from voice.understand.meaning import Words
from voice.walk.answer import Answer
from voice.walk.context import Context
from voice.walk.event import Heard
from voice.walk.state import Aside, Signature, Stage, State
from voice.walk.turn import Turn, ask, close, understood


def finish(context: Context, state: State) -> Turn:
    """The driver wants to finish: asked about what is still open, if anything."""
    if next(context.open_steps(state.answers), None) is None:
        return summarise(context, replace(state, draft=None))
    return understood(context, replace(state, aside=Aside.FINISHING))


def finish_early(context: Context, state: State) -> Turn:
    """All open steps are reported as not inspected; nothing is guessed."""
    open_ = {
        step: Answer(step, "not-inspected", state.at, state.at, reason=context.talk.finished_early)
        for step in context.open_steps(state.answers)
    }
    answers = MappingProxyType({**state.answers, **open_})
    return summarise(context, replace(state, answers=answers, skipped=(), aside=None, draft=None))


def summarise(context: Context, state: State, *lead: str) -> Turn:
    """What was found, aloud, and then the sign-off."""
    closing = replace(state, stage=Stage.NAME, aside=None, draft=None)
    return understood(context, closing, *lead, *context.summary(state.answers))


def name(context: Context, state: State, event: Heard) -> Turn:
    """A name was said; it is read back."""
    if not isinstance(event.meaning, Words):
        raise AssertionError("words were spoken")
    said = signer(context, event.meaning.text)
    if not said:
        return ask(context, state)
    return understood(
        context, replace(state, stage=Stage.SIGN, name=said, name_words=event.words, name_event=state.events - 1)
    )


def signer(context: Context, text: str) -> str:
    """The name in a spoken sign-off: without "signed", "I am" and the like in front."""
    words = re.sub(r"[.,!?]", " ", text).split()
    for lead in sorted((phrase.split() for phrase in context.talk.sign_words), key=len, reverse=True):
        if [word.lower() for word in words[: len(lead)]] == lead:
            words = words[len(lead) :]
            break
    known = {driver.lower(): driver for driver in context.drivers}
    said = " ".join(words)
    return known.get(said.lower(), said if any(c.isupper() for c in said) else said.title())


def sign(context: Context, state: State, event: Heard) -> Turn:
    if state.name is None:
        raise AssertionError("a name was said")
    signature = Signature(state.name, state.name_words, state.at, state.name_event)
    closed = replace(state, stage=Stage.CLOSED, signature=signature)
    return close(closed, True, context.talk.closed)


def sign_again(context: Context, state: State, event: Heard) -> Turn:
    return understood(context, replace(state, stage=Stage.NAME, name=None))
