"""Numbers in free speech. Oracle: num2words writes the numbers; Fraction does the arithmetic."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from voice.rehearse.listen.figures import SaidFigure
from voice.rehearse.listen.words import TokenReader

READER = TokenReader.shipped()


def figures(text: str) -> list[tuple[Fraction, str | None]]:
    return [(t.figures[0].value, t.figures[0].unit) for t in READER.tokens(text) if t.role == "figure"]


@given(st.integers(0, 999))
def test_whole_numbers_as_num2words_writes_them(number: int) -> None:
    assert figures(f"it should be {num2words(number)} psi") == [(Fraction(number), "psi")]


@given(st.integers(1, 31))
def test_thirty_seconds_however_they_are_written(number: int) -> None:
    wanted = [(Fraction(number, 32), "in")]
    for text in (
        f"tread {num2words(number)} thirty seconds",
        f"tread {num2words(number)} thirty-seconds of an inch",
        f"tread {number}/32nds",
        f"tread {number}/32",
        f"tread {number} 30 seconds",
        f"tread {number} over 32",
        f"tread {num2words(number)} over thirty two",
    ):
        assert figures(text) == wanted, text


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("one half to three quarters of an inch", [("1/2", "in"), ("3/4", "in")]),
        ("1/2-3/4 inch", [("1/2", "in"), ("3/4", "in")]),
        ("between one hundred twenty and 140 psi", [("120", "psi"), ("140", "psi")]),
        ("one twenty p s i", [("120", "psi")]),
        ("one oh five pounds", [("105", "psi")]),
        ("one hundred and five P. S. I.", [("105", "psi")]),
        ("fifty-five Bsi", [("55", "psi")]),
        ("about an inch", [("1", "in")]),
        ("play at the center of the inch", []),
        ("one and three quarter inches", [("7/4", "in")]),
        ("1½ inches", [("3/2", "in")]),
        ("two and a half inches", [("5/2", "in")]),
        ("point five inches", [("1/2", "in")]),
        ("two point five inches", [("5/2", "in")]),
        ("ten degrees or two inches on a twenty inch wheel", [("10", "deg"), ("2", "in"), ("20", "in")]),
        ("432nds", [("1/8", "in")]),
        ("230 seconds", [("1/16", "in")]),
        # what an answer to a question may mean and free speech does not
        ("axle one four thirty seconds", [("1", "in"), ("1/8", "in")]),
        ("one two three", [("1", None), ("2", None), ("3", None)]),
        ("ten twelve", [("10", None), ("12", None)]),
        ("a thirty second hold", [("30", "s")]),
        ("one hundred thirty seconds", [("130", "s")]),
        ("the two halves of the fifth wheel", [("2", None)]),
        # what the number grammar knows beyond what was read here before
        ("1 3/4 inches", [("7/4", "in")]),
        ("a sixteenth of an inch", [("1/16", "in")]),
        ("five and a fourth inches", [("21/4", "in")]),
        ("eight sixteenths", [("1/2", "in")]),
    ],
)
def test_spoken_forms(text: str, wanted: list[tuple[str, str | None]]) -> None:
    assert figures(text) == [(Fraction(value), unit) for value, unit in wanted]


def test_what_can_be_two_things_gives_both() -> None:
    (token,) = [t for t in READER.tokens("hold it for thirty seconds") if t.role == "figure"]
    assert token.figures == (SaidFigure(Fraction(4, 32), "in"), SaidFigure(Fraction(30), "s"))


def test_four_and_thirty_seconds_never_become_four_hundred_thirty() -> None:
    assert figures("four thirty seconds") == [(Fraction(1, 8), "in")]
    assert figures("four thirty psi") == [(Fraction(430), "psi")]


@given(st.text(max_size=80))
def test_any_text_is_read_without_error(text: str) -> None:
    tokens = READER.tokens(text)
    assert all(token.text for token in tokens)
