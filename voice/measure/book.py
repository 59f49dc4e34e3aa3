"""The words of numbers, parts, units and quantities: prompts/units.yaml, the only place where they are written down.

A units.yaml in the user's own folder of prompts may add units and quantities, or replace shipped ones.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import Annotated, ParamSpec, TypeVar

from pydantic import AfterValidator, Field

from voice.data.folders import prompts_dir
from voice.data.reader import line_of, parse, read_yaml
from voice.data.strict import Strict
from voice.errors import DataError
from voice.measure.measure import fits, is_unit

_SPOKEN = re.compile(r"[a-z][a-z']*( [a-z][a-z']*)*")


def is_spoken(text: str) -> bool:
    """Whether it is lower-case words as a recognizer takes them."""
    return _SPOKEN.fullmatch(text) is not None


def spoken_text(text: str) -> str:
    """The text if it is spoken; raises ValueError if not."""
    if not is_spoken(text):
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
    grouped: thousands are set apart in print
    """

    name: str
    unit: str
    denominator: int | None = None
    keep: bool = False
    grouped: bool = False
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


class OwnUnits(Strict):
    """A units.yaml of the user's own: each entry is new, or stands whole in place of the shipped one of its name."""

    units: dict[str, UnitWords] = Field(default_factory=dict)
    quantities: dict[str, QuantityWords] = Field(default_factory=dict)


_own: tuple[Path, ...] = ()
_kept: list[Callable[[], None]] = []

P = ParamSpec("P")
R = TypeVar("R")


def kept_with_book(function: Callable[P, R]) -> Callable[P, R]:
    """Keeps the last 10,000 things that a function gave, until another book is laid over."""
    cached = lru_cache(10_000)(function)
    _kept.append(cached.cache_clear)
    return cached  # type: ignore[return-value]  # the cache's own type forgets the parameters


def lay_over(*files: Path) -> None:
    """From here on the units of these files lie over the shipped ones, a later file over an earlier one.

    Each command does it once, for its folder. Files that are not there are passed over; they are read when they are
    first needed.
    """
    global _own
    _own = tuple(file for file in files if file.is_file())
    for clear in _kept:
        clear()


@kept_with_book
def unit_book() -> UnitBook:
    """The shipped book with the user's own over it. Raises DataError with file and line."""
    path = prompts_dir() / "units.yaml"
    book = parse(UnitBook, read_yaml(path), path)
    for file in _own:
        book = _with(book, file)
    return book


def _with(book: UnitBook, file: Path) -> UnitBook:
    own = parse(OwnUnits, read_yaml(file) or {}, file)
    units = {**book.units, **own.units}
    for name, words in own.units.items():
        if words.si is not None and words.si not in units:
            raise _wrong(f'there are no words for the unit "{words.si}".', file, "units", name, "si")
    for name, quantity in own.quantities.items():
        known = book.quantities.get(name)
        if quantity.unit not in units:
            raise _wrong(f'there are no words for the unit "{quantity.unit}".', file, "quantities", name, "unit")
        if known is not None and not _comparable(known.unit, quantity.unit):
            raise _wrong(
                f'"{quantity.unit}" does not measure what {name} is: {known.unit}.', file, "quantities", name, "unit"
            )
    return book.model_copy(update={"units": units, "quantities": {**book.quantities, **own.quantities}})


def _comparable(unit: str, other: str) -> bool:
    return unit == other or (is_unit(other) and fits(unit, other))


def _wrong(message: str, file: Path, *at: str) -> DataError:
    return DataError(
        message, "Correct the entry, or give the unit in the same file.", file=file, line=line_of(file, at)
    )


@cache
def number_words() -> NumberWords:
    """The words that numbers are made of. They are the shipped ones: no file of the user's own changes them."""
    return unit_book().numbers
