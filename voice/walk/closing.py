"""The end of the walk: what is still open, the spoken summary, the sign-off with the driver's name.

It counts as signed when "signed" or a name of the list was heard. A name outside the list is only what a recognizer
made of it. Where it is known who walks, that name is read back first: it is likelier than what was heard. Else, and
after a no to that, what was heard is spelled back letter by letter; after a no the driver says it again or signs
unnamed.
"""

from __future__ import annotations

import re
from dataclasses import replace
from types import MappingProxyType

from voice.understand.meaning import Signed, Words
from voice.walk.context import Context
from voice.walk.event import Heard
from voice.walk.headlines import headlines
from voice.walk.reports import left_open, placed
from voice.walk.state import Aside, Signature, Stage, State
from voice.walk.turn import Turn, ask, back, settled, understood


def finish(context: Context, state: State) -> Turn:
    """The driver wants to finish: asked about what is still open, if anything."""
    if next(context.open_steps(state), None) is None:
        return summarise(context, replace(settled(state), draft=None))
    return understood(replace(state, aside=Aside.FINISHING))


def finish_early(context: Context, state: State, event: Heard) -> Turn:
    """All open steps are reported as not inspected; nothing is guessed, and no defect that was begun is lost."""
    reason = context.talk.finished_early
    open_steps = list(context.open_steps(state))
    for look in context.plan.looks:
        state = placed(context, state, look)
    open_ = {step: left_open(context, state, step, reason) for step in open_steps}
    answers = MappingProxyType({**state.answers, **open_})
    state = replace(
        settled(state), answers=answers, skipped=(), draft=None, reported=MappingProxyType({}), unheard=frozenset()
    )
    return summarise(context, state)


def go_on(context: Context, state: State, event: Heard) -> Turn:
    """Not finished after all."""
    return understood(back(state))


def summarise(context: Context, state: State, *lead: str) -> Turn:
    """What was found, in headlines, and then the sign-off."""
    closing = replace(settled(state), stage=Stage.NAME, aside=None, draft=None)
    return understood(closing, *lead, *headlines(context, state.answers))


def why(context: Context, state: State, event: Heard) -> Turn:
    """Each finding is said with its limit and the section of the rule."""
    return understood(state, *context.assessed(state.answers).findings)


def details(context: Context, state: State, event: Heard) -> Turn:
    """The whole summary is said, as it will stand in the record."""
    return understood(state, *context.assessed(state.answers).text)


def signed(context: Context, state: State, event: Heard) -> Turn:
    """It is signed: the name is read back, or asked for if it is not known."""
    if not isinstance(event.meaning, Signed):
        raise AssertionError("it was signed")
    name = event.meaning.name or context.driver
    if name is None:
        return understood(replace(state, signing=True))
    return _read_back(state, event, name)


def name(context: Context, state: State, event: Heard) -> Turn:
    """After "signed" a name that is only guessed at: spelled back. Without "signed" it is no signature: asked again."""
    if not isinstance(event.meaning, Words):
        raise AssertionError("words were spoken")
    said, began = signer(context, event.meaning.text)
    known = said in context.drivers
    if state.rules == 1:
        return _read_back(state, event, said) if said else ask(state)
    if known or (not said and began):
        return signed(context, state, replace(event, meaning=Signed(said or None)))
    if not said or not (began or state.signing):
        return Turn(state, asking="unclear")
    if (turn := driver_first(context, state, event, said)) is not None:
        return turn
    return _read_back(state, event, said, spelled=True)


def driver_first(context: Context, state: State, event: Heard, heard: str) -> Turn | None:
    """The driver who walks is read back in place of a name that was not heard surely; None if that is not to be done.

    heard: it is read back after a no.
    """
    if state.rules < 4 or context.driver is None or state.denied or heard == context.driver:
        return None
    return _read_back(state, event, context.driver, misheard=heard)


def _read_back(state: State, event: Heard, name: str, *, spelled: bool = False, misheard: str = "") -> Turn:
    asked = replace(state, stage=Stage.SIGN, name=name, name_words=event.words, name_event=state.events - 1)
    return understood(replace(asked, spelled=spelled, misheard=misheard, signing=False))


def signer(context: Context, text: str) -> tuple[str, bool]:
    """The name in a spoken sign-off, without "signed by" and the like in front; and whether one stood there."""
    words = re.sub(r"[.,!?]", " ", text).split()
    began = False
    leads = sorted((phrase.split() for phrase in context.talk.sign_words), key=len, reverse=True)
    while lead := next((each for each in leads if [word.lower() for word in words[: len(each)]] == each), None):
        words, began = words[len(lead) :], True  # "signed, signed" is said twice; it is nobody's name
    known = {driver.lower(): driver for driver in context.drivers}
    said = " ".join(words)
    return known.get(said.lower(), said if any(c.isupper() for c in said) else said.title()), began


def sign(context: Context, state: State, event: Heard) -> Turn:
    """The inspection is signed and closed."""
    if state.name is None:
        raise AssertionError("a name was said")
    signature = Signature(state.name, state.name_words, state.at, state.name_event)
    closed = replace(state, stage=Stage.CLOSED, signature=signature, misheard="")
    return Turn(closed, (context.talk.closed,), ("understood",), "deaf", closed=True)


def sign_again(context: Context, state: State, event: Heard) -> Turn:
    """The name was wrong: what was heard is read back if it was not yet; else it is said again, or left out."""
    if state.misheard:
        known = state.misheard in (*context.drivers, context.talk.unnamed)
        return understood(replace(state, name=state.misheard, spelled=not known, misheard="", denied=True))
    denied = state.denied or state.name == context.driver
    lead = (context.talk.sign_or_unnamed,) if state.spelled else ()
    return understood(replace(state, stage=Stage.NAME, name=None, spelled=False, denied=denied), *lead)
