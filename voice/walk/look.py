"""Answers to a look, the one question of several parts: all are okay, or one of them has something."""

from __future__ import annotations

from dataclasses import replace

from voice.understand.meaning import Defect, Part
from voice.walk import item, reports
from voice.walk.context import Context
from voice.walk.event import Heard
from voice.walk.state import Draft, Stage, State
from voice.walk.step import draft_of, enter, store, with_draft
from voice.walk.turn import Turn, understood


def ok(context: Context, state: State, event: Heard) -> Turn:
    """Nothing is wrong with any part that was named: each is kept, marked as answered together."""
    return store(context, with_draft(state, Stage.LOOK, outcome="ok", pending=None))


def part(context: Context, state: State, event: Heard) -> Turn:
    """Something is wrong with that part: it alone is opened, again if it was before, and the rest is asked for
    afterwards."""
    if not isinstance(event.meaning, Part):
        raise AssertionError("a part was named")
    wrong, named = reports.bad(context, state, event.meaning), reports.of_part(state, event.meaning)
    again = named.step not in draft_of(state).group
    state = reports.attributed(state)
    if again and not (wrong and named.defect):
        return enter(context, state, named.step, context.talk.changing)
    state = _with_another(_opened(state, named.step), named) if again else _opened(state, named.step)
    if wrong:
        known = named.defect in context.current(state).item.defects
        turn = item.defect(context, state, replace(event, meaning=Defect(named.defect if known else None)))
        name = () if known else (context.part_name(named.step).capitalize() + ".",)
        return replace(turn, lead=(*name, *turn.lead))
    return item.not_applicable(context, state, event)


def _opened(state: State, step: str) -> State:
    before = draft_of(state)
    return replace(state, stage=Stage.ASK, draft=Draft(step, before.asked, before.events, against=before.against))


def _with_another(state: State, named: Part) -> State:
    """What was found of the part before stays beside what was named now."""
    old = state.answers[named.step]
    kept = tuple(found for found in old.defects if found.defect != named.defect)
    return with_draft(state, state.stage, defects=kept, taken=old.taken if kept else ())


def which(context: Context, state: State, event: Heard) -> Turn:
    """Of one of the parts, but not said of which: that is asked."""
    return understood(with_draft(state, Stage.PART, pending=event.meaning))
