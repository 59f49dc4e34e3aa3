"""An answer keeps what was said of its step before and is not said any more: nobody has to find it in the journal."""

from __future__ import annotations

from dataclasses import replace

from tests.walk.talkative import Talk, context
from voice.walk.event import Doubted
from voice.walk.state import Stage


def walk(only: tuple[str, ...] = ("hoses", "radiator")) -> Talk:
    return Talk(context(only=only))


def defects(talk: Talk, *names: str) -> None:
    for name in names:
        talk.say(name)
        while talk.state.stage is Stage.FOLLOW:
            talk.say("skip")
    talk.say("no")


def test_a_recorded_defect_that_gives_way_to_an_okay() -> None:
    talk = walk()
    defects(talk, "leaking")
    talk.say("go back", "okay", "nothing wrong")
    answer = talk.state.answers["hoses"]
    assert (answer.kind, answer.taken_back) == ("ok", ("leaking",))


def test_a_doubted_defect_that_gives_way_to_an_okay() -> None:
    talk = walk()
    leak = next(phrase.meaning for phrase in talk.question.phrases if phrase.text == "leaking")
    talk.send(Doubted(1.0, leak, "leaking"))
    talk.say("okay")
    assert "hoses" not in talk.state.answers
    talk.say("nothing wrong")
    answer = talk.state.answers["hoses"]
    assert (answer.kind, answer.taken_back) == ("ok", ("leaking",))


def test_one_that_is_kept_beside_another_was_not_taken_back() -> None:
    talk = walk()
    defects(talk, "leaking")
    talk.say("go back")
    defects(talk, "cracked", "leaking")
    assert talk.state.answers["hoses"].taken_back == ()


def test_it_stays_with_the_answer_through_further_changes() -> None:
    talk = walk()
    defects(talk, "leaking")
    talk.say("go back", "okay", "nothing wrong", "go back", "okay")
    answer = talk.state.answers["hoses"]
    assert (answer.corrected, answer.taken_back) == (2, ("leaking",))


def test_a_reading_beyond_its_limit_that_was_read_again() -> None:
    talk = walk(only=("tire-tread",))
    talk.say("two thirty seconds", "yes", "go back", "nine thirty seconds")
    answer = talk.state.answers["tire-tread@left-1"]
    assert [str(each.value.value) for each in answer.taken] == ["9/32"]
    assert answer.taken_back == ("two thirty seconds of an inch",)


def test_a_reading_within_its_limit_was_only_corrected() -> None:
    talk = walk(only=("tire-tread",))
    talk.say("nine thirty seconds", "go back", "eight thirty seconds")
    assert talk.state.answers["tire-tread@left-1"].taken_back == ()


def test_a_journal_of_before_gives_what_it_gave() -> None:
    talk = walk()
    talk.state = replace(talk.state, rules=6)
    defects(talk, "leaking")
    talk.say("go back", "okay", "nothing wrong")
    assert talk.state.answers["hoses"].taken_back == ()
