"""The session state machine: step(context, state, event) -> (state, effects).

No clock, file, thread or audio in here. What may happen where is in the tables below; anything else raises
IllegalEvent and changes nothing. The same code runs live and in replay, so a journal rebuilds the same state.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from voice.route.model import Length
from voice.understand.meaning import (
    Chosen,
    Command,
    Defect,
    DoneIt,
    Either,
    Meaning,
    No,
    NotApplicable,
    Now,
    Number,
    Ok,
    Stop,
    Words,
    Yes,
)
from voice.walk import closing, item, timed
from voice.walk.ask import explanation, help_text
from voice.walk.context import Context
from voice.walk.event import (
    Cue,
    Doubted,
    Event,
    Heard,
    Lost,
    Regained,
    Resumed,
    Silence,
    Started,
    Unclear,
)
from voice.walk.state import Aside, Note, Stage, State
from voice.walk.turn import IllegalEvent, Turn, ask, listen_on, understood

Handler = Callable[[Context, State, Heard], Turn]

# What an answer does, by the stage it is given in. A meaning that is not listed cannot be heard there.
ANSWERS: dict[Stage, dict[type, Handler]] = {
    Stage.ASK: {
        Ok: item.ok, Defect: item.defect, NotApplicable: item.not_applicable, Number: item.number,
        Either: item.either, Chosen: item.chosen, DoneIt: item.done,
    },
    Stage.WHICH: {Defect: item.defect, Ok: item.unsaid, NotApplicable: item.not_applicable},
    Stage.DESCRIBE: {Words: item.described},
    Stage.FOLLOW: {
        Ok: item.follow_ok, Defect: item.follow_defect, Number: item.number, Either: item.either,
        Chosen: item.follow_chosen,
    },
    Stage.MORE: {Ok: item.no_more, No: item.no_more, Yes: item.more, Defect: item.defect},
    Stage.CONFIRM: {Yes: item.confirmed, No: item.not_confirmed},
    Stage.REASON: {Words: item.reason},
    Stage.READY: {DoneIt: timed.ready, Defect: item.defect, NotApplicable: item.not_applicable},
    Stage.GAUGE: {Number: timed.gauge, Either: item.either},
    Stage.BEGIN: {DoneIt: timed.begin, Defect: item.defect, NotApplicable: item.not_applicable},
    Stage.QUIET: {Stop: timed.stopped},
    Stage.END: {Number: timed.end_reading, Either: item.either},
    Stage.FIRST: {Now: timed.first_mark, Stop: timed.stopped},
    Stage.SECOND: {Now: timed.second_mark, Stop: timed.stopped},
    Stage.WATCH: {
        Now: timed.called, Number: timed.called_number, Either: item.either, Stop: timed.stopped,
        Defect: item.defect, NotApplicable: item.not_applicable,
    },
    Stage.CALLED: {Number: timed.called_number, Either: item.either},
    Stage.NAME: {Words: closing.name},
    Stage.SIGN: {Yes: closing.sign, No: closing.sign_again},
}  # fmt: skip


def begin(length: Length) -> State:
    return State(length=length)


def step(context: Context, state: State, event: Event) -> Turn:
    """One event. Raises IllegalEvent if it cannot happen in this state; then nothing has changed."""
    if state.stage is Stage.CLOSED or (state.stage is Stage.NEW) is not isinstance(event, Started):
        raise IllegalEvent(f"{event.kind} in stage {state.stage}")
    if event.at < state.at:
        raise IllegalEvent(f"{event.kind} at {event.at:.3f} s, before {state.at:.3f} s")
    now = replace(state, at=event.at, events=state.events + 1)
    answers = isinstance(event, Heard | Doubted) and not isinstance(event.meaning, Command)
    if answers and now.draft is not None and now.aside in (None, Aside.DOUBT):
        now = replace(now, draft=replace(now.draft, events=(*now.draft.events, state.events)))
    match event:
        case Started():
            return _start(context, now)
        case Heard():
            return _heard(context, now, event)
        case Doubted():
            return _doubted(context, now, event)
        case Unclear():
            return _unclear(context, now, event)
        case Silence():
            return _silence(context, now)
        case Lost():
            return replace(now, aside=Aside.LOST), ()
        case Regained() if now.aside is Aside.LOST:
            return _go_on(context, now, context.talk.regained)
        case Resumed():
            return _resume(context, now, event)
    raise IllegalEvent(f"{event.kind} while {now.aside or now.stage}")


def _start(context: Context, state: State) -> Turn:
    talk, plan = context.talk, context.plan
    return item.advance(context, state, talk.intro.format(vehicle=plan.vehicle.name, count=len(plan.steps)))


# --- answers -----------------------------------------------------------------------------------------------------


def _heard(context: Context, state: State, event: Heard) -> Turn:
    meaning = event.meaning
    if state.aside is not None and state.aside is not Aside.DOUBT:
        return _heard_aside(context, state, event)
    if state.aside is Aside.DOUBT:
        if isinstance(meaning, Yes):
            return _certain(context, state)
        if isinstance(meaning, No):
            return _denied(context, state)
        state = _settled(state)
    if isinstance(meaning, Command):
        return _command(context, state, event, meaning)
    return _answer(context, state, event)


def _answer(context: Context, state: State, event: Heard) -> Turn:
    if isinstance(event.meaning, Stop) and Stop not in ANSWERS[state.stage]:
        # "Stop" where nothing is running: the driver wants a halt.
        return _pause(context, state)
    handler = ANSWERS[state.stage].get(type(event.meaning))
    if handler is None:
        raise IllegalEvent(f"{event.meaning.kind} in stage {state.stage}")
    if state.stage is Stage.CONFIRM and timed.is_timed(context, state):
        # A timed result is either kept or taken again from the top: the moment cannot be had back.
        return (timed.confirmed if handler is item.confirmed else _again_from_top)(context, state, event)
    return handler(context, state, event)


def _again_from_top(context: Context, state: State, event: Heard) -> Turn:
    return timed.restart(context, state)


def _settled(state: State) -> State:
    return replace(state, aside=None, doubted=None, doubted_words="", doubted_others=())


def _certain(context: Context, state: State) -> Turn:
    """Yes, that is what was said."""
    if state.doubted is None:
        raise AssertionError("something was doubted")
    event = Heard(state.at, state.doubted, state.doubted_words, onset=state.doubted_onset)
    state = _settled(state)
    if isinstance(event.meaning, Command):
        return _command(context, state, event, event.meaning)
    if state.stage is Stage.WHICH and isinstance(event.meaning, Ok):
        return item.ok(context, state, event)
    return _answer(context, state, event)


def _denied(context: Context, state: State) -> Turn:
    if state.doubted_others:
        first, *others = state.doubted_others
        offered = item.named(context, state, Heard(state.at, first, "", onset=state.doubted_onset))
        return item.doubt(context, _settled(state), offered, *others)
    state = _settled(state)
    return understood(context, item.again(state) if state.draft is not None else state)


def _doubted(context: Context, state: State, event: Doubted) -> Turn:
    if state.aside not in (None, Aside.DOUBT):
        return _unclear(context, state, Unclear(event.at))
    if state.aside is Aside.DOUBT and isinstance(event.meaning, Yes | No):
        # Not sure of the yes itself: ask the question behind it again rather than go on in circles.
        return _denied(context, replace(state, doubted_others=()))
    if state.stage in (Stage.CONFIRM, Stage.SIGN) and isinstance(event.meaning, Yes | No):
        return _unclear(context, state, Unclear(event.at))
    if isinstance(event.meaning, Either):
        return item.either(context, _settled(state), Heard(event.at, event.meaning, event.words, onset=event.onset))
    return item.doubt(context, _settled(state), event)


# --- what was not an answer --------------------------------------------------------------------------------------


def _unclear(context: Context, state: State, event: Unclear) -> Turn:
    if state.aside is Aside.PAUSED or (state.aside is None and state.stage in (Stage.QUIET, Stage.WATCH)):
        # Overheard, not answered: nobody is being asked anything.
        return _overheard(context, state)
    if state.aside is None and state.stage in (Stage.FIRST, Stage.SECOND) and event.onset is not None:
        # It can hardly have been anything but the mark, and its moment cannot be had back: asked, and stamped then.
        now = Doubted(event.at, Now(), context.book.lexicon.answers.now[0], onset=event.onset)
        return item.doubt(context, state, now)
    state = replace(state, unclear=state.unclear + 1, silences=0)
    if state.draft is not None and state.aside is None:
        state = item.again(state)
    cue = (Cue("not-understood"),)
    if event.noisy:
        return ask(context, state, cues=cue, wording=context.talk.noisy)
    if state.unclear == 1:
        return ask(context, state, cues=cue, wording=context.talk.unclear)
    return ask(context, state, context.talk.unclear_more.format(help=help_text(context, state)), cues=cue)


def _overheard(context: Context, state: State) -> Turn:
    if state.aside is None and state.stage is Stage.QUIET:
        return timed.tick(context, state)
    return listen_on(context, state)


def _silence(context: Context, state: State) -> Turn:
    """Ask again, then the shorter form, then wait without a word."""
    if state.aside is Aside.NOTE:
        return understood(context, replace(state, aside=None), context.talk.note_empty)
    if state.aside is Aside.PAUSED or (state.aside is None and state.stage in (Stage.QUIET, Stage.WATCH)):
        return _overheard(context, state)
    state = replace(state, silences=state.silences + 1)
    if state.aside is None and state.stage is Stage.DESCRIBE and state.silences >= 2:
        return item.not_described(context, state)
    if state.aside is None and state.stage is Stage.REASON and state.silences >= 2:
        return item.with_reason(context, state, context.talk.no_reason)
    if state.silences < 3:
        return ask(context, state)
    if state.silences == 3:
        return ask(context, state, wording=context.talk.waiting)
    return listen_on(context, state)


def _resume(context: Context, state: State, event: Resumed) -> Turn:
    talk = context.talk
    lead = talk.resumed.format(done=len(state.answers), total=len(context.plan.steps))
    if event.torn:
        lead = f"{lead} {talk.resumed_torn}"
    return _go_on(context, replace(state, told=None), lead)


def _go_on(context: Context, state: State, *lead: str) -> Turn:
    """After a break: where it was, but a timed check from its beginning."""
    state = replace(_settled(state), silences=0, unclear=0)
    if state.draft is None:
        if state.stage in (Stage.NAME, Stage.SIGN):
            return closing.summarise(context, state, *lead)
        return item.advance(context, state, *lead)
    if state.stage in timed.RUNNING:
        return timed.restart(context, state, *lead)
    if state.stage in (Stage.ASK, Stage.READY):
        return item.enter(context, state, state.draft.step, *lead)
    return understood(context, state, *lead, context.current(state).say.terse)


# --- asides ------------------------------------------------------------------------------------------------------


def _heard_aside(context: Context, state: State, event: Heard) -> Turn:
    meaning = event.meaning
    back = replace(state, aside=None)
    if state.aside is Aside.PAUSED:
        if (isinstance(meaning, Command) and meaning.name == "resume") or isinstance(meaning, DoneIt):
            return _go_on(context, back)
        return listen_on(context, state)
    if isinstance(meaning, Command):
        return _command(context, back, event, meaning)
    match state.aside, meaning:
        case Aside.NOTE, Words(text):
            note = Note(state.at, None if state.draft is None else state.draft.step, text, state.events - 1)
            return understood(
                context, replace(back, notes=(*state.notes, note)), context.talk.note_kept.format(text=text)
            )
        case Aside.NOTE, Stop():
            return understood(context, back, context.talk.note_empty)
        case Aside.CHANGE, Chosen(target):
            return item.enter(context, back, target, context.talk.changing)
        case Aside.CHANGE, Stop():
            return understood(context, back)
        case Aside.FINISHING, Yes():
            return closing.finish_early(context, back)
        case Aside.FINISHING, No():
            return understood(context, back)
    raise IllegalEvent(f"{meaning.kind} while {state.aside}")


def _pause(context: Context, state: State) -> Turn:
    return understood(context, replace(state, aside=Aside.PAUSED))


# --- commands ----------------------------------------------------------------------------------------------------


def _command(context: Context, state: State, event: Heard, command: Command) -> Turn:
    """A request that is allowed at any time. It breaks a running timed check off, except for a look at the list."""
    talk = context.talk
    match command.name:
        case "repeat":
            if state.stage is Stage.NAME:
                return closing.summarise(context, state)
            return understood(context, state)
        case "explain":
            return ask(context, state, cues=(Cue("understood"),), wording=explanation(context, state))
        case "help":
            return ask(context, state, help_text(context, state), cues=(Cue("understood"),))
        case "left":
            count = sum(1 for _ in context.open_steps(state.answers))
            return understood(context, state, talk.left.format(left=count, skipped=len(state.skipped)))
        case "where":
            return understood(context, state, _where(context, state))
        case "terse" | "normal" | "full":
            word = {"terse": talk.length_terse, "normal": talk.length_normal, "full": talk.length_full}[command.name]
            return understood(context, replace(state, length=command.name), talk.length.format(length=word))
        case "pause":
            return _pause(context, state)
        case "resume":
            return understood(context, state)
        case "note":
            return understood(context, replace(state, aside=Aside.NOTE))
        case "finish":
            return closing.finish(context, state)
        case "skip":
            return _skip(context, state)
        case "back":
            return _back(context, state)
        case "correct":
            return _correct(context, state)
        case "change":
            return _change(context, state, command.target)


def _where(context: Context, state: State) -> str:
    if state.draft is None:
        return context.talk.sign
    current = context.current(state)
    return context.talk.where.format(
        section=context.sections[current.section].title,
        number=context.index(current.id) + 1,
        total=len(context.plan.steps),
        name=current.name,
    )


def _skip(context: Context, state: State) -> Turn:
    if state.draft is None:
        return understood(context, state)
    match state.stage:
        case Stage.FOLLOW:
            return item.no_detail(context, state)
        case Stage.DESCRIBE:
            return item.not_described(context, state)
        case Stage.REASON:
            return item.with_reason(context, state, context.talk.no_reason)
        case Stage.MORE:
            return item.no_more(context, state, Heard(state.at, No(), ""))
    current = state.draft.step
    if current in state.answers:
        return item.advance(context, state)
    if state.second_round and current in state.skipped:
        return item.not_inspected(context, state)
    return item.advance(context, replace(state, skipped=(*state.skipped, current)), context.talk.skipped)


def _back(context: Context, state: State) -> Turn:
    """To the question before: within a step to its first question, else to the step before in walking order."""
    if state.draft is None:
        return item.enter(context, state, context.order[-1], context.talk.step_back)
    current = state.draft.step
    if state.stage is not item.first_stage(context.current(state)) or state.draft.line > 0:
        return item.enter(context, state, current, context.talk.step_back)
    index = context.index(current)
    if index == 0:
        return understood(context, state, context.talk.nothing_before)
    return item.enter(context, state, context.order[index - 1], context.talk.step_back)


def _correct(context: Context, state: State) -> Turn:
    """The last answer again; in the middle of an answer, that answer from its beginning."""
    if state.draft is not None and state.stage is not item.first_stage(context.current(state)):
        return item.enter(context, state, state.draft.step, context.talk.changing)
    if state.last is None:
        return understood(context, state, context.talk.nothing_to_change)
    return item.enter(context, state, state.last, context.talk.changing)


def _change(context: Context, state: State, target: str | None) -> Turn:
    if target is not None and target in context.steps:
        return item.enter(context, state, target, context.talk.changing)
    if not state.answers:
        return understood(context, state, context.talk.nothing_to_change)
    return understood(context, replace(state, aside=Aside.CHANGE))


__all__ = ["ANSWERS", "IllegalEvent", "Meaning", "begin", "step"]
