"""Where a series of readings begins anew (a part was replaced), and a reading that is only odd. Pure numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# A jump is lasting and well above noise: so many times the noise, so many divisions of the gauge, seen by the medians
# of so many readings on each side.
JUMP_NOISE, JUMP_STEPS, JUMP_WINDOW = 6.0, 2.5, 3


def gauge_step(values: Sequence[float] | Floats) -> float:
    """The smallest difference between two different readings: the division of the gauge, or finer."""
    gaps = np.diff(np.sort(np.round(np.asarray(values, dtype=float), 9)))
    different = gaps[gaps > 0]
    return float(different.min()) if different.size else 0.0


def median(values: Floats) -> float:
    return float(np.median(values))


def starts(x: Sequence[float] | Floats, y: Sequence[float] | Floats) -> list[int]:
    """Where a series begins anew: indices, the first always 0.

    x: rising. A jump must be lasting and well above noise.

    The readings before and after each gap are compared by their medians (up to three on each side), less the usual
    change. Only one reading after a jump is not enough to call it one.
    """
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if xs.size < 4:
        return [0]
    rises, gaps = np.diff(ys), np.diff(xs)
    rate = _usual_rate(rises, gaps)
    rest = rises - rate * gaps
    step = gauge_step(ys)
    noise = max(1.4826 * median(np.abs(rest - median(rest))) / math.sqrt(2), step / math.sqrt(12))
    least = max(JUMP_NOISE * noise, JUMP_STEPS * step)
    found = [0]
    for index in np.flatnonzero(np.abs(rest) >= max(least / 2, 1e-12)):
        # The jump is at the largest of neighboring differences, else one would be found at each window that sees it.
        largest = float(np.abs(rest[index : index + JUMP_WINDOW]).max())
        if abs(rest[index]) >= 0.999 * largest and abs(_shift(xs, ys, rate, found[-1], int(index) + 1)) >= least:
            found.append(int(index) + 1)
    return found


def _usual_rate(rises: Floats, gaps: Floats) -> float:
    with np.errstate(over="ignore"):
        return median(rises / np.where(gaps > 0, gaps, np.inf))


def _shift(xs: Floats, ys: Floats, rate: float, start: int, at: int) -> float:
    before = slice(max(start, at - JUMP_WINDOW), at)
    after = slice(at, at + JUMP_WINDOW)
    if ys[after].size < 2:
        return 0.0
    leveled = [part_y - rate * (part_x - xs[at]) for part_y, part_x in ((ys[p], xs[p]) for p in (before, after))]
    return median(leveled[1]) - median(leveled[0])


def odd_last(xs: Floats, ys: Floats) -> bool:
    """Whether the last reading alone jumps: a replaced part, or a misread gauge; it takes another to tell."""
    if xs.size < 5:
        return False
    rises, gaps = np.diff(ys), np.diff(xs)
    rate = _usual_rate(rises[:-1], gaps[:-1])
    rest = rises - rate * gaps
    step = gauge_step(ys[:-1])
    noise = max(1.4826 * median(np.abs(rest[:-1])) / math.sqrt(2), step / math.sqrt(12))
    return bool(noise > 0 and abs(rest[-1]) >= max(JUMP_NOISE * noise, JUMP_STEPS * step))
