"""Journals of the version before still give what they gave: its rules hold for what was heard under them.

`earlier/` was written by that version: random drivers, with doubts, losses and resumes, and the answers it kept; the
plan and the limits are of then, as a session keeps its own.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pydantic import TypeAdapter

from tests.walk.talkative import Talk, context, replayed
from voice.judge import load_limits
from voice.route.model import Plan
from voice.understand.meaning import Defect
from voice.walk.context import Context
from voice.walk.event import Event, Resumed, StoredEvent
from voice.walk.state import Aside, Stage, State

STORED: TypeAdapter[Event] = TypeAdapter(StoredEvent)
FOLDER = Path(__file__).parent / "earlier"
WALKS: list[dict[str, Any]] = [json.loads(line) for line in (FOLDER / "journals.jsonl").read_text().splitlines()]


def known() -> Context:
    plan = Plan.model_validate_json((FOLDER / "plan.json").read_text())
    return replace(context(), plan=plan, limits=load_limits([FOLDER / "us-federal.yaml"]))


def summary(state: State) -> tuple[dict[str, list[Any]], list[str | None]]:
    answers = {
        step: [a.kind, [d.defect for d in a.defects], [str(t.value.value) for t in a.taken], a.choice, a.corrected]
        for step, a in state.answers.items()
    }
    at = [
        state.stage.value,
        state.aside.value if state.aside else None,
        state.draft.step if state.draft else None,
        state.signature.name if state.signature else None,
    ]
    return answers, at


@pytest.mark.parametrize("number", range(len(WALKS)))
def test_an_earlier_journal_gives_the_same_answers(number: int) -> None:
    walk = WALKS[number]
    events = [STORED.validate_python(event) for event in walk["events"]]
    assert summary(replayed(known(), events)) == (walk["answers"], walk["at"])
    assert sum(event.kind == "doubted" for event in events) > 5


def test_under_the_second_rules_yes_and_correct_were_no_answer_and_a_note_was_kept_at_once() -> None:
    walk = context(only=("hoses", "radiator"))
    heard = [
        {"kind": "yes"}, {"kind": "correct"}, {"kind": "command", "name": "note"}, {"kind": "words", "text": "gravel"},
        {"kind": "defect", "id": "leaking"}, {"kind": "ok"},
    ]  # fmt: skip
    lines = [{"kind": "heard", "at": 1.0 + n, "meaning": meaning, "words": ""} for n, meaning in enumerate(heard)]
    events = [STORED.validate_python(event) for event in ({"kind": "started", "at": 0.0, "rules": 2}, *lines)]
    for upto, (answers, notes, asked_again) in {3: (0, 0, 2), 5: (0, 1, 2), 7: (1, 1, 0)}.items():
        state = replayed(walk, events[:upto])
        assert state.aside is None
        assert (len(state.answers), len(state.notes)) == (answers, notes)
        assert state.draft is not None
        assert state.draft.asked_again == asked_again
    assert state.answers["hoses"].kind == "defect"
    assert state.draft is not None
    assert state.draft.step == "radiator"


def test_what_is_heard_after_a_resume_is_taken_under_the_present_rules() -> None:
    """A doubt that the earlier version left open is asked again, and an okay does not end it."""
    walk = context(only=("hoses",))
    doubted = {"kind": "doubted", "at": 1.0, "meaning": {"kind": "defect", "id": "leaking"}, "words": "leaking"}
    talk = Talk(walk)
    events = [STORED.validate_python(event) for event in ({"kind": "started", "at": 0.0}, doubted)]
    talk.state = replayed(walk, events)
    assert talk.state.rules == 1
    talk.send(Resumed(2.0))
    assert talk.state.aside is Aside.DOUBT
    assert talk.state.doubted == Defect("leaking")
    talk.say("okay")
    assert talk.state.stage is Stage.TAKE_BACK
    assert not talk.state.answers
