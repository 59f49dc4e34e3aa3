"""The Spanish explanations have the same items and the same figures as the English ones.

Oracle for Spanish number words: num2words. It cannot tell good Spanish from bad: that needs a native reader.
"""

import re
from fractions import Fraction

import pytest
from num2words import num2words

from voice.data.folders import prompts_dir
from voice.judge import load_limits
from voice.rehearse.listen.syllabus import make_syllabus
from voice.rehearse.listen.words import TokenReader
from voice.rehearse.progress.pages import study_sheet
from voice.rehearse.recite.recite import lines
from voice.rehearse.wording import language_file, recite_file
from voice.route import load_library, load_vehicle, make_plan

LIBRARY, SPANISH, READER = load_library(), language_file("es"), TokenReader.shipped()
NUMBERS = {num2words(number, lang="es"): Fraction(number) for number in range(2, 2001)} | {
    "seiscientas": Fraction(600), "novecientas": Fraction(900), "veintiún": Fraction(21),
}  # fmt: skip
PARTS = {
    "media": Fraction(1, 2),
    "mitad": Fraction(1, 2),
    "cuartos": Fraction(1, 4),
    "treinta y dosavos": Fraction(1, 32),
}
# English figures that are said in another way: "six to nine hundred" and a year said by halves.
OTHERWISE = {
    "air-build-up-single": ({Fraction(6)}, {Fraction(600)}),
    "rear-guard-height": ({Fraction(19), Fraction(98), Fraction(1998)}, {Fraction(1998)}),
}


def english(text: str) -> set[Fraction]:
    """Figures of the text; a bare "one" or "two" is a word like another, a dozen of them no figure."""
    return {
        token.figures[0].value
        for token in READER.tokens(text.replace("{place}: ", ""))
        if token.role == "figure" and (token.figures[0].unit or token.figures[0].value > 1 or "half" in token.text)
    }


def spanish(text: str) -> set[Fraction]:
    words = text.lower()
    found: set[Fraction] = set()
    for part, size in PARTS.items():
        for name, value in (*sorted(NUMBERS.items(), key=lambda pair: -len(pair[0])), ("", Fraction(1))):
            pattern = rf"\b{name} {part}\b" if name else rf"\b{part}\b"
            if re.search(pattern, words):
                found.add(value * size)
                words = re.sub(pattern, " ", words)
    if re.search(r"\bun minuto\b|\buna pulgada\b", words):
        found.add(Fraction(1))
    for name, value in sorted(NUMBERS.items(), key=lambda pair: -len(pair[0])):
        if re.search(rf"\b{name}\b", words):
            found.add(value)
            words = re.sub(rf"\b{name}\b", " ", words)
    return found


def test_the_same_items() -> None:
    assert set(SPANISH.items) == set(LIBRARY.items)


def test_every_section_and_place_has_a_name() -> None:
    titles = {section.title for route in LIBRARY.routes.values() for section in route.sections}
    assert titles <= set(SPANISH.sections)
    assert {"steer", "drive", "tag", "trailer", "tractor", "truck", "bus"} <= set(SPANISH.places)


@pytest.mark.parametrize("item", sorted(LIBRARY.items))
def test_the_same_figures(item: str) -> None:
    said = english(LIBRARY.items[item].say.full)
    told = spanish(SPANISH.items[item].full)
    less, more = OTHERWISE.get(item, (set(), set()))
    assert told == (said - less) | (more if item in OTHERWISE else set()), item


def test_the_check_would_notice_a_wrong_figure() -> None:
    full = SPANISH.items["tire-tread"].full
    assert spanish(full) == {Fraction(4, 32), Fraction(2, 32)}
    assert spanish(full.replace("cuatro", "tres")) != spanish(full)
    assert english("no more than one inch, or four in two minutes") == {Fraction(1), Fraction(4), Fraction(2)}


def test_it_is_spanish_and_not_left_in_english() -> None:
    for item, told in SPANISH.items.items():
        words = set(re.findall(r"[a-záéíóúñ]+", told.full.lower()))
        assert not words & {"the", "and", "check", "not", "with", "must"}, item
        assert words & {"el", "la", "los", "las", "de", "en", "sin", "con", "y", "que"}, item


def test_it_says_that_it_needs_a_native_reader() -> None:
    assert "nativo" in SPANISH.note
    text = (prompts_dir() / "learn" / "es" / "items.yaml").read_text(encoding="utf-8")
    assert "native reader" in text


@pytest.mark.parametrize("name", ["tractor-trailer-five-axle", "straight-truck-two-axle", "school-bus"])
def test_recital_and_sheet_of_each_sample_vehicle_in_spanish(name: str) -> None:
    vehicle = load_vehicle(prompts_dir() / "vehicles" / f"{name}.yaml")
    syllabus = make_syllabus(make_plan(LIBRARY, vehicle), load_limits())
    english_lines = lines(syllabus, recite_file().say)
    spanish_lines = lines(syllabus, SPANISH.say, language=SPANISH)
    assert [line.key for line in spanish_lines] == [line.key for line in english_lines]
    assert not any("{place}" in line.text for line in (*spanish_lines, *english_lines))
    page = study_sheet(syllabus, vehicle.name, language=SPANISH)
    assert page.count('class="name"') == len(syllabus.parts)
    assert SPANISH.note.strip() in page
