"""Timed air checks: exact rates from gauge readings and the time that was really measured."""

from __future__ import annotations

from fractions import Fraction

from voice.measure import Measure


def leak_rate(start: Measure, end: Measure, seconds: Fraction | float) -> Measure:
    """The loss per minute, in the start reading's unit a minute: (start - end) x 60 / seconds, exact.

    seconds: as measured, whatever was meant. A pressure that rose gives a negative rate. Raises ValueError if no time
    has passed.
    """
    time = seconds if isinstance(seconds, Fraction) else Fraction(repr(float(seconds)))
    if time <= 0:
        raise ValueError("a rate needs a time above zero")
    return Measure((start.value - end.to(start.unit).value) * 60 / time, f"{start.unit}/min")


def elapsed(first: float, second: float) -> Measure:
    """The time between two stamps in seconds, to the millisecond (a stamp is no finer than that)."""
    return Measure(Fraction(round((second - first) * 1000), 1000), "s")


def reserve_share(before: Measure, after: Measure) -> Measure:
    """The pressure left after one full application, in percent of that before (49 CFR 393.50(a))."""
    if before.value <= 0:
        raise ValueError("the pressure before must be above zero")
    return Measure(after.to(before.unit).value * 100 / before.value, "percent")
