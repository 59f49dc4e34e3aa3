"""Numbers, units and levels stand once, and what one part of the program says another reads back."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest
from num2words import num2words
from word2number import w2n

import voice.measure
from voice.data.folders import prompts_dir
from voice.judge.wording import verdicts
from voice.measure.book import unit_book
from voice.measure.cardinal import cardinal
from voice.measure.forms import spoken_forms
from voice.measure.level import NAMES, Level, level_of, worst
from voice.measure.reading import Doubt, Numbers, Reading
from voice.rehearse.listen.words import TokenReader
from voice.route import load_library
from voice.route.answer import Call, Hold
from voice.route.answer import Measurement as Asked
from voice.route.metric import in_units
from voice.route.model import Item

F = Fraction
VOICE = Path(voice.measure.__file__).parents[1]
STUDENT = TokenReader.shipped()
Range = tuple[str, F, F, F]


def _answers(item: Item) -> Iterator[Asked | Hold | Call]:
    for answer in (item.answer, *(follow.answer for follow in item.follow_ups)):
        if isinstance(answer, Asked | Hold | Call):
            yield answer


def _ranges() -> list[Range]:
    """Unit, low, high and step of every reading that a shipped item asks for, in US units and in SI."""
    items = load_library().items.values()
    asked = [answer for item in items for system in ("us", "si") for answer in _answers(in_units(item, system))]
    return sorted({(a.unit, a.low, a.high, a.step) for a in asked})


def _values(asked: Range) -> Iterator[tuple[F, str]]:
    """Every value of the range in every form it may be said in."""
    unit, low, high, step = asked
    for n in range(int((high - low) / step) + 1):
        for form in spoken_forms(low + n * step, unit, step):
            yield low + n * step, form


RANGES = _ranges()
MANY_OF = {"klb": 1000}


@pytest.mark.parametrize("asked", RANGES, ids=lambda asked: "-".join(map(str, asked)))
def test_every_phrase_is_read_back_as_an_answer(asked: Range) -> None:
    numbers = Numbers()
    for value, form in _values(asked):
        heard = numbers.parse(form, *asked)
        assert heard == Reading(value) or (isinstance(heard, Doubt) and value in heard.values), form


@pytest.mark.parametrize("asked", RANGES, ids=lambda asked: "-".join(map(str, asked)))
def test_every_phrase_is_read_back_in_free_speech(asked: Range) -> None:
    for value, form in _values(asked):
        figures = [token.figures[0] for token in STUDENT.tokens(f"it is {form} and clean") if token.role == "figure"]
        if not _only_as_an_answer(value, form, asked[0]):
            # Of a unit that is many of another, free speech tells that other: forty thousand pounds.
            assert [figure.value for figure in figures] in ([value], [value * MANY_OF.get(asked[0], 1)]), form
        elif len(figures) == 1:  # never a wrong number with a unit in its place
            assert figures[0].value == value or figures[0].unit in (None, "s"), form


def _only_as_an_answer(value: F, form: str, unit: str) -> bool:
    """What nobody but the one who asked can read; see the head of voice/rehearse/listen/figures.py."""
    heard, said = unit_book().heard[unit], form.split()
    whole, part = divmod(value, 1)
    counted = {cardinal(int(value * of)) for of in heard.bare_divisions} | set(heard.zero)
    by_digits = len(said) > 1 and all(word in unit_book().numbers.ones[:10] for word in said)
    adjoined = whole and part and form.startswith(f"{cardinal(whole)} ") and not {"and", "point"} & set(said)
    unit_first = any(f" {name} and " in form for name in (*heard.one, *heard.many))
    return bool(form in counted or by_digits or adjoined or unit_first or form.startswith("a thirty second"))


def test_cardinals_are_those_of_num2words_and_read_back_by_word2number() -> None:
    for n in [*range(0, 2000), *range(2000, 2_000_000, 9973)]:
        theirs = num2words(n).replace("-", " ").replace(",", "").replace(" and ", " ")
        assert cardinal(n) == theirs
        assert w2n.word_to_num(cardinal(n)) == n
        assert cardinal(-n) == (f"minus {theirs}" if n else theirs)


def test_parts_are_named_by_the_ordinals_of_num2words() -> None:
    own = {2: "half", 4: "quarter"}  # the usual names of these two are no ordinals
    for of, pairs in unit_book().parts.items():
        ordinal = num2words(of, to="ordinal").replace("-", " ").removeprefix("one ")
        wanted = [(own[of], "halves" if of == 2 else f"{own[of]}s")] if of in own else []
        wanted += [(ordinal, f"{ordinal}s")] if of != 2 else []
        assert list(pairs) == wanted


def test_number_words_stand_in_one_file() -> None:
    table = re.compile(r"five\W+(?:\d\W+)?six\W+(?:\d\W+)?seven\W+(?:\d\W+)?eight", re.IGNORECASE)
    files = [*VOICE.rglob("*.py"), *prompts_dir().rglob("*.yaml")]
    assert {file.name for file in files if table.search(file.read_text(encoding="utf-8"))} == {"units.yaml"}


def test_levels_are_listed_in_one_file() -> None:
    table = re.compile(r"within\W+watch\W+repair\W+halt|halt\W+repair\W+watch\W+within", re.IGNORECASE)
    files = [file for file in VOICE.rglob("*.py") if table.search(file.read_text(encoding="utf-8"))]
    assert {file.name for file in files} == {"level.py"}


def test_levels_have_one_order() -> None:
    assert [level.word for level in Level] == list(NAMES) == list(verdicts().levels) == list(verdicts().levels_mean)
    assert [level_of(name) for name in NAMES] == sorted(Level)
    assert worst(["watch", "halt", "within"]) == "halt"
    assert worst([]) is None


def test_the_room_uses_no_other_room() -> None:
    allowed = ("voice.measure", "voice.errors", "voice.data")
    for file in Path(voice.measure.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            for name in names:
                assert not name.startswith("voice") or name.startswith(allowed), f"{file.name} imports {name}"
