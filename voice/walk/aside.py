"""Interruptions after which the walk goes on where it was, and the requests that can be made at any time."""

from __future__ import annotations

from dataclasses import replace

from voice.measure.cardinal import cardinal
from voice.route.model import Depth
from voice.understand.meaning import Chosen, Command, Words
from voice.walk import closing, item, prompts, reports, step, timed
from voice.walk.context import Context
from voice.walk.event import Heard, Resumed
from voice.walk.state import Aside, Note, Stage, State
from voice.walk.turn import Turn, back, listen_on, settled, understood

# --- interruptions -----------------------------------------------------------------------------------------------


def pause(context: Context, state: State, event: Heard) -> Turn:
    """Waits for resume."""
    return understood(replace(state, aside=Aside.PAUSED))


def resume(context: Context, state: State, event: Heard) -> Turn:
    """Goes on; a timed check begins again, a defect in doubt is asked again."""
    return go_on(context, state)


def note(context: Context, state: State, event: Heard) -> Turn:
    """The note is kept, whatever becomes of the program now, and read back."""
    if not isinstance(event.meaning, Words):
        raise AssertionError("words were spoken")
    text = event.meaning.text
    about = None if state.draft is None or state.draft.group else state.draft.step
    kept = Note(state.at, about, text, state.events - 1)
    state = replace(state, notes=(*state.notes, kept))
    if state.rules < 3:
        return understood(back(state), context.talk.note_kept.format(text=text))
    return understood(replace(state, aside=Aside.NOTED))


def keep_note(context: Context, state: State, event: Heard) -> Turn:
    """The note stays as it is."""
    return understood(back(state))


def note_again(context: Context, state: State, event: Heard) -> Turn:
    """The note is dropped and listened for anew."""
    return understood(replace(state, aside=Aside.NOTE, notes=state.notes[:-1]))


def amend_note(context: Context, state: State, event: Heard) -> Turn:
    """Said again; or only its recording is kept; or it is dropped, and that is said."""
    match event.meaning:
        case Chosen("again"):
            return note_again(context, state, event)
        case Chosen("drop"):
            return understood(replace(back(state), notes=state.notes[:-1]), context.talk.note_dropped)
    last = state.notes[-1]
    # What was understood stays beside it: where recordings are refused there is nothing else.
    marked = replace(last, text=context.talk.note_unsure.format(text=last.text))
    return understood(replace(back(state), notes=(*state.notes[:-1], marked)), context.talk.note_recording)


def no_note(context: Context, state: State, event: Heard) -> Turn:
    """No note is kept."""
    return understood(back(state), context.talk.note_empty)


def leave(context: Context, state: State, event: Heard) -> Turn:
    """Nothing is changed."""
    return understood(back(state))


def change(context: Context, state: State, event: Heard) -> Turn:
    """That item is asked again."""
    if not isinstance(event.meaning, Chosen):
        raise AssertionError("an item was chosen")
    return step.enter(context, state, event.meaning.id, context.talk.changing)


def resumed(context: Context, state: State, event: Resumed) -> Turn:
    """The program was stopped or died."""
    talk = context.talk
    lead = talk.resumed.format(done=len(state.answers), total=len(context.asked(state)))
    if event.torn:
        lead = f"{lead} {talk.resumed_torn}"
    return go_on(context, replace(state, told=None), *context.holds, lead)


def go_on(context: Context, state: State, *lead: str) -> Turn:
    """After a break: where it was, but a timed check from its beginning. A defect that was in doubt is asked again."""
    turn = _place(context, replace(settled(state), aside=None, silences=0, unclear=0), *lead)
    if state.rules > 1 and turn.state.draft is not None and reports.bad(context, state, state.doubted):
        again = replace(
            turn.state,
            aside=Aside.DOUBT,
            doubted=state.doubted,
            doubted_words=state.doubted_words,
            doubted_onset=state.doubted_onset,
            doubted_others=state.doubted_others,
        )
        return replace(turn, state=again)
    return turn


def _place(context: Context, state: State, *lead: str) -> Turn:
    if state.draft is None:
        if state.stage in (Stage.NAME, Stage.SIGN):
            return closing.summarise(context, state, *lead)
        return step.advance(context, state, *lead)
    if state.stage in timed.RUNNING:
        return timed.restart(context, state, *lead)
    if state.stage in (Stage.ASK, Stage.READY, Stage.LOOK):
        return step.reenter(context, state, *lead)
    if state.draft.group:
        return understood(state, *lead, prompts.look(context, state, True))
    return understood(state, *lead, context.current(state).say.terse)


# --- requests ----------------------------------------------------------------------------------------------------

_MOVES = ("finish", "skip", "back", "correct", "change")


def command(context: Context, state: State, event: Heard) -> Turn:
    """A request that is allowed at any time. It breaks a running timed check off, except for a look at the list."""
    asked = event.meaning
    if not isinstance(asked, Command):
        raise AssertionError("a command was heard")
    if state.aside not in (None, Aside.DOUBT):
        state = back(state)
    if asked.name not in _MOVES:
        return _look(context, state, asked)
    match asked.name:
        case "finish":
            return closing.finish(context, state)
        case "skip":
            return _skip(context, settled(state))
        case "back":
            return _back(context, settled(state))
        case "correct":
            return _correct(context, settled(state))
        case _:
            return _change(context, state, asked.target)


def _look(context: Context, state: State, asked: Command) -> Turn:
    """What leaves the question, and a doubt, as it is."""
    talk = context.talk
    match asked.name:
        case "repeat":
            if state.stage is Stage.NAME:
                return closing.summarise(context, state)
            return understood(state)
        case "explain":
            return Turn(state, (), ("understood",), "explain")
        case "help":
            return Turn(state, (), ("understood",), "help")
        case "left":
            count = sum(1 for _ in context.open_steps(state))
            return understood(state, talk.left.format(left=count, skipped=len(state.skipped)))
        case "where":
            return understood(state, _where(context, state))
        case "terse" | "normal" | "full":
            word = {"terse": talk.length_terse, "normal": talk.length_normal, "full": talk.length_full}[asked.name]
            return understood(replace(state, length=asked.name), talk.length.format(length=word))
        case "each-part" | "by-place":
            return _deeper(context, state, asked.name)
        case "pause":
            return understood(replace(state, aside=Aside.PAUSED))
        case "note":
            return understood(replace(state, aside=Aside.NOTE))
    return understood(state)


def _deeper(context: Context, state: State, depth: Depth) -> Turn:
    """From here on each part, or by place. What is being asked is asked so at once, if it has no answer yet."""
    sentence = context.pace.each_part if depth == "each-part" else context.pace.by_place
    before = len(state.brought)
    state = _brought(context, replace(state, depth=depth))
    if (fresh := len(state.brought) - before) > 0:
        sentence = f"{sentence} {context.pace.brought.format(count=cardinal(fresh))}"
    draft = state.draft
    if draft is None or state.aside is not None or step.begun(context, state) or draft.step in state.answers:
        return understood(state, sentence)
    if draft.step not in context.looks:
        return understood(state, sentence)
    if group := step.group_of(context, state, draft.step):
        return step.enter_look(context, state, group, sentence)
    return step.enter(context, state, draft.step, sentence)


def _brought(context: Context, state: State) -> State:
    """With each part, what was not due is asked after all: what lies ahead, nobody is sent back."""
    if state.depth == "by-place":
        return replace(state, brought=())
    ahead = () if state.draft is None else context.order[context.index(state.draft.step) :]
    fresh = tuple(step for step in ahead if not context.is_asked(state, step))
    return replace(state, brought=(*state.brought, *fresh))


def _where(context: Context, state: State) -> str:
    if state.draft is None:
        return context.talk.sign
    current = context.current(state)
    walked = context.asked(state)
    return context.talk.where.format(
        section=context.sections[current.section].title,
        number=walked.index(current.id) + 1,
        total=len(walked),
        name=context.called(state),
    )


def _skip(context: Context, state: State) -> Turn:
    if state.draft is None:
        return understood(state)
    match state.stage:
        case Stage.FOLLOW:
            return item.no_detail(context, state)
        case Stage.DESCRIBE:
            return item.not_described(context, state)
        case Stage.REASON:
            return item.with_reason(context, state, context.talk.no_reason)
        case Stage.MORE:
            return item.end_defects(context, state)
    steps = reports.asked_about(state.draft)
    stands = any(name in state.reported for name in reports.subjects(context, state.draft))
    stands = stands or any(each in state.unheard or context.stale(state, each) for each in steps)
    if not stands and all(each in state.answers for each in steps):
        return step.advance(context, state)
    if state.second_round and all(each in state.skipped for each in steps):
        return item.not_inspected(context, state)
    later = tuple(each for each in steps if each not in state.skipped)
    return step.advance(context, replace(state, skipped=(*state.skipped, *later)), context.talk.skipped)


def _back(context: Context, state: State) -> Turn:
    """To the question before: within a step to its first question, else to the step before in walking order."""
    if state.draft is None:
        return step.enter(context, state, context.asked(state)[-1], context.talk.step_back)
    if step.begun(context, state) or state.draft.line > 0:
        return step.reenter(context, state, context.talk.step_back)
    walked = context.asked(state)
    index = walked.index(state.draft.step)
    if index == 0:
        return understood(state, context.talk.nothing_before)
    return step.revisit(context, state, walked[index - 1], context.talk.step_back)


def _correct(context: Context, state: State) -> Turn:
    """The last answer again; in the middle of an answer, that answer from its beginning."""
    if state.draft is not None and step.begun(context, state):
        return step.reenter(context, state, context.talk.changing)
    if state.last is None:
        return understood(state, context.talk.nothing_to_change)
    return step.revisit(context, state, state.last, context.talk.changing)


def _change(context: Context, state: State, target: str | None) -> Turn:
    if target is not None and target in context.steps:
        return step.enter(context, state, target, context.talk.changing)
    if not state.answers:
        return understood(state, context.talk.nothing_to_change)
    return understood(replace(state, aside=Aside.CHANGE))


def after_silence(context: Context, state: State) -> Turn:
    """Ask again, then the shorter form, then wait without a word."""
    state = replace(state, silences=state.silences + 1)
    if state.aside is Aside.NOTED and state.silences >= 2:
        return understood(back(state))
    if state.aside is None and state.stage is Stage.DESCRIBE and state.silences >= 2:
        return item.not_described(context, state)
    if state.aside is None and state.stage is Stage.REASON and state.silences >= 2:
        return item.with_reason(context, state, context.talk.no_reason)
    if state.silences < 3:
        return Turn(state)
    if state.silences == 3:
        return Turn(state, wording=context.talk.waiting)
    return listen_on(state)
