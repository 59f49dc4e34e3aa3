"""What was denied to "did you say ...?" is not offered again; and no denial makes good of a defect."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from tests.promises.test_loop import Scene
from tests.walk.talkative import Talk, context
from voice.hear.port import Hearing
from voice.measure import Measure
from voice.understand.meaning import Defect, Meaning, No, Number, Ok
from voice.understand.question import Phrase
from voice.walk.event import Doubted, Heard, Started
from voice.walk.state import Aside, Stage


def inches(count: int) -> Number:
    return Number(Measure(Fraction(count, 32), "in"))


FIVE, NINE = inches(5), inches(9)


@pytest.fixture
def tread() -> Talk:
    return Talk(context(only=("tire-tread", "hoses")))


@pytest.fixture
def hoses() -> Talk:
    return Talk(context(only=("hoses", "belts")))


def guess(talk: Talk, meaning: Meaning, words: str) -> str:
    talk.clock += 2
    talk.send(Doubted(talk.clock, meaning, words, onset=talk.clock))
    return talk.heard


def at_the_tread(talk: Talk) -> Talk:
    while not talk.current.startswith("tire-tread"):
        talk.say("okay")
    return talk


def test_a_denied_number_is_not_offered_again(tread: Talk) -> None:
    at_the_tread(tread)
    assert guess(tread, NINE, "nine") == "Did you say nine?"
    assert "Not nine." in tread.say("no")
    for _ in range(3):
        assert "Did you say" not in guess(tread, NINE, "nine")
        assert tread.state.aside is None
    assert guess(tread, FIVE, "five") == "Did you say five?"


def test_a_denied_number_that_is_heard_surely_is_asked_back_once_more_and_never_taken_at_once(tread: Talk) -> None:
    at_the_tread(tread)
    guess(tread, NINE, "nine")
    tread.say("no")
    step = tread.current
    assert tread.mean(NINE).startswith("Did you say")
    assert step not in tread.state.answers
    tread.say("no")
    assert "Did you say" not in tread.mean(NINE)
    assert step not in tread.state.answers


def test_who_said_no_by_mistake_can_still_say_it(tread: Talk) -> None:
    at_the_tread(tread)
    guess(tread, NINE, "nine")
    tread.say("no")
    step = tread.current
    tread.mean(NINE)
    tread.say("yes")
    assert tread.state.answers[step].taken[0].value == NINE.value


def test_a_reading_refused_at_its_limit_can_be_read_again(tread: Talk) -> None:
    at_the_tread(tread)
    step = tread.current
    for answer in ("no", "yes"):
        assert "limit" in tread.mean(inches(2))
        assert tread.state.stage is Stage.CONFIRM
        tread.say(answer)
    assert tread.state.answers[step].taken[0].value == inches(2).value


def test_it_may_be_offered_again_once_the_question_is_begun_anew(tread: Talk) -> None:
    at_the_tread(tread)
    guess(tread, NINE, "nine")
    tread.say("no", "go back")
    at_the_tread(tread)
    assert guess(tread, NINE, "nine") == "Did you say nine?"


def test_a_denied_defect_is_taken_when_it_is_heard_surely(hoses: Talk) -> None:
    guess(hoses, Defect("leaking"), "leaking")
    hoses.say("no")
    hoses.say("leaking")
    while hoses.current == "hoses":
        hoses.say("no" if hoses.state.stage is Stage.MORE else "skip")
    assert [found.defect for found in hoses.state.answers["hoses"].defects] == ["leaking"]


def test_a_denied_defect_that_seems_to_be_heard_again_stands_against_an_okay(hoses: Talk) -> None:
    guess(hoses, Defect("leaking"), "leaking")
    hoses.say("no")
    assert "Did you say" not in guess(hoses, Defect("leaking"), "leaking")
    assert hoses.say("okay") == "Nothing wrong? Or leaking?"
    assert "hoses" not in hoses.state.answers


def test_a_denied_okay_is_not_taken_at_once(hoses: Talk) -> None:
    guess(hoses, Ok(), "okay")
    hoses.say("no")
    assert hoses.say("okay") == "Did you say okay?"
    assert "hoses" not in hoses.state.answers


# --- the next best guess -----------------------------------------------------------------------------------------


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[Scene]:
    made = Scene(tmp_path, "tire-tread")
    yield made
    made.lock.release()


def unsure(*meanings: Meaning, outcome: str = "unsure") -> Hearing:
    first, *others = (Phrase(f"guess {number}", meaning) for number, meaning in enumerate(meanings))
    return Hearing(outcome, first.meaning, first.text, 0.6, alternatives=tuple(others))  # type: ignore[arg-type]


NO = Hearing("heard", No(), "no", 0.99)


def test_the_next_best_guess_is_offered_instead(scene: Scene) -> None:
    scene.run(unsure(NINE, FIVE), NO, unsure(NINE, FIVE), NO, unsure(NINE, FIVE))
    asked = [line for line in scene.log if line.startswith("Did you say")]
    assert asked == ["Did you say guess 0?", "Did you say guess 1?"]
    assert not scene.loop.state.answers


def test_a_worse_guess_is_never_taken_at_once(scene: Scene) -> None:
    sure = unsure(NINE, FIVE, outcome="heard")
    scene.run(unsure(NINE), NO, sure, NO, sure)
    assert [event.meaning for event in scene.events if isinstance(event, Doubted)] == [NINE, FIVE]
    assert scene.loop.state.aside is Aside.DOUBT or scene.loop.state.doubted == FIVE
    assert not scene.loop.state.answers


def test_a_denied_defect_gives_way_to_no_okay(tmp_path: Path) -> None:
    made = Scene(tmp_path, "hoses")
    leaking = Defect("leaking")
    made.run(unsure(leaking, Ok()), NO, unsure(leaking, Ok(), Defect("frayed")), NO, unsure(leaking, Ok()))
    heard = [event.meaning for event in made.events if isinstance(event, Doubted | Heard)]
    assert heard == [leaking, No(), Defect("frayed"), No(), leaking]
    assert made.loop.state.reported, "it stands against an okay"
    made.lock.release()
    assert made.events[0] == Started(0.0)


def test_a_denied_defect_stands_against_an_okay_though_another_was_offered_in_its_place(tmp_path: Path) -> None:
    made = Scene(tmp_path, "hoses")
    leaking, frayed = Defect("leaking"), Defect("frayed")
    okay = Hearing("heard", Ok(), "okay", 0.99)
    made.run(unsure(leaking), NO, unsure(leaking, frayed), NO, okay)
    assert [event.meaning for event in made.events if isinstance(event, Doubted)] == [leaking, frayed]
    assert made.loop.state.stage is Stage.TAKE_BACK
    assert "hoses" not in made.loop.state.answers
    made.lock.release()
