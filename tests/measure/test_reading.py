"""Spoken and written readings. num2words and word2number are the second opinions from outside the project."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words
from word2number import w2n

from voice.measure.cardinal import LARGEST, cardinal, digits, ways
from voice.measure.forms import spoken_forms
from voice.measure.reading import Doubt, Numbers, Reading, parse
from voice.measure.tokens import tokenize
from voice.understand.lexicon import shipped

F = Fraction

TREAD = ("in", F(0), F(1), F(1, 32))
STROKE = ("in", F(0), F(4), F(1, 8))
PRESSURE = ("psi", F(0), F(150), F(1))
SECONDS = ("s", F(0), F(300), F(1))
VOLTS = ("V", F(0), F(30), F(1, 10))
LEAK = ("psi/min", F(-10), F(30), F(1, 2))

Range = tuple[str, F, F, F]

SAID: list[tuple[str, Range, F]] = [
    ("four thirty-seconds", TREAD, F(4, 32)),
    ("four over thirty two", TREAD, F(4, 32)),
    ("4/32nds", TREAD, F(4, 32)),
    ("4 32nds", TREAD, F(4, 32)),
    ("Four 32nds.", TREAD, F(4, 32)),
    ("four thirty 2nds", TREAD, F(4, 32)),
    ("4/32", TREAD, F(4, 32)),
    ("4 30 seconds", TREAD, F(4, 32)),
    ("4:30 seconds", TREAD, F(4, 32)),
    ("430 seconds", TREAD, F(4, 32)),
    ("432nds", TREAD, F(4, 32)),
    ("1 hundred and 20 psi", PRESSURE, F(120)),
    ("eight", TREAD, F(8, 32)),
    ("Eleven.", TREAD, F(11, 32)),
    ("eleven thirty seconds of an inch", TREAD, F(11, 32)),
    ("twenty one thirty seconds", TREAD, F(21, 32)),
    ("one inch", TREAD, F(1)),
    ("three quarters", STROKE, F(3, 4)),
    ("three quarter inch", STROKE, F(3, 4)),
    ("three fourths of an inch", STROKE, F(3, 4)),
    ("one and three quarter inches", STROKE, F(7, 4)),
    ("one and three quarters", STROKE, F(7, 4)),
    ("one three quarters", STROKE, F(7, 4)),
    ("one inch and three quarters", STROKE, F(7, 4)),
    ("1 3/4", STROKE, F(7, 4)),
    ("1-3/4 inches", STROKE, F(7, 4)),
    ("1 and 3/4 in.", STROKE, F(7, 4)),
    ('1¾"', STROKE, F(7, 4)),
    ("1.75", STROKE, F(7, 4)),
    ("one point seven five", STROKE, F(7, 4)),
    ("one point seventy five", STROKE, F(7, 4)),
    ("half an inch", STROKE, F(1, 2)),
    ("half inch", STROKE, F(1, 2)),
    ("a half", STROKE, F(1, 2)),
    ("one half", STROKE, F(1, 2)),
    ("one and a half", STROKE, F(3, 2)),
    ("1.5 inches", STROKE, F(3, 2)),
    ("a quarter of an inch", STROKE, F(1, 4)),
    ("an inch", STROKE, F(1)),
    ("eleven millimeters", STROKE, F(110, 254)),  # 25.4 mm to the inch, by definition
    ("eleven millimeters", STROKE, F(110, 254)),
    ("2.54 cm", STROKE, F(1)),
    ("one twenty", PRESSURE, F(120)),
    ("a hundred and five", PRESSURE, F(105)),
    ("hundred and five", PRESSURE, F(105)),
    ("one oh five", PRESSURE, F(105)),
    ("one zero five", PRESSURE, F(105)),
    ("one hundred and twenty pounds", PRESSURE, F(120)),
    ("sixty pounds", PRESSURE, F(60)),
    ("60 lbs", PRESSURE, F(60)),
    ("120 psi", PRESSURE, F(120)),
    ("120 P.S.I.", PRESSURE, F(120)),
    ("one twenty p s i", PRESSURE, F(120)),
    ("1 2 0", PRESSURE, F(120)),
    ("one-twenty", PRESSURE, F(120)),
    ("It's 95.", PRESSURE, F(95)),
    ("nine five", PRESSURE, F(95)),
    ("zero", PRESSURE, F(0)),
    ("point five", LEAK, F(1, 2)),
    ("zero point five", LEAK, F(1, 2)),
    (".5", LEAK, F(1, 2)),
    ("two point five", LEAK, F(5, 2)),
    ("two and a half pounds a minute", LEAK, F(5, 2)),
    ("minus five", LEAK, F(-5)),
    ("-5", LEAK, F(-5)),
    ("negative five", LEAK, F(-5)),
    ("thirty seconds", SECONDS, F(30)),
    ("one minute twenty", SECONDS, F(80)),
    ("one minute and twenty seconds", SECONDS, F(80)),
    ("a minute and a half", SECONDS, F(90)),
    ("two minutes", SECONDS, F(120)),
    ("one hundred twenty", SECONDS, F(120)),
    ("four thirty", SECONDS, F(270)),  # 430 is out of range
    ("twelve point six volts", VOLTS, F(63, 5)),
    ("twelve six", VOLTS, F(63, 5)),
    ("none", ("count", F(0), F(12), F(1)), F(0)),
    ("5 lbs", ("lb", F(0), F(9), F(1)), F(5)),
    ("90°", ("degree", F(0), F(180), F(1)), F(90)),
    ("1,250 kPa", ("kPa", F(0), F(2000), F(5)), F(1250)),
    ("8.5%", ("percent", F(0), F(100), F(1, 2)), F(17, 2)),
]


@pytest.mark.parametrize(("words", "asked", "value"), SAID, ids=[f"{s[0]}-{s[1][0]}" for s in SAID])
def test_what_people_and_transcribers_say(words: str, asked: Range, value: F) -> None:
    assert parse(words, *asked) == Reading(value)


@pytest.mark.parametrize("word", ["about", "around", "roughly"])
def test_about_is_approximate(word: str) -> None:
    numbers = Numbers(approximately=shipped().approximately)
    assert numbers.parse(f"{word} ninety five", *PRESSURE) == Reading(F(95), approximate=True)
    assert numbers.parse("ninety five", *PRESSURE) == Reading(F(95))


def test_doubt_is_returned_and_not_guessed_away() -> None:
    assert parse("one twenty", *SECONDS) == Doubt((F(80), F(120)))
    assert parse("one", *TREAD) == Doubt((F(1, 32), F(1)))
    # The range settles it: a stop watch that was asked for at most 100 s, a tread gauge that ends below an inch.
    assert parse("one twenty", "s", F(0), F(100)) == Reading(F(80))
    assert parse("one", "in", F(0), F(30, 32), F(1, 32)) == Reading(F(1, 32))


def test_beyond_the_range_is_still_a_reading_but_not_plausible() -> None:
    assert parse("two hundred", *PRESSURE) == Reading(F(200), plausible=False)


@pytest.mark.parametrize(
    "words",
    ["", "okay", "hello there", "sixty pounds of", "four thirty second", "one hundred twenty inches", "and", "point",
     "twenty thirty forty fifty", "over", "three over", "five over zero", "1/0", "minus", "about"],
)  # fmt: skip
def test_what_is_no_pressure(words: str) -> None:
    assert parse(words, *PRESSURE) is None


def test_fifteen_and_fifty_are_never_mixed_up() -> None:
    for teen, ty in zip(range(13, 20), range(30, 100, 10), strict=True):
        assert parse(cardinal(teen), *PRESSURE) == Reading(F(teen))
        assert parse(cardinal(ty), *PRESSURE) == Reading(F(ty))


def test_tokens_of_a_transcript() -> None:
    assert tokenize("Four thirty-seconds, of an inch.") == ("four", "thirty", "seconds", "of", "an", "inch")
    assert tokenize("4/32nds") == ("4", "/", "32", "nds")


# --- against num2words (https://pypi.org/project/num2words/) and word2number (https://pypi.org/project/word2number/)


@pytest.mark.parametrize("lang", ["en", "en_GB", "en_IN"])
def test_every_whole_number_of_num2words_is_read_back(lang: str) -> None:
    top = F(LARGEST)
    for n in [*range(0, 260), *range(260, LARGEST + 1, 23), LARGEST]:
        assert parse(num2words(n, lang=lang), "kPa", F(0), top) == Reading(F(n)), n


def test_decimals_of_num2words_are_read_back() -> None:
    for tenths in range(0, 400):
        words = num2words(tenths / 10)
        assert parse(words, "V", F(0), F(40), F(1, 10)) == Reading(F(tenths, 10)), words


def test_negative_numbers_of_num2words_are_read_back() -> None:
    for n in range(1, 200):
        assert parse(num2words(-n), "degF", F(-200), F(200)) == Reading(F(-n))


def test_plain_cardinals_are_those_of_num2words() -> None:
    for n in range(LARGEST + 1):
        theirs = num2words(n).replace("-", " ").replace(",", "").replace(" and ", " ")
        assert cardinal(n) == theirs


def test_word2number_agrees_where_it_knows_the_form() -> None:
    # It reads cardinals, with "and", and decimals; not pairs ("one twenty"), fractions or units.
    for n in range(0, 1500, 3):
        for form in ways(n):
            if form == cardinal(n) or (" and " in form and not form.startswith("a ")):
                assert w2n.word_to_num(form) == n
                assert parse(form, "kPa", F(0), F(2000)) == Reading(F(n))
    for tenths in range(1, 300):
        form = spoken_forms(F(tenths, 10), "V", F(1, 10))[0]
        if "point" in form:
            assert F(str(w2n.word_to_num(form))) == F(tenths, 10)


# --- round trips


UNITS = [unit for unit in shipped().units if unit not in ("s", "min")]


@settings(deadline=None)
@given(
    unit=st.sampled_from(UNITS),
    step=st.sampled_from([F(1), F(1, 2), F(1, 4), F(1, 8), F(1, 16), F(1, 32), F(1, 10), F(5)]),
    count=st.integers(0, 400),
    spare=st.integers(0, 400),
)
def test_every_spoken_form_is_read_back(unit: str, step: F, count: int, spare: int) -> None:
    value, high = count * step, (count + spare) * step
    for form in spoken_forms(value, unit, step):
        heard = parse(form, unit, F(0), high, step)
        if isinstance(heard, Doubt):
            assert value in heard.values
        else:
            assert heard == Reading(value), form


@settings(deadline=None)
@given(seconds=st.integers(0, 600))
def test_times_are_read_back(seconds: int) -> None:
    for form in spoken_forms(F(seconds), "s"):
        heard = parse(form, "s", F(0), F(600))
        assert heard == Reading(F(seconds)) or (isinstance(heard, Doubt) and F(seconds) in heard.values)


@settings(deadline=None)
@given(st.text(alphabet="abcdefghinoprstuvwxy 0123456789/.-'", max_size=40))
def test_any_text_is_a_reading_or_nothing_and_never_an_error(text: str) -> None:
    result = parse(text, *STROKE)
    assert result is None or isinstance(result, Reading | Doubt)


@settings(deadline=None)
@given(
    st.lists(
        st.sampled_from(
            [
                "one",
                "two",
                "twenty",
                "hundred",
                "thousand",
                "and",
                "a",
                "half",
                "quarters",
                "over",
                "point",
                "oh",
                "inch",
            ]
        ),
        max_size=9,
    )
)
def test_a_number_never_changes_by_naming_its_unit(words: list[str]) -> None:
    bare = parse(" ".join(words), *PRESSURE)
    named = parse(" ".join([*words, "psi"]), *PRESSURE)
    if isinstance(bare, Reading):
        assert named == bare


def test_digit_by_digit() -> None:
    assert digits(120) == "one two zero"
    assert ways(105)[:3] == ("one hundred five", "one oh five", "one hundred and five")
