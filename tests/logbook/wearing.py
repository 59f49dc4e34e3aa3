"""Simulated wear whose truth is known."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from tests.logbook.data import DAY0
from voice.logbook.wear import Sample

MILES_A_DAY = 450.0


@dataclass(frozen=True, slots=True)
class Truth:
    """rate: inches a mile; value: the true value at the last reading; last: its odometer."""

    points: list[Sample]
    rate: float
    value: float
    last: float

    def reaches(self, limit: float) -> float:
        """The odometer at which the true value is at the limit."""
        return self.last + (limit - self.value) / self.rate


def simulate(
    rng: np.random.Generator,
    readings: int,
    every: float,
    noise: float,
    *,
    rate: float | None = None,
    replaced: int | None = None,
    odd: float = 0.0,
    start: float = 18.0,
) -> Truth:
    """Tread worn evenly with the miles and read to 1/32 in.

    every: days between readings, on average. noise: standard deviation of the gauge in 1/32 in. rate: inches a mile;
    drawn from 0.6/32 to 1.6/32 in 10,000 if None. replaced: from which reading on a tire with 10/32 more. odd: share
    of readings off by 4/32.
    """
    rate = -rng.uniform(0.6, 1.6) / 32 / 10_000 if rate is None else rate
    days = np.cumsum(rng.uniform(0.5, 1.5, readings) * every)
    miles = 100_000 + MILES_A_DAY * days
    true = (start - rng.uniform(0, 1)) / 32 + rate * (miles - 100_000)
    if replaced is not None:
        true[replaced:] += 10 / 32
    read = true * 32 + rng.normal(0, noise, readings)
    read += np.where(rng.random(readings) < odd, rng.choice([-4.0, 4.0], readings), 0.0)
    read = np.round(read) / 32
    made = [
        Sample(DAY0 + timedelta(days=float(day)), float(mile), float(value))
        for day, mile, value in zip(days, miles, read, strict=True)
    ]
    return Truth(made, rate, float(true[-1]), float(miles[-1]))
