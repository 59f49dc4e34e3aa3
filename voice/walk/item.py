"""Answers to a step: condition, reading, choice, done; the defect, its details, and the reason."""

from __future__ import annotations

from dataclasses import replace

from voice.judge.answer import DefectFound, Taken
from voice.measure import Measure
from voice.route.answer import Call, Hold, Measurement
from voice.route.library import OTHER
from voice.understand.meaning import Chosen, Defect, Number, Ok, Words
from voice.walk.context import Context
from voice.walk.doubt import doubt
from voice.walk.event import Heard
from voice.walk.prompts import confirmed_quantity, unit_range
from voice.walk.state import Report, Stage, State
from voice.walk.step import again, draft_of, store, with_draft
from voice.walk.turn import Turn, ask, understood

# --- the step's own question -------------------------------------------------------------------------------------


def ok(context: Context, state: State, event: Heard) -> Turn:
    """Nothing is wrong: the answer is kept, unless a defect stands against it."""
    return _settle(context, with_draft(state, Stage.ASK, outcome="ok"))


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
    return _settle(context, with_draft(state, Stage.ASK, outcome="done"))


def chosen(context: Context, state: State, event: Heard) -> Turn:
    """The option is kept; one that means a defect begins it."""
    if not isinstance(event.meaning, Chosen):
        raise AssertionError("a choice was made")
    step = context.current(state)
    option = next(o for o in getattr(step.item.answer, "options", ()) if o.id == event.meaning.id)
    state = with_draft(state, Stage.ASK, choice=option.id)
    if option.defect is None:
        return _settle(context, with_draft(state, Stage.ASK, outcome="choice"))
    return _begin_defect(context, state, option.defect)


def _settle(context: Context, state: State, *lead: str) -> Turn:
    """The main answer is known and nothing is wrong: follow-ups if any, then it is stored."""
    if context.follow_ups(context.current(state), draft_of(state)):
        return understood(with_draft(state, Stage.FOLLOW, follow=0), *lead)
    return store(context, state, *lead)


def number(context: Context, state: State, event: Heard) -> Turn:
    """A reading: asked again if it cannot be, confirmed if it is beyond its limit or approximate, else read back."""
    if not isinstance(event.meaning, Number):
        raise AssertionError("a number was said")
    measure, step = event.meaning.value, context.current(state)
    answer = step.item.answer
    if state.stage is Stage.FOLLOW:
        follow = context.follow_ups(step, draft_of(state))[draft_of(state).follow].answer
        if not isinstance(follow, Measurement):
            raise AssertionError("the follow-up takes a number")
        answer = follow
    if not isinstance(answer, Measurement):
        raise AssertionError(f"{step.id} takes no number")
    if refusal := implausible(context, answer, measure):
        return ask(again(state), refusal)
    beyond = context.worst(step, answer.quantity, measure)
    if beyond is not None or event.meaning.approximate:
        return understood(with_draft(state, Stage.CONFIRM, number=measure, number_at=event.at))
    return _accept(context, state, measure)


def implausible(context: Context, answer: Measurement | Hold | Call, measure: Measure) -> str:
    """The sentence that refuses a number no working gauge can show; empty if it is plausible."""
    _, low, high, _ = unit_range(answer)
    if low.value <= measure.to(answer.unit).value <= high.value:
        return ""
    quantity = "" if isinstance(answer, Hold) else answer.quantity  # a hold's quantity is a rate, its gauge is not
    said = [context.spoken(m, quantity) for m in (measure, low, high)]
    return context.talk.implausible.format(value=said[0], low=said[1], high=said[2])


def confirmed(context: Context, state: State, event: Heard) -> Turn:
    """The reading is kept."""
    draft = draft_of(state)
    if draft.number is None:
        raise AssertionError("a number is confirmed")
    return _accept(context, state, draft.number, read_back=False)


def not_confirmed(context: Context, state: State, event: Heard) -> Turn:
    """The reading is denied aloud and asked for again."""
    draft = draft_of(state)
    stage = Stage.ASK if draft.outcome is None else Stage.FOLLOW
    lead: tuple[str, ...] = ()
    if draft.number is not None:
        value = context.spoken(draft.number, confirmed_quantity(context, context.current(state), draft))
        lead = (context.talk.denied.format(words=value),)
    return understood(again(with_draft(state, stage, number=None)), *lead)


def _accept(context: Context, state: State, measure: Measure, read_back: bool = True) -> Turn:
    step, draft = context.current(state), draft_of(state)
    quantity = confirmed_quantity(context, step, draft)
    lead = (context.talk.value.format(value=context.spoken(measure, quantity)),) if read_back else ()
    if draft.outcome is None:
        taken = (*draft.taken, Taken(quantity, measure))
        return _settle(context, with_draft(state, Stage.ASK, outcome="reading", taken=taken, number=None), *lead)
    follow = context.follow_ups(step, draft)[draft.follow]
    state = with_draft(state, Stage.FOLLOW, taken=(*draft.taken, Taken(quantity, measure, follow.id)), number=None)
    return _detail(context, state, context.spoken(measure, quantity), *lead)


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
        return store(context, state, *lead)
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
    return _detail(context, state, "ok")


def follow_defect(context: Context, state: State, event: Heard) -> Turn:
    """A detail of a defect; but where nothing was wrong so far, a defect."""
    if draft_of(state).outcome != "defect" and state.rules > 1:
        return defect(context, state, event)
    return _detail(context, state, "defect")


def follow_chosen(context: Context, state: State, event: Heard) -> Turn:
    """Kept as a detail; the next further question."""
    if not isinstance(event.meaning, Chosen):
        raise AssertionError("a choice was made")
    follow = context.follow_ups(context.current(state), draft_of(state))[draft_of(state).follow]
    option = next(o for o in getattr(follow.answer, "options", ()) if o.id == event.meaning.id)
    if option.defect is not None and draft_of(state).outcome != "defect" and state.rules > 1:
        return _begin_defect(context, state, option.defect)
    return _detail(context, state, option.title.lower())


def _detail(context: Context, state: State, text: str, *lead: str) -> Turn:
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
    return understood(with_draft(state, Stage.REASON, outcome="not-applicable", defects=(), taken=()))


def not_inspected(context: Context, state: State) -> Turn:
    return understood(with_draft(state, Stage.REASON, outcome="not-inspected", defects=(), taken=()))


def reason(context: Context, state: State, event: Heard) -> Turn:
    """Kept with its reason."""
    if not isinstance(event.meaning, Words):
        raise AssertionError("words were spoken")
    return with_reason(context, state, event.meaning.text)


def with_reason(context: Context, state: State, text: str) -> Turn:
    sentence = context.talk.not_applicable
    if draft_of(state).outcome != "not-applicable":
        sentence = context.talk.not_inspected
    kept = with_draft(state, Stage.REASON, details=(("reason", text),))
    return store(context, kept, sentence.format(name=context.called(state)))
