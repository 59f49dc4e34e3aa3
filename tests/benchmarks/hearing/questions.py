"""Every distinct question that a walk of the shipped routes can ask, as the walk's own table makes it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

from tests.walk.talkative import SAMPLES, context
from voice.author.say import states
from voice.understand.question import Phrase, Question
from voice.walk import table
from voice.walk.context import Context
from voice.walk.machine import begin
from voice.walk.state import Aside, Stage, State
from voice.walk.step import enter_look


@cache
def shipped() -> dict[str, Question]:
    """Questions by a readable name, which begins with what they ask for; those with the same phrases are told once."""
    made: dict[str, Question] = {}
    seen: set[frozenset[Phrase]] = set()
    for kind in SAMPLES:
        known = context(kind)
        for name, state in _states(known):
            question = table.row(known, state).question(known, state)
            key = frozenset(question.phrases)
            if key not in seen and not question.free:
                seen.add(key)
                made.setdefault(f"{question.asks} {name}", question)
    return made


def _states(known: Context) -> Iterator[tuple[str, State]]:
    """A state for each question, and a name for it: of the item, or of the look's first part."""
    items: set[str] = set()
    for step in known.plan.steps:
        if step.item.id not in items:
            items.add(step.item.id)
            for state in states(known, step):
                yield f"{step.item.id}, {table.name_of(known, state)}", state
    looks: set[str] = set()
    for look in known.plan.looks:
        kind = look.id.partition("@")[0]
        if kind not in looks:
            looks.add(kind)
            asked = enter_look(known, begin("normal", "by-place"), look.steps).state
            yield kind, asked
            yield kind, replace(asked, stage=Stage.PART)
    yield "paused", replace(begin("normal"), aside=Aside.PAUSED)
    yield "finishing", replace(begin("normal"), aside=Aside.FINISHING)
