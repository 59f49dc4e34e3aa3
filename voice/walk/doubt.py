"""The doubt: "did you say ...?". It ends with a sure yes, a sure no, or the same, a defect, a number or a command said.

Nothing else counts as an answer to it. An okay is asked back with both named, and whatever else is heard is doubted in
its turn. What was doubted of a defect stands against an OK (`voice.walk.reports`) until a sure no. What was denied is
not offered again (`voice.walk.denied`).
"""

from __future__ import annotations

from dataclasses import replace

from voice.understand.meaning import Command, Defect, Either, Number, Ok, Pair, Part, Stop
from voice.walk import reports
from voice.walk.context import Context
from voice.walk.denied import deny, often
from voice.walk.event import Doubted, Heard
from voice.walk.state import Aside, Report, Stage, State
from voice.walk.step import again, store
from voice.walk.turn import Turn, ask, settled, understood
from voice.walk.unheard import spoken


def doubt(state: State, guess: Report, onset: float | None, others: tuple[Report, ...] = ()) -> Turn:
    """Ask whether it was meant.

    others: what else it could be, offered after a no.
    """
    doubted = replace(
        state,
        aside=Aside.DOUBT,
        doubted=guess.meaning,
        doubted_words=guess.words,
        doubted_onset=onset,
        doubted_others=others,
    )
    return ask(doubted)


def either(context: Context, state: State, event: Heard) -> Turn:
    """A number that can be two things ("one twenty" seconds): each is offered."""
    if not isinstance(event.meaning, Either):
        raise AssertionError("an ambiguous number was said")
    quantity = getattr(context.current(state).item.answer, "quantity", "")
    open_ = [value for value in event.meaning.values if not often(state, Number(value))]
    if not open_:
        return Turn(again(state), cues=("not-understood",), asking="unclear")
    first, *others = (Report(Number(value), context.spoken(value, quantity), sure=False) for value in open_)
    return doubt(state, first, event.onset, tuple(others))


def asked_back(state: State, event: Heard) -> Turn:
    """Heard surely, but denied before."""
    guess = Report(event.meaning, event.words, sure=False)
    return doubt(settled(state), guess, event.onset, _without(event, _pending(state)))


def doubted(context: Context, state: State, event: Doubted) -> Turn:
    """A best guess of what was said, where it can be asked about."""
    said = Heard(event.at, event.meaning, event.words, onset=event.onset)
    if isinstance(event.meaning, Either):
        return either(context, settled(state), said)
    if state.aside is Aside.DOUBT and state.rules > 1 and isinstance(event.meaning, Ok) and state.doubted != Ok():
        return _contradicted(context, state, said)
    others = _pending(state) if state.rules > 1 else ()
    # "Did you say no?" cannot be answered: a no to it could mean either.
    no = event.meaning == Defect() and event.words in context.book.lexicon.answers.no
    words = context.talk.defect_word if no else event.words
    return doubt(settled(state), Report(event.meaning, words, sure=False), event.onset, _without(event, others))


def certain(context: Context, state: State, event: Heard) -> Turn:
    """Yes, that is what was said: it is taken as heard."""
    if state.doubted is None:
        raise AssertionError("something was doubted")
    said = Heard(state.at, state.doubted, state.doubted_words, onset=state.doubted_onset)
    if state.rules == 1 and state.stage is Stage.WHICH and isinstance(said.meaning, Ok):
        return Turn(replace(state, aside=None), redo=said)  # what is doubted stays: see item.unsaid
    return Turn(settled(state), redo=said)


def correct(context: Context, state: State, event: Heard) -> Turn:
    """Yes, of a defect; of anything else a plain yes or no is asked for."""
    if isinstance(state.doubted, Defect | Part):
        return certain(context, state, event)
    return Turn(state, cues=("not-understood",), asking="unclear")


def denied(context: Context, state: State, event: Heard) -> Turn:
    """No, it was not: what else it could have been is offered; else the question comes again."""
    words, onset = state.doubted_words, state.doubted_onset
    state = deny(reports.denied(state, state.doubted), state.doubted)
    others = tuple(each for each in state.doubted_others if not often(state, each.meaning))
    state = settled(state)
    if others:
        return doubt(state, others[0], onset, others[1:])
    state = spoken(context, state)  # it was something else, and nobody knows what
    if state.rules >= 6 and state.stage is Stage.TAKE_BACK and not reports.against(context, state):
        return store(context, state, context.talk.denied.format(words=words))  # nothing is left to be taken back
    if state.draft is not None:
        state = again(state)
    return understood(state, context.talk.denied.format(words=words))


def instead(context: Context, state: State, event: Heard) -> Turn:
    """The doubted said again, a defect or a number is taken; an okay is asked back with both named; the rest is doubted
    in its turn."""
    meaning = event.meaning
    taken = isinstance(meaning, Defect | Part | Number | Either | Pair | Stop)
    if meaning == state.doubted or state.rules == 1 or taken:
        return Turn(settled(state), redo=event)
    if isinstance(meaning, Ok):
        return _contradicted(context, state, event)
    guess = Report(meaning, event.words, sure=False)
    return doubt(settled(state), guess, event.onset, _without(event, _pending(state)))


_OKAYS = (Stage.ASK, Stage.WHICH, Stage.LOOK, Stage.PART, Stage.UNHEARD)  # what an okay can be the answer to


def _contradicted(context: Context, state: State, event: Heard) -> Turn:
    """An okay to "did you say ...?": it counts only once both were named and one was chosen."""
    draft = state.draft
    if draft is None or state.doubted is None or state.stage not in _OKAYS:
        return Turn(state, asking="unclear")
    if state.rules >= 6 and isinstance(state.doubted, Command):  # no defect, but perhaps something else was said
        told = spoken(context, settled(state))
        return ask(again(told)) if state.stage is Stage.UNHEARD else Turn(told, redo=event)
    if not reports.bad(context, state, state.doubted):  # a defect stands against it already
        standing = Report(state.doubted, state.doubted_words, sure=False)
        state = replace(state, draft=replace(draft, against=(*draft.against, standing)))
    return Turn(settled(state), redo=event)


def _pending(state: State) -> tuple[Report, ...]:
    if state.doubted is None:
        return ()
    return (Report(state.doubted, state.doubted_words, sure=False), *state.doubted_others)


def _without(event: Heard | Doubted, guesses: tuple[Report, ...]) -> tuple[Report, ...]:
    return tuple(guess for guess in guesses if guess.meaning != event.meaning)
