"""The words of numbers, parts, units and quantities: prompts/units.yaml, the only place where they are written down."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import cache, cached_property
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, Field

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict

_SPOKEN = re.compile(r"[a-z][a-z']*( [a-z][a-z']*)*")


def spoken_text(text: str) -> str:
    """The text if it is lower-case words as a recognizer takes them; raises ValueError if not."""
    if not _SPOKEN.fullmatch(text):
        raise ValueError(f'"{text}" is not lower-case words with single spaces between them')
    return text


Said = Annotated[str, AfterValidator(spoken_text)]
Phrases = tuple[Said, ...]


class NumberWords(Strict):
    """The words that numbers are made of.

    ones: zero to nineteen
    tens: twenty to ninety
    zeros: further words for the digit nought ("oh"); the first is the one that is usually said
    """

    ones: tuple[str, ...] = Field(min_length=20, max_length=20)
    tens: tuple[str, ...] = Field(min_length=8, max_length=8)
    zeros: tuple[str, ...] = Field(min_length=1)
    hundred: str
    thousand: str
    million: str
    point: str
    minus: str
    and_: str = Field(alias="and")

    @cached_property
    def digit(self) -> Mapping[str, int]:
        """Word -> 0..9, with the further words for nought."""
        return {word: n for n, word in enumerate(self.ones[:10])} | dict.fromkeys(self.zeros, 0)

    @cached_property
    def small(self) -> Mapping[str, int]:
        """Word -> 0..19."""
        return {word: n for n, word in enumerate(self.ones)}

    @cached_property
    def ten(self) -> Mapping[str, int]:
        """Word -> 20, 30 .. 90."""
        return {word: n * 10 for n, word in enumerate(self.tens, start=2)}


class FractionWords(Strict):
    """How a fraction is told. {n}: the numerator's word.

    one, many: below one
    mixed_one, mixed_many: after a whole number
    """

    one: str
    many: str
    mixed_one: str
    mixed_many: str


class HeardUnit(Strict):
    """How a unit may be said after a number.

    one: after exactly one, and after a fraction ("half inch")
    many: after other numbers
    written: further names, as people and transcribers write them; understood, but never listened for
    zero: words for none of it
    bare_divisions: a bare whole number may be a count of such parts of the unit (tread: "eight" is 8/32 inch)
    ruler: it is told in eighths and finer
    clock: a number may be said as minutes and seconds
    """

    one: Phrases = ()
    many: Phrases = ()
    written: tuple[str, ...] = ()
    zero: Phrases = ()
    bare_divisions: tuple[int, ...] = Field((), alias="bare-divisions")
    ruler: bool = False
    clock: bool = False


class UnitWords(Strict):
    """A unit. See the comments in units.yaml.

    heard: None for a unit that no driver is asked to say
    """

    printed: str
    one: str
    many: str
    part: str = "{fraction}"
    denominator: int = 1
    decimals: int = 1
    si: str | None = None
    si_step: Fraction | None = None
    heard: HeardUnit | None = None


class QuantityWords(Strict):
    """What can be measured.

    unit: the one its limits are compared in
    denominator, si_decimals, si_step: None takes the unit's own
    """

    name: str
    unit: str
    denominator: int | None = None
    keep: bool = False
    si_decimals: int | None = None
    si_step: Fraction | None = None


class UnitBook(Strict):
    """The whole of prompts/units.yaml.

    parts: denominator -> names of such a part, each (one, several), the usual one first
    """

    numbers: NumberWords
    parts: dict[int, tuple[tuple[str, str], ...]]
    fractions: dict[int, FractionWords]
    units: dict[str, UnitWords]
    quantities: dict[str, QuantityWords]

    @cached_property
    def denominators(self) -> Mapping[str, int]:
        """Name of a part, one or several -> how many of them make a whole."""
        return {name: of for of, pairs in self.parts.items() for pair in pairs for name in pair}

    @cached_property
    def heard(self) -> Mapping[str, HeardUnit]:
        """The units that can be said, by name."""
        return {name: _as_told(words, words.heard) for name, words in self.units.items() if words.heard is not None}


def _as_told(words: UnitWords, heard: HeardUnit) -> HeardUnit:
    """What is left out of how a unit is heard is as it is told."""
    one, many = (tuple(name for name in (said,) if name) for said in (words.one, words.many))
    return heard.model_copy(update={"one": heard.one or one, "many": heard.many or many})


@cache
def unit_book(file: Path | None = None) -> UnitBook:
    """The shipped book, or that of another file. Raises DataError with file and line."""
    path = file or prompts_dir() / "units.yaml"
    return parse(UnitBook, read_yaml(path), path)


@cache
def number_words() -> NumberWords:
    """The words that numbers are made of."""
    return unit_book().numbers
