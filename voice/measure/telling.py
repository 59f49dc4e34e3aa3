"""Measures as a driver says and reads them: "four thirty seconds of an inch", "1 3/4 in", "one hundred twenty p s i".

All words come from prompts/units.yaml. Display only: nothing here is ever compared with a limit.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from voice.measure.book import UnitWords, unit_book
from voice.measure.cardinal import cardinal, decimal
from voice.measure.measure import Measure

System = Literal["us", "si"]


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


def _rounded(value: Fraction, places: int) -> str:
    """Decimal text, rounded half to even, no trailing zeros: "3.2", "22"."""
    scaled = round(value * 10**places)
    sign, scaled = ("-" if scaled < 0 else ""), abs(scaled)
    whole, part = divmod(scaled, 10**places)
    decimals = f"{part:0{places}d}".rstrip("0") if places else ""
    return f"{sign}{whole}.{decimals}" if decimals else f"{sign}{whole}"


def _divided(value: Fraction, denominator: int, keep: bool) -> tuple[int, int, int] | None:
    """(whole, numerator, denominator) if the value is that many parts exactly, else None.

    keep: do not reduce.
    """
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
        return f"{decimal(text)} {unit.one if text == '1' else unit.many}".strip()
    whole, top, bottom = parts
    if not top:
        return f"{cardinal(whole)} {unit.one if whole == 1 else unit.many}".strip()
    names = words.fractions[bottom]
    if whole:
        part = names.mixed_one if top == 1 else names.mixed_many.format(n=cardinal(top))
        return f"{cardinal(whole)} {words.numbers.and_} {part} {unit.many}".strip()
    part = names.one if top == 1 else names.many.format(n=cardinal(top))
    return unit.part.format(fraction=part)
