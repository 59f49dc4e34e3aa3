"""Timed checks: the hold (leak-down), the climb (build-up) and the call (warning, pop-out).

Times are stamped at the onset of the driver's word, and rates are normalized by the time that was measured. A check
that is broken off begins again from the top: the engine and key state first.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from voice.judge import leak_rate
from voice.judge.answer import Taken
from voice.measure import Measure
from voice.route.answer import Call, Climb, Hold
from voice.understand.meaning import Number
from voice.walk.context import Context
from voice.walk.event import CueName, Heard
from voice.walk.prompts import marks
from voice.walk.reading import implausible
from voice.walk.state import Stage, State
from voice.walk.step import after_ready, again, draft_of, enter, first_stage, store, with_draft
from voice.walk.turn import Turn, ask, listen_on, understood

GAUGE = ""  # a gauge is read in its own unit; the quantity judged is a rate
STAMP = Fraction(1, 100)  # seconds: finer than a word's onset can be told

RUNNING = {Stage.GAUGE, Stage.BEGIN, Stage.QUIET, Stage.END, Stage.FIRST, Stage.SECOND, Stage.WATCH, Stage.CALLED}


def seconds(value: float) -> Measure:
    return Measure(Fraction(round(value / float(STAMP))) * STAMP, "s")


def onset(event: Heard) -> float:
    return event.at if event.onset is None else event.onset


def restart(context: Context, state: State, *lead: str) -> Turn:
    """From safe ground: the first ready line."""
    step = draft_of(state).step
    return enter(context, again(state), step, *lead, context.talk.timed_again)


def ready(context: Context, state: State, event: Heard) -> Turn:
    """One ready line is done; the next, or the check itself."""
    step, draft = context.current(state), draft_of(state)
    answer = step.item.answer
    if isinstance(answer, Hold | Climb | Call) and draft.line + 1 < len(answer.ready):
        return understood(with_draft(state, Stage.READY, line=draft.line + 1))
    return understood(with_draft(state, after_ready(step)))


def _timed_number(context: Context, state: State, event: Heard) -> tuple[Measure, str]:
    """The reading, and the sentence that refuses it if it is not plausible."""
    answer = context.current(state).item.answer
    if not isinstance(event.meaning, Number) or not isinstance(answer, Hold | Call):
        raise AssertionError("a gauge was read")
    return event.meaning.value, implausible(context, answer, event.meaning.value)


# --- hold --------------------------------------------------------------------------------------------------------


def _hold(context: Context, state: State) -> Hold:
    answer = context.current(state).item.answer
    if not isinstance(answer, Hold):
        raise AssertionError("a timed hold is running")
    return answer


def gauge(context: Context, state: State, event: Heard) -> Turn:
    """The start reading of one gauge; after the last the driver is told what to do."""
    hold, draft = _hold(context, state), draft_of(state)
    measure, refusal = _timed_number(context, state, event)
    if refusal:
        return ask(again(state), refusal)
    taken = (*draft.taken, Taken("gauge-start", measure, hold.gauges[draft.gauge]))
    lead = context.talk.value.format(value=context.spoken(measure, GAUGE))
    if draft.gauge + 1 < len(hold.gauges):
        return understood(with_draft(state, Stage.GAUGE, taken=taken, gauge=draft.gauge + 1), lead)
    return understood(with_draft(state, Stage.BEGIN, taken=taken, gauge=0), lead)


def begin(context: Context, state: State, event: Heard) -> Turn:
    """The time runs from the onset of this word."""
    return understood(with_draft(state, Stage.QUIET, stamp=onset(event), cues=0))


def tick(context: Context, state: State) -> Turn:
    """Time has passed in the quiet of a hold: the cue that is due, and after the last the end reading."""
    hold, draft = _hold(context, state), draft_of(state)
    if draft.stamp is None:
        raise AssertionError("the hold has begun")
    due = [name for at, name in marks(hold) if at <= state.at - draft.stamp + float(STAMP)]
    fresh = due[draft.cues :]
    if "end" in due:
        return Turn(with_draft(state, Stage.END, gauge=0), cues=("end",))
    cues: tuple[CueName, ...] = ("half" if fresh[-1] == "half" else "ten",) if fresh else ()
    return listen_on(with_draft(state, Stage.QUIET, cues=len(due)), *cues)


def stopped(context: Context, state: State, event: Heard) -> Turn:
    """Broken off. A hold says how far it came."""
    draft, answer = draft_of(state), context.current(state).item.answer
    if state.stage is Stage.QUIET and isinstance(answer, Hold) and draft.stamp is not None:
        passed = int(state.at - draft.stamp)
        lead = context.talk.hold_stopped.format(seconds=passed, needed=answer.seconds)
        return enter(context, again(state), draft.step, lead)
    return restart(context, state)


def end_reading(context: Context, state: State, event: Heard) -> Turn:
    """The end reading of one gauge; after the last the worst rate is judged."""
    hold, draft = _hold(context, state), draft_of(state)
    measure, refusal = _timed_number(context, state, event)
    if refusal:
        return ask(again(state), refusal)
    name = hold.gauges[draft.gauge]
    start = next(t.value for t in draft.taken if t.quantity == "gauge-start" and t.name == name)
    if measure.value > start.value:
        sentence = context.talk.hold_rose.format(value=context.spoken(start, GAUGE))
        return ask(again(state), sentence)
    if draft.stamp is None:
        raise AssertionError("the hold has begun")
    passed = seconds(onset(event) - draft.stamp)
    rate = leak_rate(start, measure, passed.value)
    taken = (
        *draft.taken,
        Taken("gauge-end", measure, name),
        Taken("hold-time", passed, name),
        Taken(hold.quantity, rate, name if len(hold.gauges) > 1 else ""),
    )
    if draft.gauge + 1 < len(hold.gauges):
        return understood(with_draft(state, Stage.END, taken=taken, gauge=draft.gauge + 1))
    worst = max((t.value for t in taken if t.quantity == hold.quantity), key=lambda m: m.value)
    return _result(context, with_draft(state, Stage.END, taken=taken), worst)


# --- climb -------------------------------------------------------------------------------------------------------


def first_mark(context: Context, state: State, event: Heard) -> Turn:
    """The time runs from the onset of this word."""
    return understood(with_draft(state, Stage.SECOND, stamp=onset(event)))


def second_mark(context: Context, state: State, event: Heard) -> Turn:
    """The time between the two marks is the result."""
    draft, answer = draft_of(state), context.current(state).item.answer
    if draft.stamp is None or not isinstance(answer, Climb):
        raise AssertionError("a climb has begun")
    passed = seconds(max(onset(event) - draft.stamp, 0.0))
    taken = (*draft.taken, Taken(answer.quantity, passed))
    return _result(context, with_draft(state, Stage.SECOND, taken=taken), passed)


# --- call --------------------------------------------------------------------------------------------------------


def called(context: Context, state: State, event: Heard) -> Turn:
    """ "Now": it happened; the number is asked for."""
    return understood(with_draft(state, Stage.CALLED, stamp=onset(event)))


def called_number(context: Context, state: State, event: Heard) -> Turn:
    """The number is the result."""
    draft, answer = draft_of(state), context.current(state).item.answer
    if not isinstance(answer, Call):
        raise AssertionError("a call is being watched for")
    measure, refusal = _timed_number(context, state, event)
    if refusal:
        return ask(again(replace(state, stage=Stage.CALLED)), refusal)
    taken = (*draft.taken, Taken(answer.quantity, measure))
    return _result(context, with_draft(state, state.stage, taken=taken), measure)


# --- result ------------------------------------------------------------------------------------------------------


def _result(context: Context, state: State, measure: Measure) -> Turn:
    """Read the result back; one beyond its limit is confirmed aloud first."""
    step, answer = context.current(state), context.current(state).item.answer
    if not isinstance(answer, Hold | Climb | Call):
        raise AssertionError("a timed check has a result")
    beyond = context.worst(step, answer.quantity, measure)
    if beyond is not None:
        return understood(with_draft(state, Stage.CONFIRM, number=measure))
    talk = {Hold: context.talk.hold_result, Climb: context.talk.climb_result}.get(type(answer), context.talk.value)
    lead = talk.format(value=context.spoken(measure, answer.quantity))
    return store(context, with_draft(state, state.stage, outcome="reading"), lead)


def confirmed(context: Context, state: State, event: Heard) -> Turn:
    """The result beyond its limit stands."""
    return store(context, with_draft(state, Stage.CONFIRM, outcome="reading", number=None))


def not_confirmed(context: Context, state: State, event: Heard) -> Turn:
    """It is taken again from the top: the moment cannot be had back."""
    return restart(context, state)


def is_timed(context: Context, state: State) -> bool:
    return state.draft is not None and first_stage(context.current(state)) is not Stage.ASK
