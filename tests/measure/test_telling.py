"""Measures aloud and in print. Numbers against num2words, units against scipy's constants, words against the ear."""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from tests.judge.yard import measure, shipped
from voice.judge import spoken_source
from voice.measure import Measure, exact, fits, is_unit, registry
from voice.measure.book import unit_book
from voice.measure.cardinal import cardinal
from voice.measure.telling import printed, show, spoken

FLOATS: pint.UnitRegistry[float] = pint.UnitRegistry()  # a second registry, in ordinary floats

CASES = [
    ("4/32", "in", "tread-depth", "four thirty seconds of an inch", "4/32 in"),
    ("1/32", "in", "tread-depth", "one thirty second of an inch", "1/32 in"),
    ("16/32", "in", "tread-depth", "sixteen thirty seconds of an inch", "16/32 in"),
    ("0", "in", "tread-depth", "zero inches", "0/32 in"),
    ("3.2", "mm", "tread-depth", "zero point one two six inches", "0.126 in"),
    ("1 3/4", "in", "pushrod-stroke-applied", "one and three quarter inches", "1 3/4 in"),
    ("2 1/8", "in", "pushrod-stroke-applied", "two and an eighth inches", "2 1/8 in"),
    ("2 1/2", "in", "pushrod-stroke-applied", "two and a half inches", "2 1/2 in"),
    ("2", "in", "pushrod-stroke-applied", "two inches", "2 in"),
    ("1", "in", "pushrod-free-play", "one inch", "1 in"),
    ("3/4", "in", "belt-play", "three quarters of an inch", "3/4 in"),
    ("1/2", "in", "belt-play", "one half of an inch", "1/2 in"),
    ("3/16", "in", "lining-thickness", "three sixteenths of an inch", "3/16 in"),
    ("1 1/16", "in", "lining-thickness", "one and one sixteenth inches", "1 1/16 in"),
    ("120", "psi", "governor-cut-out", "one hundred twenty p s i", "120 psi"),
    ("4.5", "psi/min", "air-leak-applied", "four point five p s i a minute", "4.5 psi/min"),
    ("45", "s", "air-build-up", "forty five seconds", "45 s"),
    ("1", "s", "air-build-up", "one second", "1 s"),
    ("20", "percent", "defective-brakes", "twenty percent", "20 %"),
    ("3", "count", "loose-fasteners", "three", "3"),
    ("412345", "mi", "odometer", "four hundred twelve thousand three hundred forty five miles", "412,345 mi"),
    ("-1/2", "psi/min", "air-leak-static", "minus zero point five p s i a minute", "-0.5 psi/min"),
    ("7", "fortnight", "unheard-of", "seven fortnight", "7 fortnight"),
]


@pytest.mark.parametrize(("value", "unit", "quantity", "aloud", "print_"), CASES)
def test_us_units(value: str, unit: str, quantity: str, aloud: str, print_: str) -> None:
    reading = measure(value, unit)
    assert spoken(reading, quantity=quantity) == aloud
    assert printed(reading, quantity=quantity) == print_


SI = [
    ("4/32", "in", "tread-depth", "three point two millimeters", "3.2 mm"),
    ("2/32", "in", "tread-depth", "one point six millimeters", "1.6 mm"),
    ("1 3/4", "in", "pushrod-stroke-applied", "forty four millimeters", "44 mm"),
    ("3/16", "in", "lining-thickness", "four point eight millimeters", "4.8 mm"),
    ("22", "in", "rear-guard-height", "five hundred fifty nine millimeters", "559 mm"),
    ("100", "psi", "governor-cut-in", "six hundred eighty nine kilopascals", "689 kPa"),
    ("4", "psi/min", "air-leak-applied", "twenty eight kilopascals a minute", "28 kPa/min"),
    ("45", "s", "air-build-up", "forty five seconds", "45 s"),
    ("50", "mi", "cargo-check-first", "eighty point five kilometers", "80.5 km"),
    ("3.2", "mm", "tread-depth", "three point two millimeters", "3.2 mm"),
]


@pytest.mark.parametrize(("value", "unit", "quantity", "aloud", "print_"), SI)
def test_si_units(value: str, unit: str, quantity: str, aloud: str, print_: str) -> None:
    """The metric figures beside the federal ones: 393.75 prints 3.2 mm, 393.47 4.8 mm; Ontario 28 kPa for 4 psi."""
    reading = measure(value, unit)
    assert spoken(reading, quantity=quantity, system="si") == aloud
    assert printed(reading, quantity=quantity, system="si") == print_


@given(st.integers(0, 999_999))
def test_whole_numbers_agree_with_num2words(number: int) -> None:
    reference = num2words(number).replace("-", " ").replace(",", "").replace(" and ", " ")
    assert cardinal(number) == reference


@pytest.mark.parametrize(
    ("first", "second", "factor"),
    [
        ("in", "mm", scipy.constants.inch * 1000),
        ("ft", "m", scipy.constants.foot),
        ("psi", "kPa", scipy.constants.psi / 1000),
        ("psi/min", "kPa/min", scipy.constants.psi / 1000),
        ("mi", "km", scipy.constants.mile / 1000),
        ("lb", "kg", scipy.constants.pound),
        ("mph", "km/h", scipy.constants.mph * 3.6),
        ("bar", "kPa", scipy.constants.bar / 1000),
        ("min", "s", scipy.constants.minute),
    ],
)
def test_conversions_agree_with_scipy(first: str, second: str, factor: float) -> None:
    assert float(measure(1, first).to(second).value) == pytest.approx(factor, rel=1e-12)


@given(st.fractions(0, 300, max_denominator=64), st.sampled_from([("in", "mm"), ("psi", "kPa"), ("mi", "km")]))
def test_conversion_is_exact_both_ways_and_pint_agrees(value: Fraction, units: tuple[str, str]) -> None:
    there = Measure(value, units[0]).to(units[1])
    assert there.to(units[0]).value == value
    floats = FLOATS.Quantity(float(value), units[0]).to(units[1]).magnitude
    assert float(there.value) == pytest.approx(floats, rel=1e-9, abs=1e-9)


def test_every_unit_of_the_book_is_known_and_its_metric_counterpart_fits() -> None:
    book = unit_book()
    for name, words in book.units.items():
        assert is_unit(name), name
        if words.si is not None:
            assert fits(name, words.si)
            assert words.si in book.units
    for quantity, entry in book.quantities.items():
        assert entry.unit in book.units, quantity
        for denominator in (entry.denominator, book.units[entry.unit].denominator):
            assert denominator is None or denominator == 1 or denominator in book.fractions


def test_every_limit_can_be_told_in_both_systems() -> None:
    for limit in shipped().limits:
        unit = unit_book().quantities[limit.quantity].unit
        shown = show(Measure(Fraction(1), limit.unit), limit.quantity, "si")
        assert fits(shown.unit, unit)


EARS = [  # unit, low, high, step: as the shipped items ask for them
    ("tread-depth", "in", "0", "1", "1/32"),
    ("pushrod-stroke-applied", "in", "0", "4", "1/8"),
    ("lining-thickness", "in", "0", "1", "1/16"),
    ("belt-play", "in", "0", "3", "1/8"),
    ("governor-cut-out", "psi", "0", "150", "1"),
]


@pytest.mark.parametrize(("quantity", "unit", "low", "high", "step"), EARS)
def test_what_is_said_is_understood_again(quantity: str, unit: str, low: str, high: str, step: str) -> None:
    """The read-back in the assistant's words, said by the driver, is the same reading."""
    from voice.measure.reading import Reading, parse

    value = exact(low)
    while value <= exact(high):
        words = spoken(Measure(value, unit), quantity=quantity)
        heard = parse(words, unit, exact(low), exact(high), exact(step))
        assert isinstance(heard, Reading), words
        assert heard.value == value, words
        value += exact(step)


@pytest.mark.parametrize(
    ("text", "value"),
    [(45, "45"), ("4/32", "1/8"), ("1 3/4", "7/4"), (0.1, "1/10"), ("2.5", "5/2"), ("-1 1/2", "-3/2"), (" 3 ", "3")],
)
def test_numbers_of_the_data_are_exact(text: str | float, value: str) -> None:
    assert exact(text) == Fraction(value)


@pytest.mark.parametrize("text", ["", "four", "1/0", "1 4", "3 1/0", True, float("nan"), float("inf")])
def test_what_is_not_a_number(text: str | float) -> None:
    with pytest.raises(ValueError, match="is not a number"):
        exact(text)


def test_units_that_do_not_fit() -> None:
    with pytest.raises(pint.DimensionalityError):
        measure(1, "in").to("psi")
    assert not fits("in", "psi")
    assert not is_unit("furlongz")
    assert registry() is registry()


@pytest.mark.parametrize("text", ["1e99999999", "foot**9**9", "in**2", "3 in", "in ", "in\n", "", "a" * 21])
def test_an_expression_is_no_unit_and_is_not_worked_out(text: str) -> None:
    """Of some there would be no end. Records hold only names too (voice.data.fields.Unit)."""
    assert not is_unit(text)
    with pytest.raises(pint.PintError):
        fits(text, "in")
    with pytest.raises(pint.PintError):
        Measure(Fraction(1), text).to("in")
    with pytest.raises(pint.PintError):
        Measure(Fraction(1), "in").to(text)


@pytest.mark.parametrize(
    ("section", "aloud"),
    [
        ("49 CFR 393.75(b)", "federal rule three ninety three point seventy five, paragraph b"),
        ("49 CFR 393.47(d)(1)", "federal rule three ninety three point forty seven, paragraph d one"),
        ("49 CFR 392.9(b)", "federal rule three ninety two point nine, paragraph b"),
        ("49 CFR 396.11(a)(3)", "federal rule three ninety six point eleven, paragraph a three"),
        ("CVSA out-of-service criteria, tires", "out of service criteria, tires"),
        ("Model CDL manual, 5.3.3", "driver license manual, five point three point three"),
        ("common practice, no source", "common practice"),
    ],
)
def test_sections_aloud(section: str, aloud: str) -> None:
    assert spoken_source(section) == aloud


def test_every_source_can_be_said() -> None:
    for rule in (*shipped().limits, *shipped().criteria):
        aloud = spoken_source(rule.source.section)
        assert aloud
        assert not any(letter.isdigit() or letter in "§()/" for letter in aloud), aloud
