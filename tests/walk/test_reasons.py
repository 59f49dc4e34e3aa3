"""Why an item does not apply: a reason that names one of its defects may tell of that defect."""

from __future__ import annotations

import pytest

from tests.walk.talkative import Talk, context
from voice.understand.meaning import Words


@pytest.fixture
def talk() -> Talk:
    talk = Talk(context(only=("hoses", "radiator")))
    talk.say("not applicable")
    return talk


def test_a_reason_that_names_a_defect_is_asked_about(talk: Talk) -> None:
    talk.mean(Words("The lower one is leaking."))
    assert talk.heard == "Not applicable? Or leaking?"
    talk.say("leaking", "no")
    answer = talk.state.answers["hoses"]
    assert (answer.kind, [each.defect for each in answer.defects]) == ("defect", ["leaking"])


def test_it_may_be_meant_all_the_same_and_the_record_tells(talk: Talk) -> None:
    talk.mean(Words("taken off, they were leaking"))
    talk.say("not applicable")
    answer = talk.state.answers["hoses"]
    assert (answer.kind, answer.reason) == ("not-applicable", "taken off, they were leaking")
    assert answer.taken_back == ("leaking",)


def test_any_other_reason_is_kept_at_once(talk: Talk) -> None:
    talk.mean(Words("electric drive, leakproof"))
    assert talk.state.answers["hoses"].kind == "not-applicable"
