"""How a measured quantity changes, and when it reaches its limit. Pure numbers: no database, no wording.

The trend is Theil and Sen's: the median of the slopes between all pairs of readings, with the interval from
Kendall's statistic (Sen 1968), so that a misread gauge moves it little. Two things about real readings need care:

- They are rounded to the gauge's division. Many readings taken while the true value crosses few divisions repeat the
  same error, and the interval, which takes errors as independent, comes out too narrow (90 % and less instead of 95 %,
  see tests/benchmarks/logbook). So readings are gathered into at most 20 groups, and the interval is widened by a
  small part of a division over the span.
- A tire that is replaced starts anew: a lasting jump begins a new series, a single odd reading does not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Literal, NamedTuple

import numpy as np

from voice.logbook.jumps import Floats, gauge_step, median, odd_last, starts

Axis = Literal["mile", "day"]
NoReach = Literal["few", "short", "flat", "away", "far", "beyond", "odd"]

GROUPS = 20  # most points a fit is made from
ROUNDING = 0.15  # part of a gauge division, over the span, that the interval is widened by on either side
FEWEST = 6  # readings below which nothing is foretold
SHORTEST_DAYS = 14.0
FURTHEST = 2.0  # times the span watched so far: nothing is foretold beyond


class Sample(NamedTuple):  # a vehicle has thousands: a tuple is made three times as fast as a dataclass
    """A reading.

    odometer: miles, None if it was not taken.
    value: in the series' unit.
    """

    at: datetime
    odometer: float | None
    value: float


@dataclass(frozen=True, slots=True)
class Trend:
    """The change of the series since it last began anew.

    axis: what it goes with.
    slope, low, high: unit of the value per mile or day, with the interval at `confidence`.
    level, level_low, level_high: the value at the last reading, smoothed.
    last: its mile or day.
    span: length watched.
    step: division of the gauge, as far as the readings show.
    odd_last: the last reading alone is far off; left out.
    """

    axis: Axis
    readings: int
    since: datetime
    until: datetime
    slope: float
    low: float
    high: float
    level: float
    level_low: float
    level_high: float
    last: float
    span: float
    step: float
    confidence: float
    per_day: float
    odd_last: bool = False


@dataclass(frozen=True, slots=True)
class Reach:
    """When a limit is reached.

    at, soonest, latest: mile or day of the odometer or the calendar, as the trend's `last`.
    days, days_soonest, days_latest: the same in days, from the last reading or from the moment it was counted from
        (counted_from); below zero it is reached already.
    day: the day it is reached, by the local calendar; None until it was counted from a moment.
    """

    at: float
    soonest: float
    latest: float
    days: float
    days_soonest: float
    days_latest: float
    day: date | None = None


def line(
    x: Sequence[float] | Floats, y: Sequence[float] | Floats, confidence: float = 0.95
) -> tuple[float, float, float]:
    """Theil and Sen's slope and its interval (Sen 1968, equation 2.6).

    x: at least two different values.

    Where nearly all readings are tied no interval is known; it is then without end.
    """
    from scipy.stats import theilslopes  # takes half a second to import

    with np.errstate(invalid="ignore", over="ignore"):
        found = theilslopes(np.asarray(y, dtype=float), np.asarray(x, dtype=float), confidence)
    low, high = float(found.low_slope), float(found.high_slope)
    return float(found.slope), -math.inf if math.isnan(low) else low, math.inf if math.isnan(high) else high


def _grouped(xs: Floats, ys: Floats) -> tuple[Floats, Floats]:
    """At most GROUPS points: of neighbors the mean place, and the mean value without the outer quarters."""
    if xs.size <= GROUPS:
        return xs, ys
    size, over = divmod(xs.size, GROUPS)
    cut = over * (size + 1)  # the first `over` groups have one more
    blocks = [(xs[:cut], ys[:cut], size + 1), (xs[cut:], ys[cut:], size)]
    means_x, means_y = [], []
    for part_x, part_y, width in blocks:
        ordered = np.sort(part_y.reshape(-1, width), axis=1)
        outer = width // 4
        means_x.append(part_x.reshape(-1, width).mean(axis=1))
        means_y.append(ordered[:, outer : width - outer].mean(axis=1))
    return np.concatenate(means_x), np.concatenate(means_y)


def _level(xs: Floats, ys: Floats, slopes: tuple[float, float, float], at: float) -> tuple[float, float, float]:
    """The line's value at a place, and how far it may be off there."""
    slope, low, high = slopes
    middle = median(xs)
    rest = ys - slope * (xs - middle)
    height = median(rest)
    spread = 1.4826 * median(np.abs(rest - height))
    off = 1.96 * 1.2533 * spread / math.sqrt(xs.size)  # large-sample error of a median
    ahead = at - middle
    if not (math.isfinite(low) and math.isfinite(high)):
        return height + slope * ahead, -math.inf, math.inf
    return height + slope * ahead, height + low * ahead - off, height + high * ahead + off


def trend(points: Sequence[Sample], confidence: float = 0.95) -> Trend | None:
    """The trend since the series last began anew; None with fewer than three readings there, or all at one place.

    points: in order of time. Goes with the odometer if all but a tenth of the readings have one, else with days.
    """
    if len(points) < 3:
        return None
    axis: Axis = "mile" if _has_odometer(points) else "day"
    usable = [point for point in points if axis == "day" or point.odometer is not None]
    first = usable[0].at
    days = np.array([(point.at - first).total_seconds() / 86_400 for point in usable])
    xs = days if axis == "day" else np.array([point.odometer for point in usable], dtype=float)
    order = np.argsort(xs, kind="stable")
    xs, days, ys = xs[order], days[order], np.array([point.value for point in usable])[order]
    begin = starts(xs, ys)[-1]
    xs, days, ys = xs[begin:], days[begin:], ys[begin:]
    moments = [usable[index].at for index in order[begin:]]
    odd = odd_last(xs, ys)
    if odd:
        xs, days, ys, moments = xs[:-1], days[:-1], ys[:-1], moments[:-1]
    span = float(xs[-1] - xs[0]) if xs.size else 0.0
    if xs.size < 3 or span <= 0:
        return None
    step = gauge_step(ys)
    group_x, group_y = _grouped(xs, ys)
    slope, low, high = line(group_x, group_y, confidence)
    wider = ROUNDING * step / span
    low, high = low - wider, high + wider
    last = float(xs[-1])
    level, level_low, level_high = _level(group_x, group_y, (slope, low, high), last)
    watched = float(days[-1] - days[0])
    return Trend(
        axis=axis, readings=int(xs.size), since=moments[0], until=moments[-1], slope=slope, low=low, high=high,
        level=level, level_low=level_low, level_high=level_high, last=last, span=span, step=step,
        confidence=confidence, per_day=span / watched if watched > 0 else 0.0, odd_last=odd,
    )  # fmt: skip


def _has_odometer(points: Sequence[Sample]) -> bool:
    with_it = [point.odometer for point in points if point.odometer is not None]
    return len(with_it) >= 0.9 * len(points) and len(with_it) >= 3 and max(with_it) > min(with_it)


def reach(trend: Trend, limit: float, *, falling: bool, read: float | None = None) -> Reach | NoReach:
    """When the limit is reached, or why that is not said.

    falling: the limit is a least value, reached from above.
    read: the last reading; where it meets the limit, a smoothed value just past it is not told as beyond.

    "few" readings, "short" watch; "flat": no change that is
    sure; "away": changes away from the limit; "far": further off than twice the span watched; "beyond": it is
    beyond the limit already; "odd": the last reading jumped, so the part may be a new one.
    """
    if trend.odd_last:
        return "odd"
    sign = -1.0 if falling else 1.0
    left = (limit - trend.level) * sign
    least = -1e-9 * max(1.0, abs(limit))  # a value at its limit is within it
    if left < least and (read is None or (limit - read) * sign < least):
        return "beyond"
    if trend.readings < FEWEST:
        return "few"
    if trend.per_day <= 0 or trend.span / trend.per_day < SHORTEST_DAYS:
        return "short"
    slow, fast = sorted((trend.low * sign, trend.high * sign))
    if fast < 0:
        return "away"
    if slow <= 0 or abs(trend.slope) * trend.span < trend.step or not math.isfinite(fast):
        return "flat"
    nearest = trend.level_low if falling else trend.level_high
    furthest = trend.level_high if falling else trend.level_low
    at = max(0.0, left) / (trend.slope * sign)
    soonest = max(0.0, (limit - nearest) * sign) / fast
    latest = max(0.0, (limit - furthest) * sign) / slow
    if at > FURTHEST * trend.span * (1 + 1e-9):
        return "far"
    per_day = trend.per_day
    return Reach(
        trend.last + at, trend.last + soonest, trend.last + latest, at / per_day, soonest / per_day, latest / per_day
    )


def counted_from(ahead: Reach, trend: Trend, now: datetime) -> Reach:
    """The same with the days counted from now: a forecast is read some time after the last reading it rests on."""
    since = max(0.0, (now - trend.until).total_seconds() / 86_400)
    return replace(
        ahead,
        days=ahead.days - since,
        days_soonest=ahead.days_soonest - since,
        days_latest=ahead.days_latest - since,
        day=(now + timedelta(days=ahead.days - since)).astimezone().date(),
    )


def uneven(one: Trend, two: Trend) -> float | None:
    """How much more the first has than the second, if that is beyond doubt: two divisions, and intervals apart."""
    if min(one.readings, two.readings) < 3:
        return None
    difference = one.level - two.level
    least = 2 * max(one.step, two.step)
    apart = one.level_low > two.level_high or two.level_low > one.level_high
    return difference if apart and least > 0 and abs(difference) >= least * 0.95 else None
