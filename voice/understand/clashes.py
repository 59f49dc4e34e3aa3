"""Texts that would mean two things to one item: an author's mistake."""

from __future__ import annotations

from collections.abc import Iterable

from voice.errors import DataError
from voice.route.answer import Choice, Condition
from voice.route.model import Item
from voice.understand.phrases import FIXED, Defects, Phrasebook
from voice.understand.question import join


def check(book: Phrasebook, items: Iterable[Item], defects: Defects) -> list[DataError]:
    """Every item with all that can be said to it; the mistakes found (a text with two meanings, a defect without
    words). A text may not mean two things anywhere in one item, though not all of it is asked at once."""
    always = [book.said(name, meaning) for name, meaning in FIXED.items()]
    mistakes: list[DataError] = []
    for item in items:
        try:
            faults = book.faults(item, defects)
            good = book.good(item) if isinstance(item.answer, Condition) else ()
            join(*always, book.commands, faults, good)
            for answer in (item.answer, *(follow.answer for follow in item.follow_ups)):
                replies = isinstance(answer, Choice) and any(option.reply for option in answer.options)
                join(*([] if replies else always), book.commands, faults, book.own(answer))
        except DataError as error:
            mistakes.append(DataError(f'Item "{item.id}": {error.message}', error.hint))
    return mistakes
