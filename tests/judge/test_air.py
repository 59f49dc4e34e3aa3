"""Rates and times of the timed checks."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judge.yard import at, measure, rig, worst
from voice.judge import elapsed, leak_rate, reserve_share
from voice.measure import Measure
from voice.measure.level import Level


@pytest.mark.parametrize(
    ("start", "end", "seconds", "rate"),
    [
        ("120", "117", Fraction(60), "3"),
        ("120", "117", Fraction(90), "2"),  # the time that was really measured counts
        ("120", "117", Fraction(45), "4"),
        ("120", "118", Fraction(61), "120/61"),
        ("120", "120", Fraction(60), "0"),
        ("119", "120", Fraction(60), "-1"),  # it rose
        ("120", "119.5", Fraction(60), "1/2"),
    ],
)
def test_rate_is_exact(start: str, end: str, seconds: Fraction, rate: str) -> None:
    assert leak_rate(measure(start, "psi"), measure(end, "psi"), seconds) == Measure(Fraction(rate), "psi/min")


def test_a_float_time_counts_as_the_decimal_that_was_stamped() -> None:
    assert leak_rate(measure(120, "psi"), measure(117, "psi"), 60.1).value == Fraction(1800, 601)


def test_other_units() -> None:
    rate = leak_rate(measure(800, "kPa"), measure(772, "kPa"), Fraction(60))
    assert rate == Measure(Fraction(28), "kPa/min")  # 28 kPa a minute is the Ontario limit: 4 psi and a little more
    assert worst(at(rig()), "air-leak-applied", rate.value, "kPa/min") is Level.REPAIR
    mixed = leak_rate(measure(120, "psi"), measure(120, "psi").to("kPa"), Fraction(60))
    assert mixed == Measure(Fraction(0), "psi/min")


def test_no_time_no_rate() -> None:
    with pytest.raises(ValueError, match="above zero"):
        leak_rate(measure(120, "psi"), measure(118, "psi"), Fraction(0))
    with pytest.raises(ValueError, match="above zero"):
        reserve_share(measure(0, "psi"), measure(0, "psi"))


@given(
    drop=st.fractions(0, 50, max_denominator=10),
    seconds=st.fractions(1, 600, max_denominator=1000),
    factor=st.fractions(Fraction(1, 4), 4, max_denominator=8),
)
def test_the_same_leak_has_the_same_rate_over_any_time(drop: Fraction, seconds: Fraction, factor: Fraction) -> None:
    start = Measure(Fraction(120), "psi")
    once = leak_rate(start, Measure(start.value - drop, "psi"), seconds)
    longer = leak_rate(start, Measure(start.value - drop * factor, "psi"), seconds * factor)
    assert once == longer


@pytest.mark.parametrize(("first", "second", "time"), [(10.0, 55.0, "45"), (0.1, 45.1004, "45"), (3.2, 3.7, "1/2")])
def test_elapsed_to_the_millisecond(first: float, second: float, time: str) -> None:
    assert elapsed(first, second) == Measure(Fraction(time), "s")
