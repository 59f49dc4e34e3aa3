"""The terminal's tables break no word and lose none, at any width that has room for the longest."""

from __future__ import annotations

import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from voice.logbook.sheet import Sheet

WORDS = st.text("abcdefgh-/", min_size=1, max_size=12)
CELLS = st.lists(WORDS, max_size=6).map(" ".join)


def printed(sheet: Sheet, width: int) -> str:
    out = io.StringIO()
    Console(file=out, width=width, color_system=None).print(sheet)
    return out.getvalue()


def words(text: str) -> list[str]:
    return sorted(re.findall(r"[a-z/-]+", text))


@given(st.integers(1, 8), st.data(), st.integers(20, 120))
def test_every_word_is_whole_and_there(columns: int, data: st.DataObject, width: int) -> None:
    names = data.draw(st.lists(WORDS, min_size=columns, max_size=columns))
    rows = data.draw(st.lists(st.lists(CELLS, min_size=columns, max_size=columns), min_size=1, max_size=4))
    sheet = Sheet("t", *names)
    for row in rows:
        sheet.add_row(*row)
    text = printed(sheet, width)
    assert max(map(len, text.splitlines())) <= width
    shown = words(text.replace(":", " "))
    for row in rows:
        for word in words(" ".join(row)):
            assert word in shown


@pytest.mark.parametrize(("width", "beside"), [(200, True), (80, True), (25, False)])
def test_beside_each_other_where_there_is_room_else_below(width: int, beside: bool) -> None:
    sheet = Sheet("Open defects", "Defect", "Level", "State", "Remark")
    sheet.add_row("Glad hands: leaking", "repair before leaving", "open", "")
    text = printed(sheet, width)
    assert ("│" in text) == beside
    assert ("Level: repair before leaving" in " ".join(text.split())) != beside
    assert "Remark" not in text  # there is none


def test_a_letter_two_columns_wide_has_room_for_two() -> None:
    sheet = Sheet("t", "Driver", "Defect")
    sheet.add_row("日日日日日日", "leaking at the left")
    assert "日日日日日日" in printed(sheet, 30)


def test_what_a_cell_says_is_no_markup() -> None:
    sheet = Sheet("t", "a")
    sheet.add_row("[bold]x[/] [/]")
    assert "[bold]x[/] [/]" in printed(sheet, 80)
