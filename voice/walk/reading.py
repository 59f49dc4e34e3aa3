"""A reading: told by itself, two in one breath, or the same as another; judged, confirmed and read back."""

from __future__ import annotations

from voice.judge.answer import Taken
from voice.measure import Measure
from voice.route.answer import Call, Hold, Measurement
from voice.understand.meaning import Number, Pair
from voice.walk.context import Context
from voice.walk.event import Heard
from voice.walk.item import detail, settle
from voice.walk.prompts import confirmed_quantity, unit_range
from voice.walk.state import Stage, State
from voice.walk.step import again, draft_of, with_draft
from voice.walk.turn import Turn, ask, understood


def number(context: Context, state: State, event: Heard) -> Turn:
    """A reading: asked again if it cannot be, confirmed if it is beyond its limit or approximate, else read back."""
    if not isinstance(event.meaning, Number):
        raise AssertionError("a number was said")
    if state.stage is Stage.ASK:
        state = with_draft(state, Stage.ASK, second=None, same="")
    return _taken(context, state, event.meaning.value, event, approximate=event.meaning.approximate)


def pair(context: Context, state: State, event: Heard) -> Turn:
    """Two readings: this one is taken like any; once it is kept, the one beside it is taken in the same way."""
    other = context.open_beside(state)
    if not isinstance(event.meaning, Pair) or other is None or not isinstance(other.item.answer, Measurement):
        raise AssertionError("two readings were told")
    if refusal := implausible(context, other.item.answer, event.meaning.second):
        return ask(again(state), refusal)
    state = with_draft(state, state.stage, second=event.meaning.second, same="")
    return _taken(context, state, event.meaning.first, event)


def same(context: Context, state: State, event: Heard) -> Turn:
    """The reading of the outer tire, or of the last walk: judged anew, and read back. Asked again if there is none."""
    found = context.same_as(context.current(state), state.answers)
    if found is None:
        return ask(again(state), context.pace.same_as_nothing)
    name, measure = found
    return _taken(context, with_draft(state, state.stage, second=None, same=name), measure, event)


def _taken(context: Context, state: State, measure: Measure, event: Heard, *, approximate: bool = False) -> Turn:
    step = context.current(state)
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
    if beyond is not None or approximate:
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
    undone = with_draft(state, stage, number=None, second=None, same="", beside="")
    return understood(again(undone), *lead)


def _accept(context: Context, state: State, measure: Measure, read_back: bool = True) -> Turn:
    step, draft = context.current(state), draft_of(state)
    quantity = confirmed_quantity(context, step, draft)
    sentence = context.pace.same if draft.same and draft.outcome is None else context.talk.value
    lead = (sentence.format(value=context.spoken(measure, quantity)),) if read_back else ()
    if draft.outcome is None:
        taken = (*draft.taken, Taken(quantity, measure))
        return settle(context, with_draft(state, Stage.ASK, outcome="reading", taken=taken, number=None), *lead)
    follow = context.follow_ups(step, draft)[draft.follow]
    state = with_draft(state, Stage.FOLLOW, taken=(*draft.taken, Taken(quantity, measure, follow.id)), number=None)
    return detail(context, state, context.spoken(measure, quantity), *lead)
