"""A long number as a driver reads it off an odometer."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from voice.measure.cardinal import cardinal, digits
from voice.measure.counter import counted, in_halves


@given(st.integers(1, 9_999_999))
def test_a_number_in_words_numerals_or_digits_is_read(number: int) -> None:
    """The words of another library, num2words, with its hyphens, commas and "and"."""
    assert counted(num2words(number)) == number
    assert counted(cardinal(number)) == number
    assert counted(f"{number:,}") == counted(str(number)) == number
    assert counted(" ".join(str(number))) == number
    assert counted(digits(number)) == number
    if number <= 999_999:
        assert counted(in_halves(number)) == number


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("four twelve three forty five", 412_345),
        ("forty one twenty three forty five", 412_345),
        ("four hundred twelve three forty five", 412_345),
        ("four hundred twelve thousand three forty five", 412_345),
        ("412 thousand 345", 412_345),
        ("142 000", 142_000),
        ("four oh two oh oh five", 402_005),
        ("one million two hundred thousand", 1_200_000),
        ("hello", None),
        ("", None),
        ("four twelve miles", None),
        ("one two three four five six seven eight", None),
    ],
)
def test_the_ways_of_the_trade(said: str, number: int | None) -> None:
    assert counted(said) == number
