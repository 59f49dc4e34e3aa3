"""The table of the walk against the questions that are really asked, and against what DEVELOPERS.md shows of it."""

from __future__ import annotations

from pathlib import Path

from tests.walk.talkative import SAMPLES
from tests.walk.test_table import searched
from voice.author.chart import renewed, undescribed
from voice.understand.meaning import Command, Correct, Defect, Either, Number, Words, Yes
from voice.walk.state import Aside
from voice.walk.table import ROWS, name_of, row

# No shipped item asks such a further question; a fleet's own may.
UNUSED = {"follow condition"}


def test_every_phrase_has_its_handler_and_every_handler_its_phrases() -> None:
    heard: dict[str, set[type]] = {name: set() for name in ROWS}
    for kind in SAMPLES:
        search = searched(kind)
        for state in search.states:
            now = row(search.known, state)
            asked = now.question(search.known, state)
            offered = {type(meaning) for meaning in asked.meanings.values()} - {Command}
            assert offered <= set(now.answers)
            assert asked.free is (Words in now.answers)
            heard[name_of(search.known, state)] |= offered | ({Words} if asked.free else set())
            assert Command("help") in asked.meanings.values() or state.aside is Aside.LOST
    # No gauge of the shipped items has a number that can be two things; it comes with the numbers.
    heard = {name: meanings | ({Either} if Number in meanings else set()) for name, meanings in heard.items()}
    silent = {name: set(row.answers) - heard[name] for name, row in ROWS.items() if name not in UNUSED}
    silent["ask choice"] -= {Defect, Yes, Correct}  # of the review: "still there" says it, and yes and no are options
    assert {name: meanings for name, meanings in silent.items() if meanings} == {}


def test_the_developers_table_is_that_of_the_code() -> None:
    """Renew it: python -m voice.author.chart DEVELOPERS.md"""
    assert list(undescribed()) == []
    text = (Path(__file__).resolve().parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert renewed(text) == text
