from __future__ import annotations

import pytest
from num2words import num2words

from voice.hear.decoys import decoys
from voice.hear.written import written


@pytest.mark.parametrize("value", [*range(151), 199, 250, 999, 1000, 1250, 3600, 12000])
def test_whole_numbers_are_written_with_their_digits(value: int) -> None:
    # num2words (PyPI) is the outside source of how a number is spoken.
    spoken = num2words(value).replace("-", " ").replace(",", "")
    assert str(value) in written(spoken)
    assert str(value) in written(spoken.replace(" and ", " "))


@pytest.mark.parametrize(
    ("spoken", "forms"),
    [
        ("four thirty seconds", {"4/32", "4/32nds", "Four 32nds", "Four thirty-seconds"}),
        ("one and three quarters inches", {"1 3/4 inches", "1.75 inches", "One and three quarters inches"}),
        ("point five", {"0.5", ".5", "Point five"}),
        ("two point five inches", {"2.5 inches", '2.5"'}),
        ("one oh five psi", {"105 psi", "105 PSI"}),
        ("a hundred and five", {"105"}),
        ("one twenty", {"120"}),
        ("minus five", {"-5", "minus 5"}),
        ("four over thirty two", {"4/32"}),
        ("half an inch", {"Half an inch", "1/2 inch"}),
        ("okay", {"okay", "Okay", "OK"}),
        ("not okay", {"Not okay", "not OK"}),
    ],
)
def test_forms_a_transcript_may_have(spoken: str, forms: set[str]) -> None:
    assert forms <= set(written(spoken))


def test_a_plain_phrase_stays_itself() -> None:
    assert written("how many left") == ("how many left", "How many left")


def test_forms_of_different_values_do_not_mix() -> None:
    spoken = {value: num2words(value).replace("-", " ").replace(" and ", " ") for value in range(151)}
    owners: dict[str, int] = {}
    for value, text in spoken.items():
        for form in written(text):
            assert owners.setdefault(form, value) == value


def test_a_decoy_is_no_answer_and_sounds_like_none() -> None:
    plain, answers = decoys(["okay"]), decoys(["okay", "no", "two", "help me", "eight"])
    assert {"know", "to", "too", "for", "eight"} <= set(plain)
    assert set(plain) - set(answers) == {"know", "to", "too", "two", "no", "eight"} & set(plain)
