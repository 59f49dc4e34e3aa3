"""The session state machine: step(context, state, event) -> (state, effects).

No clock, file, thread or audio in here. What may happen where is in `voice.walk.table`; anything else raises
IllegalEvent and changes nothing. The same code runs live and in replay, so a journal rebuilds the same state.
"""

from __future__ import annotations

from dataclasses import replace

from voice.route.model import Depth, Length
from voice.understand.meaning import Clear, Command, Correct, DoneIt, No, NotApplicable, Now, Ok, Same, Signed, Yes
from voice.walk import aside, timed
from voice.walk.closing import driver_first
from voice.walk.context import Context
from voice.walk.denied import gives_way, often, standing
from voice.walk.doubt import asked_back, denied, doubt, doubted
from voice.walk.event import (
    Close,
    Cue,
    Doubted,
    Effect,
    Event,
    Heard,
    Listen,
    Lost,
    Regained,
    Resumed,
    Say,
    Silence,
    Started,
    Unclear,
)
from voice.walk.prompts import explanation
from voice.walk.reports import bad, report
from voice.walk.state import Aside, Report, Stage, State
from voice.walk.step import advance, again
from voice.walk.table import row
from voice.walk.turn import IllegalEvent, Turn, back, listen_on, overheard, settled, understood
from voice.walk.unheard import spoken

# They say something only of what was asked, so they count only once it has been asked to the end.
REPLIES = (Ok, Yes, Correct, No, Clear, NotApplicable, DoneIt, Same)


def begin(length: Length, depth: Depth = "each-part") -> State:
    return State(length=length, depth=depth)


def step(context: Context, state: State, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """One event. Raises IllegalEvent if it cannot happen in this state; then nothing has changed."""
    if state.stage is Stage.CLOSED or (state.stage is Stage.NEW) is not isinstance(event, Started):
        raise IllegalEvent(f"{event.kind} in stage {state.stage}")
    if event.at < state.at:
        raise IllegalEvent(f"{event.kind} at {event.at:.3f} s, before {state.at:.3f} s")
    now = replace(state, at=event.at, events=state.events + 1)
    answers = isinstance(event, Heard | Doubted) and not isinstance(event.meaning, Command)
    if answers and now.draft is not None and now.aside in (None, Aside.DOUBT):
        now = replace(now, draft=replace(now.draft, events=(*now.draft.events, state.events)))
    turn = _turn(context, now, event)
    while turn.redo is not None:
        then = _answer(context, turn.state, turn.redo)
        turn = replace(then, lead=(*turn.lead, *then.lead))
    return turn.state, _effects(context, turn)


def _turn(context: Context, state: State, event: Event) -> Turn:
    match event:
        case Started():
            talk, plan = context.talk, context.plan
            count = len(context.asked(state))
            kind = plan.kind_title or plan.title
            lead = [*context.holds, talk.intro.format(kind=kind, vehicle=plan.vehicle.name, count=count)]
            if plan.not_due:
                lead.append(context.pace.not_due.format(count=len(plan.not_due)))
            return advance(context, replace(state, rules=event.rules), *lead)
        case Heard() | Doubted() if event.early and isinstance(event.meaning, REPLIES):
            return Turn(state, (context.talk.early,))
        case Heard():
            return _heard(context, state, event)
        case Doubted():
            return _doubted(context, state, event)
        case Unclear():
            return _unclear(context, spoken(context, state) if event.spoken else state, event)
        case Silence():
            return _silence(context, state)
        case Lost():
            return Turn(replace(state, aside=Aside.LOST), asking="deaf")
        case Regained() if state.aside is Aside.LOST:
            return aside.go_on(context, state, context.talk.regained)
        case Resumed():
            state = replace(state, rules=event.rules)
            if state.doubted is not None:
                state = report(context, state, state.doubted, state.doubted_words, sure=False)
            return aside.resumed(context, state, event)
    raise IllegalEvent(f"{event.kind} while {state.aside or state.stage}")


# --- what is said and asked --------------------------------------------------------------------------------------


def _effects(context: Context, turn: Turn) -> tuple[Effect, ...]:
    """Tones, the lead, then the question by itself, so that only the question can be cut in on; and the listening.

    Every turn ends in exactly one Listen, or in Close, or (microphone lost) in nothing.
    """
    effects: list[Effect] = [Cue(name) for name in turn.cues]
    state = turn.state
    if turn.asking == "deaf":
        effects += [Say(text) for text in turn.lead]
        return (*effects, *([Close(turn.closed)] if turn.closed is not None else []))
    now = row(context, state)
    lead = [part for part in turn.lead if part]
    if turn.asking == "help":
        lead.append(context.help(now.asks))
    if turn.asking == "unclear":
        unlisted = now.asks == "condition" and state.unclear > 1
        lead.append(context.talk.unlisted if unlisted else context.can_say(now.asks))
    if turn.asking != "silent":
        wording = now.prompt(context, state, turn.whole) if turn.wording is None else turn.wording
        if turn.asking == "explain":
            wording = explanation(context, state, wording)
        effects += [Say(text) for text in (" ".join(lead), wording) if text]
    if not (turn.asking == "silent" or overheard(state)):
        effects.append(Cue("listening"))
    return (*effects, Listen(now.question(context, state)))


# --- answers -----------------------------------------------------------------------------------------------------


def _heard(context: Context, state: State, event: Heard) -> Turn:
    meaning = event.meaning
    if state.aside in (None, Aside.DOUBT) and meaning != state.doubted and often(state, meaning):
        if gives_way(context, state, meaning, sure=True):
            return _unclear(context, state, Unclear(event.at))
        if not bad(context, state, meaning):
            return asked_back(state, event)
    if state.aside is Aside.DOUBT and isinstance(meaning, Command):
        keeps = state.rules > 1 and meaning != state.doubted
        return aside.command(context, state if keeps else settled(state), event)
    if state.aside is Aside.PAUSED and isinstance(meaning, Command):
        return aside.resume(context, state, event) if meaning.name == "resume" else listen_on(state)
    return _answer(context, state, event)


def _answer(context: Context, state: State, event: Heard) -> Turn:
    """What the table has for it."""
    if isinstance(event.meaning, Command):
        return aside.command(context, state, event)
    handler = row(context, state).handler(event.meaning)
    if handler is None:
        raise IllegalEvent(f"{event.meaning.kind} while {state.aside or state.stage}")
    if state.aside is None:
        state = report(context, state, event.meaning, event.words, sure=True)
    return handler(context, state, event)


def _doubted(context: Context, state: State, event: Doubted) -> Turn:
    if state.aside not in (None, Aside.DOUBT):
        return _unclear(context, state, Unclear(event.at))
    if isinstance(event.meaning, Yes | Correct | No):
        if state.aside is Aside.DOUBT and state.rules == 1:
            return denied(context, replace(state, doubted_others=()), Heard(event.at, No(), ""))
        if state.aside is Aside.DOUBT or state.stage in (Stage.CONFIRM, Stage.SIGN, Stage.TAKE_BACK):
            # Not sure of the yes itself: asked again.
            return _unclear(context, state, Unclear(event.at))
    if state.aside is None and isinstance(event.meaning, Signed) and event.meaning.name is not None:
        said = Heard(event.at, event.meaning, event.words, onset=event.onset)
        if (turn := driver_first(context, state, said, event.meaning.name)) is not None:
            return turn
    state = report(context, state, event.meaning, event.words, sure=False)
    state = standing(context, state, event.meaning)
    if gives_way(context, state, event.meaning, sure=False):
        return _unclear(context, state, Unclear(event.at))
    return _nothing_wrong(context, state, event) or doubted(context, state, event)


def _nothing_wrong(context: Context, state: State, event: Doubted) -> Turn | None:
    """An okay that is only guessed at, after words that were not understood: whether nothing is wrong is asked at once,
    not first whether it was said. None if it is anything else."""
    if not state.unheard or state.aside is not None or not isinstance(event.meaning, Ok | DoneIt):
        return None
    turn = _answer(context, state, Heard(event.at, event.meaning, event.words, onset=event.onset))
    return turn if turn.state.stage is Stage.UNHEARD else None


# --- what was not an answer --------------------------------------------------------------------------------------


def _unclear(context: Context, state: State, event: Unclear) -> Turn:
    if overheard(state):
        return _overheard(context, state)
    if state.aside is None and state.stage in (Stage.FIRST, Stage.SECOND) and event.onset is not None:
        # It can hardly have been anything but the mark, and its moment cannot be had back: asked, and stamped then.
        return doubt(state, Report(Now(), context.book.lexicon.answers.now[0], sure=False), event.onset)
    state = replace(state, unclear=state.unclear + 1, silences=0)
    if state.draft is not None and state.aside is None:
        state = again(state)
    said = context.talk.noisy if event.noisy else context.can_say(row(context, state).asks)
    if event.several:  # of what each was, nobody can tell: none counts
        return Turn(state, (context.pace.one_at_a_time,), cues=("not-understood",))
    if event.early:  # it cut the question short: what comes next must answer all of it
        return Turn(state, (said,), cues=("not-understood",))
    if event.noisy or (state.unclear == 1 and state.aside is not Aside.DOUBT):
        return Turn(state, cues=("not-understood",), wording=said)
    return Turn(state, cues=("not-understood",), asking="unclear")


def _overheard(context: Context, state: State) -> Turn:
    if state.aside is None and state.stage is Stage.QUIET:
        return timed.tick(context, state)
    return listen_on(state)


def _silence(context: Context, state: State) -> Turn:
    if state.aside is Aside.NOTE:
        return understood(back(state), context.talk.note_empty)
    if overheard(state):
        return _overheard(context, state)
    return aside.after_silence(context, state)
