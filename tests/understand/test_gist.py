"""What a free transcript is about: always asked back, and a defect before anything better."""

from __future__ import annotations

import pytest

from tests.walk.talkative import Talk, context
from voice.understand.gist import gist
from voice.understand.meaning import Command, Defect, Meaning, Ok, Part

FEW = ("hoses", "headlights", "fire-extinguisher")


def at(item: str) -> Talk:
    return Talk(context(only=(item,)))


def found(text: str, item: str = "hoses") -> tuple[Meaning, str] | None:
    talk = at(item)
    return gist(text, talk.question, talk.context.book.lexicon)


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("It's leaking.", Defect("leaking")),
        ("A clamp is loose, I think", Defect("loose")),
        ("They look good", Ok()),
        ("Could you please say again", Command("repeat")),
        ("Perfect.", Ok()),
        ("Good, but one is leaking", Defect("leaking")),
    ],
)
def test_an_answer_is_found_among_other_words(text: str, meaning: Meaning) -> None:
    known = found(text)
    assert known is not None
    assert known[0] == meaning


def test_no_leaks_and_no_leaking_sound_the_same_so_it_is_asked_in_other_words() -> None:
    assert found("no leaks") == (Ok(), "nothing wrong")
    assert found("No leaking") == (Ok(), "nothing wrong")
    assert found("No, leaking.") == (Defect("leaking"), "leaking")
    assert found("no it's leaking") == (Defect("leaking"), "leaking")


@pytest.mark.parametrize(
    "text",
    ["not sure it is good", "nearly good", "it was good", "full of bugs", "I wouldn't say okay", "could be better"],
)
def test_good_is_not_looked_for_where_something_turns_it_round(text: str) -> None:
    known = found(text)
    assert known is None or known[0] != Ok()


def test_an_opposite_names_its_defect_and_else_it_is_asked_which() -> None:
    assert found("not tight") is not None
    assert at("hoses").meaning("not dry") == Defect("leaking")
    assert at("hoses").meaning("not tight") == Defect("loose")
    assert found("not rising") == (Defect(), "not rising")
    assert at("headlights").meaning("not working") == Defect("lamp-out")


def test_what_the_vehicle_must_have_is_missing_and_not_just_not_fitted() -> None:
    assert found("don't have one", "fire-extinguisher") == (Defect("missing"), "missing")


def test_long_speech_is_no_answer() -> None:
    assert found("so I told him the hose was leaking and he said okay then") is None


def test_a_defect_that_is_not_on_the_items_list_is_asked_back_as_a_defect_and_one_that_is_counts_before_it() -> None:
    for text in ("the latch is missing", "somebody kicked a hole in it", "it's dented"):
        assert found(text) == (Defect(), "defect")
    assert found("bolt missing, and it's leaking") == (Defect("leaking"), "leaking")
    assert found("not dented") == (Ok(), "nothing wrong")


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("Everything except the compressor.", Part("air-compressor")),
        ("all good but the alternator", Part("alternator")),
        ("The alternator is okay.", Ok()),
    ],
)
def test_of_a_look_the_part_that_is_excepted_is_found(text: str, meaning: Meaning) -> None:
    talk = Talk(context(only=("alternator", "power-steering-hoses", "air-compressor")), depth="by-place")
    known = gist(text, talk.question, talk.context.book.lexicon)
    assert known is not None
    assert known[0] == meaning
