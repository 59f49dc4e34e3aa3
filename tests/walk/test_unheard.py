"""Words that were not understood may have told of a defect: no okay after them counts before it was asked back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.promises.test_loop import Scene
from tests.walk.talkative import Talk, context, replayed
from voice.hear.port import Hearing
from voice.journal import folder
from voice.journal.journal import read
from voice.understand.meaning import Correct, Defect, DoneIt, Meaning, Number, Ok
from voice.walk.event import Doubted, Event, Lost, Regained, Resumed, Silence, Started, Unclear
from voice.walk.state import Stage


@pytest.fixture
def talk() -> Talk:
    return Talk(context(only=("hoses", "radiator")))


@pytest.fixture
def look() -> Talk:
    return Talk(context(only=("hoses", "belts", "wiring")), depth="by-place")


def not_understood(talk: Talk, times: int = 1, **changes: bool) -> None:
    for _ in range(times):
        talk.clock += 2
        talk.send(Unclear(talk.clock, onset=talk.clock, **changes))  # type: ignore[arg-type]


@pytest.mark.parametrize("okay", ["okay", "yes", "nothing wrong"])
def test_an_okay_after_words_that_were_not_understood_is_asked_back(talk: Talk, okay: str) -> None:
    not_understood(talk, 2)
    assert talk.say(okay) == "Nothing wrong?"
    assert not talk.state.answers
    talk.say(okay)
    assert talk.state.answers["hoses"].kind == "ok"
    talk.say("okay")
    assert talk.state.answers["radiator"].kind == "ok"  # only of the item whose question it was


def test_noise_and_silence_in_which_nobody_spoke_leave_nothing(talk: Talk) -> None:
    not_understood(talk, noisy=True, spoken=False)
    talk.send(Silence(talk.clock + 6))
    talk.say("okay")
    assert talk.state.answers["hoses"].kind == "ok"


@pytest.mark.parametrize("guess", [Ok(), Correct()])
def test_words_not_understood_while_an_answer_to_nothing_wrong_is_doubted_count_too(talk: Talk, guess: Meaning) -> None:
    not_understood(talk)
    talk.say("okay")
    talk.clock += 2
    talk.send(Doubted(talk.clock, guess, "that's right", onset=talk.clock))
    assert talk.heard == "Did you say that's right?"
    not_understood(talk)
    assert talk.heard == "Nothing wrong, or the defect?"  # not the doubt again, which a yes would end
    assert talk.state.aside is None
    talk.say("okay", "yes")
    assert not talk.state.answers
    talk.say("nothing wrong")
    assert talk.state.answers["hoses"].kind == "ok"


def test_what_is_said_to_nothing_wrong_counts_as_ever(talk: Talk) -> None:
    not_understood(talk)
    talk.say("okay", "leaking")
    assert talk.state.stage is Stage.MORE
    talk.say("no")
    assert [each.defect for each in talk.state.answers["hoses"].defects] == ["leaking"]


def test_a_no_to_nothing_wrong_can_mean_either(talk: Talk) -> None:
    not_understood(talk)
    assert talk.say("okay", "no") == context().talk.nothing_wrong_say
    talk.say("okay", "yes", "looks good")
    assert not talk.state.answers  # after that, an okay is not enough
    talk.say("nothing wrong")
    assert (talk.state.answers["hoses"].kind, talk.state.answers["hoses"].taken_back) == ("ok", ("defect",))


def test_a_no_that_meant_a_defect_is_followed_by_which(talk: Talk) -> None:
    not_understood(talk)
    talk.say("okay", "no", "leaking", "no")
    assert [each.defect for each in talk.state.answers["hoses"].defects] == ["leaking"]


def test_words_not_understood_at_nothing_wrong_leave_a_defect_in_doubt(talk: Talk) -> None:
    """Until an okay to the next question was enough, though the driver had not agreed."""
    not_understood(talk)
    talk.say("okay")
    not_understood(talk)
    talk.say("okay")
    assert not talk.state.answers
    talk.say("go back", "okay")
    assert "hoses" not in talk.state.answers  # it stands through commands
    talk.say("nothing wrong")
    assert talk.state.answers["hoses"].kind == "ok"


def test_an_okay_that_is_only_guessed_at_is_asked_back_once_not_twice(talk: Talk) -> None:
    not_understood(talk)
    talk.send(Doubted(talk.clock + 1, Ok(), "okay"))
    assert talk.heard == "Nothing wrong?"
    talk.send(Doubted(talk.clock + 1, Ok(), "okay"))
    assert talk.heard == "Did you say okay?"
    talk.say("yes")
    assert talk.state.answers["hoses"].kind == "ok"


def test_a_defect_that_was_heard_as_well_is_named(talk: Talk) -> None:
    not_understood(talk)
    talk.send(Doubted(talk.clock + 1, Defect("leaking"), "leaking"))
    assert talk.say("okay") == "Nothing wrong? Or leaking?"
    talk.say("nothing wrong")
    assert talk.state.answers["hoses"].kind == "ok"


def test_words_within_a_doubt_count_too(talk: Talk) -> None:
    talk.send(Doubted(1.0, Defect("leaking"), "leaking"))
    not_understood(talk)
    assert talk.say("no", "okay") == "Nothing wrong?"


def test_a_guess_that_was_denied_was_something_else_and_nobody_knows_what(talk: Talk) -> None:
    talk.clock += 2
    talk.send(Doubted(talk.clock, Defect("cracked"), "cracked", onset=talk.clock))
    talk.say("no")
    assert talk.say("okay") == "Nothing wrong?"
    assert not talk.state.answers


def test_a_reading_says_what_it_found_and_a_done_does_not() -> None:
    talk = Talk(context(only=("hoses", "chocks", "belt-play")))
    seen = set()
    while not talk.closed and talk.state.draft is not None:
        step = talk.current
        not_understood(talk)
        done = [meaning for meaning in talk.question.meanings.values() if isinstance(meaning, Number | DoneIt | Ok)]
        number = next((meaning for meaning in done if isinstance(meaning, Number)), done[0])
        talk.mean(number)
        asked = talk.state.stage is Stage.UNHEARD
        seen.add((talk.context.steps[step].item.answer.kind, asked))
        talk.say("yes") if asked or talk.state.stage is Stage.CONFIRM else None
    assert seen == {("done", True), ("condition", True), ("reading", False)}


BREAKS: dict[str, list[Event]] = {
    "killed": [Resumed(10.0, torn=7)],
    "microphone lost": [Lost(10.0), Regained(11.0)],
}


@pytest.mark.parametrize("name", BREAKS)
@pytest.mark.parametrize("upto", [0, 1])
def test_it_is_kept_over_a_break(talk: Talk, name: str, upto: int) -> None:
    not_understood(talk)
    talk.say(*["okay"] * upto)
    for event in BREAKS[name]:
        talk.send(event)
    talk.say("okay")
    assert (talk.state.stage is Stage.UNHEARD) is (upto == 0)
    assert ("hoses" in talk.state.answers) is (upto == 1)


@pytest.mark.parametrize("away", [("pause", "resume"), ("skip", "go back"), ("repeat",), ("each part",)])
def test_it_is_kept_through_commands(talk: Talk, away: tuple[str, ...]) -> None:
    not_understood(talk)
    talk.say(*away)
    assert talk.current == "hoses"
    assert talk.say("okay").endswith("Nothing wrong?")


def test_an_answer_kept_before_is_asked_again_and_not_left_as_it_was(talk: Talk) -> None:
    talk.say("okay", "go back")
    not_understood(talk)
    talk.say("skip")
    assert "hoses" in talk.context.open_steps(talk.state)


def test_of_a_look_all_parts_are_named(look: Talk) -> None:
    group = look.state.draft.group if look.state.draft else ()
    assert len(group) > 1
    not_understood(look)
    heard = look.say("okay")
    assert all(look.context.part_name(step) in heard for step in group)
    look.say("okay")
    assert {look.state.answers[step].kind for step in group} == {"ok"}


def test_of_a_look_it_stands_against_the_rest_and_against_each_part(look: Talk) -> None:
    group = look.state.draft.group if look.state.draft else ()
    not_understood(look)
    look.say("okay", "hoses leaking", "no")
    assert "the rest" in look.heard
    look.say("each part")
    for _ in group[1:]:
        assert look.say("okay").endswith("Nothing wrong?")
        look.say("yes")
    assert [look.state.answers[step].kind for step in group] == ["defect", *["ok"] * (len(group) - 1)]


def test_under_the_fifth_rules_an_okay_was_taken(talk: Talk) -> None:
    events: list[Event] = [Started(0.0, rules=5), Unclear(1.0, onset=1.0)]
    earlier = Talk(talk.context)
    earlier.state = replayed(talk.context, events)
    earlier.say("okay")
    assert earlier.state.answers["hoses"].kind == "ok"
    then = Talk(talk.context)
    then.state = replayed(talk.context, [*events, Resumed(2.0), Unclear(3.0, onset=3.0)])
    then.clock = 3.0
    then.say("okay")
    assert then.state.stage is Stage.UNHEARD


OKAY = Hearing("heard", Ok(), "okay", 1.0)


@pytest.mark.parametrize(
    ("before", "asked"),
    [
        (Hearing("unclear", words="Somebody parked a piano on top."), True),
        (Hearing("noisy", audio=np.full(1600, 0.1, np.float32)), True),
        (Hearing("noisy"), False),
        (Hearing("silence"), False),
    ],
)
def test_the_loop_tells_speech_from_noise(tmp_path: Path, before: Hearing, asked: bool) -> None:
    made = Scene(tmp_path, "hoses", "radiator")
    made.run(before, OKAY)
    assert (made.loop.state.stage is Stage.UNHEARD) is asked
    assert folder.replay(made.known, read(made.found.journal)) == made.loop.state
