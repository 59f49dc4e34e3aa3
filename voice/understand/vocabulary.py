"""Every word that can be said on the shipped routes: what a recognizer's vocabulary must hold."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from voice.route.library import Library, load_library
from voice.understand.lexicon import Lexicon, shipped
from voice.understand.numbered import number_phrases


def words_of_routes(library: Library | None = None, lexicon: Lexicon | None = None) -> frozenset[str]:
    """Words of the answers, commands, defects, choices, spoken names and numbers, by default of all that ships."""
    return frozenset(word for phrase in phrases_of_routes(library, lexicon) for word in phrase.split())


def fixed_phrases(lexicon: Lexicon | None = None) -> frozenset[str]:
    """Answers and commands: what can be said on any route."""
    lexicon = lexicon or shipped()
    lists = [*lexicon.answers.model_dump().values(), *lexicon.commands.values(), lexicon.change_prefix]
    return frozenset(phrase for phrases in lists for phrase in phrases)


def phrases_of_routes(library: Library | None = None, lexicon: Lexicon | None = None) -> frozenset[str]:
    library = library or load_library()
    lexicon = lexicon or shipped()
    found = set(fixed_phrases(lexicon))
    for defect in library.defects.values():
        found.update(defect.say)
    for route in library.routes.values():
        found.update(route.call)
    for kind in library.kinds.values():
        found.update(kind.call)
    readings: set[tuple[str, Fraction, Fraction, Fraction]] = set()
    for item in library.items.values():
        found.update(item.call)
        for part in _parts([item.answer.model_dump(), *(follow.model_dump() for follow in item.follow_ups)]):
            if "options" in part:
                found.update(phrase for option in part["options"] for phrase in option["say"])
            if {"unit", "low", "high", "step"} <= part.keys():
                readings.add((part["unit"], *(Fraction(part[key]) for key in ("low", "high", "step"))))
    for unit, low, high, step in readings:
        found.update(phrase.text for phrase in number_phrases(unit, low, high, step, lexicon))
    return frozenset(found)


def _parts(data: Any) -> Iterator[dict[str, Any]]:
    """Every mapping in the data, however deep."""
    if isinstance(data, dict):
        yield data
        data = list(data.values())
    if isinstance(data, list | tuple):
        for each in data:
            yield from _parts(each)
