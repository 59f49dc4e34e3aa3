"""What people say, as listed in said.yaml: how much of it is understood as it was meant, and that none of it is
dangerous.

The list was written from the questions alone, before it was tried on the program. The misses are printed: pytest -s.
"""

from __future__ import annotations

from functools import cache

from tests.understand.said import LATER, Tried, tried

AIM = 0.97
# The second list was never used to add words: 55 % at its first trial, this since answers are found among other words.
REACHED_LATER = 0.72
REACHED = 0.965
AT_ONCE = 0.52  # without being asked back

# What can be meant by an answer that has an item recorded as being in order, or as not being there.
HARMLESS = {"good": "ok", "nothing-wrong": "ok", "done": "done", "not-fitted": "not-applicable"}


@cache
def results() -> tuple[Tried, ...]:
    return tuple(tried())


@cache
def later() -> tuple[Tried, ...]:
    return tuple(tried(LATER))


def test_there_are_hundreds_of_distinct_answers_for_every_form() -> None:
    assert len({(each.form, each.said.lower()) for each in results()}) >= 700
    assert len({each.said.lower() for each in results()}) >= 400


def test_most_of_what_people_say_is_understood_as_it_is_meant() -> None:
    misses = [each for each in results() if not each.right]
    share = 1 - len(misses) / len(results())
    at_once = sum(each.right and not each.asked for each in results()) / len(results())
    print(
        f"understood as meant: {share:.1%} of {len(results())}, aim {AIM:.0%}; without being asked back {at_once:.1%}"
    )
    _show(misses)
    assert share >= REACHED
    assert at_once >= AT_ONCE


def test_a_list_that_no_words_were_added_from() -> None:
    misses = [each for each in later() if not each.right]
    share = 1 - len(misses) / len(later())
    print(f"second list, understood as meant: {share:.1%} of {len(later())}")
    _show(misses)
    assert share >= REACHED_LATER


def _show(misses: list[Tried]) -> None:
    for miss in misses:
        print(f'  {miss.form}, at {miss.at}: "{miss.said}" means {miss.meant}, taken as {", ".join(sorted(miss.got))}')


def test_nothing_is_taken_for_good_that_is_not_meant_so() -> None:
    tried_here = (*results(), *later())
    assert not [each for each in tried_here if each.kept and HARMLESS.get(each.meant) != each.kept]


def test_what_is_wrong_is_not_even_asked_back_as_good() -> None:
    """But for "no leaking", which can be either."""
    asked = [each for each in (*results(), *later()) if each.asked and each.form in ("condition", "what is wrong")]
    assert {each.said for each in asked if "good" in each.got and each.meant != "good"} == {"no leaking"}
