"""Every stage with every meaning that its question offers, over every item of the shipped routes: all is handled.

The states are found by walking: from each item's first question by every kind of answer, doubted and sure, until no new
state turns up.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache

import pytest

from tests.walk.talkative import SAMPLES, context
from voice.record.open_defects import OpenDefect
from voice.record.review import with_review
from voice.understand.meaning import Chosen, Command, Defect, Meaning, Words
from voice.understand.question import Question
from voice.walk.context import Context
from voice.walk.event import Close, Doubted, Effect, Event, Heard, Listen, Lost, Silence, Started, Unclear
from voice.walk.machine import begin, step
from voice.walk.state import Aside, Stage, State
from voice.walk.step import enter_look

MOST = 40_000  # steps of the search; twice what it needs


def question(effects: tuple[Effect, ...]) -> Question | None:
    return next((effect.question for effect in effects if isinstance(effect, Listen)), None)


def key(known: Context, state: State) -> tuple[object, ...]:
    """What tells apart the places in a conversation about one item."""
    draft = state.draft
    if draft is None or state.aside not in (None, Aside.DOUBT):
        return (state.stage, state.aside)  # an interruption is the same whatever the item
    return (
        known.steps[draft.step].item.id, state.stage, state.aside, draft.outcome, draft.defect, draft.follow,
        draft.line, draft.gauge, draft.cues, len(draft.defects) > 0, len(draft.group) > 0,
        None if state.doubted is None else state.doubted.kind,
        state.stage in (Stage.ASK, Stage.LOOK) and len(state.unheard) > 0,
    )  # fmt: skip


def choices(asked: Question) -> list[Meaning]:
    """The first and the last meaning of each kind; all commands, and all defects where it is asked which."""
    whole = ("command", "defect") if asked.asks == "defect" else ("command",)
    kinds: dict[str, list[Meaning]] = {}
    for meaning in asked.meanings.values():
        kinds.setdefault(meaning.kind, []).append(meaning)
    wanted = [m for kind, each in kinds.items() for m in (each if kind in whole else (each[0], each[-1]))]
    return list(dict.fromkeys([*wanted, Words("gravel")] if asked.free else wanted))


class Search:
    """All that can be reached on one vehicle.

    steps: how often an event was tried. offered: what could be heard, by stage and interruption. refused: what was
    offered and then could not be taken. states: all that were reached and listen.
    """

    def __init__(self, kind: str) -> None:
        base = context(kind)
        carried = OpenDefect("horn#weak", "Horn: too weak", datetime(2026, 3, 2, tzinfo=UTC), "r1", "repair", 1, "r1")
        self.known = replace(base, plan=with_review(base.plan, [carried]))
        self.steps = 0
        self.offered: dict[str, set[type]] = {}
        self.refused: list[str] = []
        self.states: list[State] = []
        self._seen: set[tuple[object, ...]] = set()
        self._items: set[str] = set()
        self._doubts: set[tuple[str, str]] = set()
        self._commands: set[tuple[str, Meaning]] = set()

    def run(self) -> None:
        state, _ = step(self.known, begin("normal"), Started(0.0))
        for name in self.known.order:
            item = self.known.steps[name].item
            if item.id not in self._items:
                self._items.add(item.id)
                self._from(state, Heard(1.0, Command("change", name), ""), item.id)
        for look in self.known.plan.looks:
            kind = look.id.partition("@")[0]
            if kind not in self._items:
                self._items.add(kind)
                asked = enter_look(self.known, state, look.steps).state
                self._from(asked, Heard(1.0, Command("repeat"), ""), self._item(asked))
        self._from(state, Heard(1.0, Command("finish"), ""), "")

    def _from(self, state: State, event: Event, item: str) -> None:
        pending: list[tuple[State, Event]] = [(state, event)]
        while pending:
            state, event = pending.pop()
            self.steps += 1
            assert self.steps < MOST
            try:
                after, effects = step(self.known, state, event)
            except Exception as error:
                self.refused.append(f"{state.stage} {state.aside} {event}: {error!r}")
                continue
            if any(isinstance(effect, Close) for effect in effects):
                continue
            here = key(self.known, after)
            if here in self._seen or (after.draft is not None and self._item(after) != item):
                continue
            self._seen.add(here)
            if question(effects) is not None:
                self.states.append(after)
            pending += [(after, follow) for follow in self._events(after, effects)]

    def _item(self, state: State) -> str:
        return "" if state.draft is None else self.known.steps[state.draft.step].item.id

    def _events(self, state: State, effects: tuple[Effect, ...]) -> Iterator[Event]:
        asked, at = question(effects), state.at + 1
        if asked is None:
            return
        place = str(state.aside or state.stage)
        self.offered.setdefault(place, set()).update(type(meaning) for meaning in asked.meanings.values())
        for meaning in choices(asked):
            if isinstance(meaning, Command):  # they are the same whatever the item
                if (place, meaning) in self._commands:
                    continue
                self._commands.add((place, meaning))
            yield Heard(at, meaning, "words", onset=at)
            if not isinstance(meaning, Words) and (place, meaning.kind) not in self._doubts:
                self._doubts.add((place, meaning.kind))
                yield Doubted(at, meaning, "words", onset=at)
        yield Silence(at + asked.patience)
        if (asked.asks, "unclear") not in self._doubts:
            self._doubts.add((asked.asks, "unclear"))
            yield Unclear(at)
        yield Lost(at)


@cache
def searched(kind: str) -> Search:
    search = Search(kind)
    search.run()
    return search


@pytest.mark.parametrize("kind", SAMPLES)
def test_whatever_a_question_offers_is_handled(kind: str) -> None:
    search = searched(kind)
    assert len(search._items) > 50
    assert search.refused == []


def test_a_defect_can_be_reported_wherever_a_step_is_asked() -> None:
    """At a gauge, at a mark, in the quiet minute; not only where it is asked for."""
    offered = searched("tractor-semitrailer").offered
    for place in (
        "ask",
        "which",
        "more",
        "ready",
        "gauge",
        "begin",
        "quiet",
        "end",
        "first",
        "second",
        "watch",
        "called",
    ):
        assert Defect in offered[place], place


def test_the_search_saw_every_kind_of_question() -> None:
    offered = {place for kind in SAMPLES for place in searched(kind).offered}
    assert {"doubt", "paused", "note", "change", "finishing", "take-back", "confirm", "name"} <= offered
    assert Chosen in searched("bus").offered["follow"]
