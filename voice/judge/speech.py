"""Measures as a driver says and reads them: "four thirty seconds of an inch", "1 3/4 in", "one hundred twenty p s i".

All words come from prompts/units.yaml. Display only: nothing here is ever compared with a limit.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import Field

from voice.data import prompts_dir
from voice.measure import Measure
from voice.route.load import parse, read_yaml
from voice.route.model import Number, Strict

System = Literal["us", "si"]


class NumberWords(Strict):
    ones: tuple[str, ...] = Field(min_length=20, max_length=20)
    tens: tuple[str, ...] = Field(min_length=8, max_length=8)
    hundred: str
    thousand: str
    million: str
    point: str
    minus: str
    and_: str = Field(alias="and")


class FractionWords(Strict):
    """one, many: below one; mixed_one, mixed_many: after a whole number. {n}: the numerator's word."""

    one: str
    many: str
    mixed_one: str
    mixed_many: str


class UnitWords(Strict):
    printed: str
    one: str
    many: str
    part: str = "{fraction}"
    denominator: int = 1
    decimals: int = 1
    si: str | None = None
    si_step: Number | None = None


class QuantityWords(Strict):
    """unit: the one its limits are compared in. denominator, si_decimals, si_step: None takes the unit's own."""

    name: str
    unit: str
    denominator: int | None = None
    keep: bool = False
    si_decimals: int | None = None
    si_step: Number | None = None


class UnitBook(Strict):
    """The whole of prompts/units.yaml."""

    numbers: NumberWords
    fractions: dict[int, FractionWords]
    units: dict[str, UnitWords]
    quantities: dict[str, QuantityWords]


@cache
def unit_book(file: Path | None = None) -> UnitBook:
    """The shipped wording of units, or that of another file. Raises DataError with file and line."""
    path = file or prompts_dir() / "units.yaml"
    return parse(UnitBook, read_yaml(path), path)


def quantity_name(quantity: str) -> str:
    """How a quantity is called aloud; its id in words if it is not listed."""
    entry = unit_book().quantities.get(quantity)
    return entry.name if entry else quantity.replace("-", " ")


def show(measure: Measure, quantity: str = "", system: System = "us") -> Measure:
    """The measure in the unit it is displayed in: as it is for US units, the metric counterpart for SI.

    A metric reading stays metric in the US system too if its quantity is not listed.
    """
    book = unit_book()
    entry = book.quantities.get(quantity)
    unit = entry.unit if entry else measure.unit
    if system == "si" and unit in book.units:
        unit = book.units[unit].si or unit
    return measure.to(unit)


def whole_words(number: int) -> str:
    """A whole number in words, US style, no hyphens: 125 is "one hundred twenty five"."""
    words = unit_book().numbers
    if number < 0:
        return f"{words.minus} {whole_words(-number)}"
    if number < 20:
        return words.ones[number]
    if number < 100:
        ten, rest = divmod(number, 10)
        return words.tens[ten - 2] + (f" {words.ones[rest]}" if rest else "")
    for size, name in ((1_000_000, words.million), (1_000, words.thousand), (100, words.hundred)):
        if number >= size:
            many, rest = divmod(number, size)
            return f"{whole_words(many)} {name}" + (f" {whole_words(rest)}" if rest else "")
    raise AssertionError(number)


def _rounded(value: Fraction, places: int) -> str:
    """Decimal text, rounded half to even, no trailing zeros: "3.2", "22"."""
    scaled = round(value * 10**places)
    sign, scaled = ("-" if scaled < 0 else ""), abs(scaled)
    whole, part = divmod(scaled, 10**places)
    decimals = f"{part:0{places}d}".rstrip("0") if places else ""
    return f"{sign}{whole}.{decimals}" if decimals else f"{sign}{whole}"


def decimal_words(text: str) -> str:
    """Decimal text in words: "3.2" is "three point two"."""
    words = unit_book().numbers
    negative, text = text.startswith("-"), text.removeprefix("-")
    whole, _, decimals = text.partition(".")
    spoken = whole_words(int(whole))
    if decimals:
        spoken += f" {words.point} " + " ".join(words.ones[int(digit)] for digit in decimals)
    return f"{words.minus} {spoken}" if negative else spoken


def _divided(value: Fraction, denominator: int, keep: bool) -> tuple[int, int, int] | None:
    """(whole, numerator, denominator) if the value is that many parts exactly, else None. keep: do not reduce."""
    if value < 0 or denominator <= 1 or (value * denominator).denominator != 1:
        return None
    if keep:
        return 0, int(value * denominator), denominator
    whole = int(value)
    rest = value - whole
    return (whole, rest.numerator, rest.denominator) if rest else (whole, 0, 1)


def _form(measure: Measure, quantity: str, system: System) -> tuple[Fraction, UnitWords, int, bool, int]:
    """(value, words of the unit, denominator, keep, decimals) for display."""
    book = unit_book()
    shown = show(measure, quantity, system)
    unit = book.units.get(shown.unit) or UnitWords(printed=shown.unit, one=shown.unit, many=shown.unit)
    entry = book.quantities.get(quantity)
    if entry is None or entry.unit != shown.unit:
        places = entry.si_decimals if entry and entry.si_decimals is not None else unit.decimals
        return shown.value, unit, unit.denominator, False, places
    # A finer reading than the usual division is still told exactly if the unit itself can be divided so finely.
    denominator = entry.denominator or unit.denominator
    if (shown.value * denominator).denominator != 1:
        denominator = unit.denominator
    return shown.value, unit, denominator, entry.keep, unit.decimals


def printed(measure: Measure, *, quantity: str = "", system: System = "us") -> str:
    """As written in a report: "4/32 in", "1 3/4 in", "120 psi", "3.2 mm". Exact in US units where it can be."""
    value, unit, denominator, keep, places = _form(measure, quantity, system)
    if (parts := _divided(value, denominator, keep)) is None:
        text = _rounded(value, places)
    else:
        whole, top, bottom = parts
        fraction = f"{top}/{bottom}" if top or keep else ""
        text = f"{whole} {fraction}".strip() if whole or not fraction else fraction
    return f"{text} {unit.printed}".strip()


def spoken(measure: Measure, *, quantity: str = "", system: System = "us") -> str:
    """As said aloud: "four thirty seconds of an inch", "one and three quarter inches", "one hundred twenty p s i"."""
    value, unit, denominator, keep, places = _form(measure, quantity, system)
    words = unit_book()
    parts = _divided(value, denominator, keep)
    if parts is None:
        text = _rounded(value, places)
        return f"{decimal_words(text)} {unit.one if text == '1' else unit.many}".strip()
    whole, top, bottom = parts
    if not top:
        return f"{whole_words(whole)} {unit.one if whole == 1 else unit.many}".strip()
    names = words.fractions[bottom]
    if whole:
        part = names.mixed_one if top == 1 else names.mixed_many.format(n=whole_words(top))
        return f"{whole_words(whole)} {words.numbers.and_} {part} {unit.many}".strip()
    part = names.one if top == 1 else names.many.format(n=whole_words(top))
    return unit.part.format(fraction=part)
