"""Answers to a step: condition, choice, done; the defect, its details, and the reason. Readings: `reading.py`."""

from __future__ import annotations

from dataclasses import replace

from voice.judge.answer import DefectFound, Kind
from voice.judge.cargo import cargo_told
from voice.route.library import OTHER
from voice.understand.interpret import plain
from voice.understand.meaning import Chosen, Defect, Ok, Words
from voice.walk.context import Context
from voice.walk.doubt import doubt
from voice.walk.event import Heard
from voice.walk.reports import report
from voice.walk.state import Report, Stage, State
from voice.walk.step import again, draft_of, store, with_draft
from voice.walk.turn import Turn, understood

# --- the step's own question -------------------------------------------------------------------------------------


def ok(context: Context, state: State, event: Heard) -> Turn:
    """Nothing is wrong: the answer is kept, unless a defect stands against it."""
    return settle(context, with_draft(state, Stage.ASK, outcome="ok"))


def good_if_sure(context: Context, state: State, event: Heard) -> Turn:
    """Yes, but it sounds like "cracked": whether it is okay is asked back."""
    if state.rules < 3:
        return say_which(context, state, event)
    return doubt(state, Report(Ok(), context.book.lexicon.answers.ok[0], sure=False), event.onset)


def not_yet(context: Context, state: State, event: Heard) -> Turn:
    """It waits until the driver speaks."""
    return Turn(replace(state, silences=3), wording=context.talk.waiting)


def done(context: Context, state: State, event: Heard) -> Turn:
    """It is done: kept."""
    return settle(context, with_draft(state, Stage.ASK, outcome="done"))


def chosen(context: Context, state: State, event: Heard) -> Turn:
    """The option is kept; one that means a defect begins it."""
    if not isinstance(event.meaning, Chosen):
        raise AssertionError("a choice was made")
    step = context.current(state)
    option = next(o for o in getattr(step.item.answer, "options", ()) if o.id == event.meaning.id)
    state = with_draft(state, Stage.ASK, choice=option.id)
    if option.defect is None:
        return settle(context, with_draft(state, Stage.ASK, outcome="choice"))
    return _begin_defect(context, state, option.defect)


def settle(context: Context, state: State, *lead: str) -> Turn:
    """The main answer is known and nothing is wrong: follow-ups if any, then it is stored."""
    if context.follow_ups(context.current(state), draft_of(state)):
        return understood(with_draft(state, Stage.FOLLOW, follow=0), *lead)
    return store(context, state, *lead)


# --- defects -----------------------------------------------------------------------------------------------------


def defect(context: Context, state: State, event: Heard) -> Turn:
    """Something is wrong: which defect, if it was not named outright."""
    if not isinstance(event.meaning, Defect):
        raise AssertionError("a defect was reported")
    if event.meaning.id is None:
        return understood(with_draft(state, Stage.WHICH))
    return _begin_defect(context, state, event.meaning.id)


def unsaid(context: Context, state: State, event: Heard) -> Turn:
    """After another defect it ends the list; else the report has to be taken back."""
    if draft_of(state).defects:
        return no_more(context, state, event)
    if state.rules == 1 and state.doubted is None:
        return doubt(state, Report(event.meaning, event.words, sure=False), event.onset)
    return ok(context, state, event)


def _begin_defect(context: Context, state: State, name: str) -> Turn:
    # Readings taken before the defect was named stay; the outcome is what decides which follow-ups come.
    state = with_draft(state, Stage.FOLLOW, outcome="defect", defect=name, details=(), follow=0)
    if name == OTHER:
        return understood(with_draft(state, Stage.DESCRIBE))
    return _next_detail(context, state)


def described(context: Context, state: State, event: Heard) -> Turn:
    """The defect is kept in these words; its further questions follow."""
    if not isinstance(event.meaning, Words):
        raise AssertionError("words were spoken")
    return _next_detail(context, with_draft(state, Stage.FOLLOW, details=(("described", event.meaning.text),)))


def not_described(context: Context, state: State) -> Turn:
    return _next_detail(context, with_draft(state, Stage.FOLLOW))


def _next_detail(context: Context, state: State, *lead: str) -> Turn:
    draft, step = draft_of(state), context.current(state)
    if draft.follow < len(context.follow_ups(step, draft)):
        return understood(with_draft(state, Stage.FOLLOW), *lead)
    if draft.outcome != "defect":
        told = cargo_told(context.limits, draft.taken) if draft.outcome == "reading" else ()
        return store(context, state, *lead, *told)
    return _finish_defect(context, state)


def _finish_defect(context: Context, state: State) -> Turn:
    """Read the defect back, and ask whether there is another."""
    draft, step = draft_of(state), context.current(state)
    if draft.defect is None:
        raise AssertionError("a defect was named")
    details = "".join(f", {value}" for _, value in draft.details)
    read_back = context.talk.defect_read_back.format(
        name=step.name, defect=context.defects[draft.defect].title.lower(), details=details
    )
    defects = (*draft.defects, DefectFound(draft.defect, draft.details))
    state = with_draft(state, Stage.MORE, defects=defects, defect=None, details=(), follow=0)
    return understood(state, read_back)


def no_more(context: Context, state: State, event: Heard) -> Turn:
    """The item is kept with its defects."""
    return end_defects(context, state)


def end_defects(context: Context, state: State) -> Turn:
    return store(context, with_draft(state, Stage.MORE, outcome="defect"))


def more(context: Context, state: State, event: Heard) -> Turn:
    """Which?"""
    return understood(with_draft(state, Stage.WHICH))


# --- follow-ups --------------------------------------------------------------------------------------------------


def follow_ok(context: Context, state: State, event: Heard) -> Turn:
    """Kept as a detail; the next further question."""
    return detail(context, state, "ok")


def follow_defect(context: Context, state: State, event: Heard) -> Turn:
    """A detail of a defect; but where nothing was wrong so far, a defect."""
    if draft_of(state).outcome != "defect" and state.rules > 1:
        return defect(context, state, event)
    return detail(context, state, "defect")


def follow_chosen(context: Context, state: State, event: Heard) -> Turn:
    """Kept as a detail; the next further question."""
    if not isinstance(event.meaning, Chosen):
        raise AssertionError("a choice was made")
    follow = context.follow_ups(context.current(state), draft_of(state))[draft_of(state).follow]
    option = next(o for o in getattr(follow.answer, "options", ()) if o.id == event.meaning.id)
    if option.defect is not None and draft_of(state).outcome != "defect" and state.rules > 1:
        return _begin_defect(context, state, option.defect)
    return detail(context, state, option.title.lower())


def detail(context: Context, state: State, text: str, *lead: str) -> Turn:
    draft = draft_of(state)
    follow = context.follow_ups(context.current(state), draft)[draft.follow]
    details = (*draft.details, (follow.id, text))
    return _next_detail(context, with_draft(state, Stage.FOLLOW, details=details, follow=draft.follow + 1), *lead)


def no_detail(context: Context, state: State) -> Turn:
    """A follow-up was skipped."""
    return _next_detail(context, with_draft(state, Stage.FOLLOW, follow=draft_of(state).follow + 1))


# --- not applicable, not inspected -------------------------------------------------------------------------------


def say_which(context: Context, state: State, event: Heard) -> Turn:
    """It does not say what was found: what can be said here, and the question again."""
    return Turn(again(state), cues=("not-understood",), asking="unclear")


def not_applicable(context: Context, state: State, event: Heard) -> Turn:
    """Asks why."""
    return understood(_nothing_found(state, "not-applicable"))


def not_inspected(context: Context, state: State) -> Turn:
    return understood(_nothing_found(state, "not-inspected"))


def _nothing_found(state: State, outcome: Kind) -> State:
    blank = with_draft(state, Stage.REASON, outcome=outcome, defects=(), taken=())
    return with_draft(blank, Stage.REASON, second=None, same="", beside="")


def reason(context: Context, state: State, event: Heard) -> Turn:
    """Kept with its reason. One that names a defect of the item may tell of that defect: it is asked about."""
    if not isinstance(event.meaning, Words):
        raise AssertionError("words were spoken")
    text = event.meaning.text
    if state.rules >= 7:
        spoken = f" {plain(text, context.book.lexicon)} "
        for found in context.defects_of(context.current(state)):
            if any(f" {say} " in spoken for say in found.say):
                state = report(context, state, Defect(found.id), found.say[0], sure=False)
    return with_reason(context, state, text)


def with_reason(context: Context, state: State, text: str) -> Turn:
    sentence = context.talk.not_applicable
    if draft_of(state).outcome != "not-applicable":
        sentence = context.talk.not_inspected
    kept = with_draft(state, Stage.REASON, details=(("reason", text),))
    return store(context, kept, sentence.format(name=context.called(state)))
