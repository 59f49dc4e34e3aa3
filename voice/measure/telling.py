"""Measures as a driver says and reads them: "four thirty seconds of an inch", "1 3/4 in", "one hundred twenty p s i".

All words come from prompts/units.yaml. Display only: nothing here is ever compared with a limit.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from voice.measure.book import UnitWords, kept_with_book, unit_book
from voice.measure.cardinal import cardinal, decimal
from voice.measure.measure import Measure, exact, fits

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


def shown_in(unit: str, quantity: str, system: System) -> tuple[str, float]:
    """The unit, in print, that a measure of this one is displayed in, and how many of it one of this is."""
    kept = unit_book().quantities.get(quantity)
    if kept is not None and not converts(unit, kept.unit):
        return unit, 1.0
    shown = show(Measure(Fraction(1), unit), quantity, system)
    known = unit_book().units.get(shown.unit)
    return known.printed if known else shown.unit, float(shown.value)


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
    if grouped(quantity):
        thousands, point, part = text.partition(".")
        text = f"{int(thousands):,}{point}{part}" if thousands.isdigit() else text
    return f"{text} {unit.printed}".strip()


def grouped(quantity: str) -> bool:
    """Whether thousands are set apart in print: of an odometer, as it shows them itself."""
    entry = unit_book().quantities.get(quantity)
    return entry is not None and entry.grouped


@kept_with_book  # gauges have few divisions: the same values come again and again
def told(
    value: str | float | Fraction, unit: str, *, quantity: str = "", system: System = "us", aloud: bool = False
) -> str:
    """A number that was kept, as it was told when it was taken: the one way any page, list or sentence shows it.

    value: exact, as text or a fraction; or the decimal that a database keeps of it.
    unit: one that is unknown, or is none of the quantity's, is shown as it stands.
    """
    number = exact(float(value)) if isinstance(value, float) else Fraction(value)
    kept = unit_book().quantities.get(quantity)
    if kept is not None and not converts(unit, kept.unit):
        return f"{_rounded(number, 3)} {unit}"
    measure = Measure(number, unit)
    return (spoken if aloud else printed)(measure, quantity=quantity, system=system)


def mile(miles: float) -> str:
    """What an odometer in miles shows, without its unit: "412,345"."""
    return told(miles, "mi", quantity="odometer").partition(" ")[0]


def minutes(seconds: float) -> int:
    """A length of time in whole minutes, as every table and list has it."""
    return round(seconds / 60)


def to_division(value: float, unit: str, quantity: str) -> Fraction:
    """A value that was worked out, not read: to the finest division of its gauge, since more would pretend to know.

    A quantity that is told in decimals is left to the rounding of its unit, as every reading of it.
    """
    entry = unit_book().quantities.get(quantity)
    number = exact(float(value))
    if entry is None or entry.denominator is None or entry.unit != unit:
        return number
    return Fraction(round(number * entry.denominator), entry.denominator)


def converts(unit: str, other: str) -> bool:
    """Whether one unit converts into the other. One that is not in units.yaml is never given to the unit reader."""
    known = unit_book().units
    return unit == other or (unit in known and other in known and fits(unit, other))


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
