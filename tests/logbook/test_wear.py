"""Trends and forecasts of wear: against scipy, worked examples, and simulated wear whose truth is known."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tests.logbook.data import DAY0, day
from tests.logbook.invented import profile
from tests.logbook.wearing import simulate
from voice.judge.load import load_limits
from voice.logbook.bounds import limit_for, limits_for
from voice.logbook.history import forecast_words
from voice.logbook.jumps import gauge_step, starts
from voice.logbook.trends import Series, Wear, pair_sentence, uneven_pairs, wear_of, wear_sentence
from voice.logbook.wear import (
    GROUPS,
    ROUNDING,
    Reach,
    Sample,
    Trend,
    _grouped,
    line,
    reach,
    trend,
    uneven,
)
from voice.route.model import Place

VEHICLE = profile(1)
LAST = day(77)
LIMITS = load_limits()


def points(miles: Sequence[float], values: Sequence[float], days: Sequence[float] | None = None) -> list[Sample]:
    when = [mile / 400 for mile in miles] if days is None else days
    return [Sample(DAY0 + timedelta(days=at), mile, value) for at, mile, value in zip(when, miles, values, strict=True)]


def series(values: Sequence[Sample], place: Place, quantity: str = "tread-depth", item: str = "tire-tread") -> Series:
    where = "-".join(str(part) for part in (place.side, place.axle, place.tire) if part is not None)
    spoken = where.replace("-", " ")
    return Series(item, where, quantity, "", "in", "Tread", spoken, place, tuple(values))


# --- against others ---------------------------------------------------------------------------------------------------


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 300), st.integers(-8, 40)), min_size=3, max_size=30).filter(
        lambda drawn: len({x for x, _ in drawn}) > 1
    )
)
def test_the_slope_is_the_median_of_all_and_the_interval_holds_it(drawn: list[tuple[int, int]]) -> None:
    """By the definition (Sen 1968). All but tied there is no interval, and nothing may be concluded."""
    x, y = [float(a) for a, _ in drawn], [float(b) for _, b in drawn]
    slope, low, high = line(x, y)
    slopes = [Fraction(int(y[j] - y[i]), int(x[j] - x[i])) for i in range(len(x)) for j in range(len(x)) if x[j] > x[i]]
    assert slope == pytest.approx(float(np.median([float(one) for one in slopes])))
    assert low <= slope <= high


def test_where_nearly_all_is_tied_the_interval_has_no_end() -> None:
    assert line([0, 0, 0, 0, 1], [5, 5, 5, 5, 5]) == (0.0, -np.inf, np.inf)


@pytest.mark.parametrize("many", [1, 2, 19, 20, 21, 39, 40, 41, 250])
def test_groups_are_of_neighbors_without_the_outer_quarters(many: int) -> None:
    """By the definition, with numpy's array_split; the trimmed mean is scipy.stats.trim_mean's."""
    rng = np.random.default_rng(many)
    xs, ys = np.sort(rng.uniform(0, 100, many)), rng.normal(size=many)
    found_x, found_y = _grouped(xs, ys)
    if many <= GROUPS:
        assert found_x.tolist() == xs.tolist()
        assert found_y.tolist() == ys.tolist()
        return
    parts = np.array_split(np.arange(many), GROUPS)
    assert found_x == pytest.approx([xs[part].mean() for part in parts])
    assert found_y == pytest.approx([stats.trim_mean(ys[part], 0.25) for part in parts])


@given(st.lists(st.integers(-50, 50).map(lambda n: n / 32), min_size=1, max_size=40))
def test_the_gauges_step_is_the_smallest_difference(values: list[float]) -> None:
    different = np.unique(values)
    assert gauge_step(values) == pytest.approx(np.diff(different).min() if different.size > 1 else 0)


def test_a_short_trend_is_scipys_but_for_the_gauges_division() -> None:
    miles = [0, 2_000, 3_900, 6_100, 8_000, 9_900, 12_200]
    values = [v / 32 for v in (18, 18, 17, 17, 17, 16, 16)]
    found = trend(points(miles, values))
    assert found is not None
    expected = stats.theilslopes(values, miles, alpha=0.95)
    wider = ROUNDING * (1 / 32) / 12_200
    assert (found.slope, found.low, found.high) == pytest.approx(
        (expected.slope, expected.low_slope - wider, expected.high_slope + wider)
    )
    assert (found.readings, found.axis, found.span, found.last) == (7, "mile", 12_200, 12_200)


def test_worked_example_tread() -> None:
    """Steer tread 12/32 at 100,000 mi and 10/32 at 120,000: 1/32 per 10,000 mi; 4/32 (49 CFR 393.75(b)) at 180,000."""
    miles = [100_000 + 4_000 * n for n in range(6)]
    found = trend(points(miles, [12 / 32 - n * 4_000 / 10_000 / 32 for n in range(6)]))
    assert found is not None
    assert found.slope == pytest.approx(-1 / 32 / 10_000)
    ahead = reach(found, 4 / 32, falling=True)
    # 60,000 miles on from 20,000 watched is further than is foretold ...
    assert ahead == "far"
    # ... but half of it, 7/32 at 150,000, is.
    ahead = reach(found, 7 / 32, falling=True)
    assert isinstance(ahead, Reach)
    assert ahead.at == pytest.approx(150_000)
    slope, level = found.slope, found.level
    assert found.last + (4 / 32 - level) / slope == pytest.approx(180_000)


def test_worked_example_lining() -> None:
    """Lining 10/16 to 8/16 in 40,000 mi: 1/16 per 20,000; from 8/16 to 1/4 in (49 CFR 393.47(d)) another 80,000."""
    miles = [8_000 * n for n in range(6)]
    found = trend(points(miles, [10 / 16 - n * 8_000 / 20_000 / 16 for n in range(6)]))
    assert found is not None
    ahead = reach(found, 4 / 16, falling=True)
    assert isinstance(ahead, Reach)
    assert ahead.at - found.last == pytest.approx(80_000)
    assert ahead.days == pytest.approx(80_000 / 400)
    assert ahead.soonest <= ahead.at <= ahead.latest


# --- known truth ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("readings", "every", "noise"), [(10, 14, 0.25), (30, 7, 0.25), (120, 1.4, 0.5)])
def test_the_interval_covers_the_truth(readings: int, every: float, noise: float) -> None:
    """Nominal 95 %. Of 150 draws, true coverage of 95 % gives fewer than 134 once in 400 (binomial)."""
    rng = np.random.default_rng(4)
    covered = 0
    for _ in range(150):
        truth = simulate(rng, readings, every, noise)
        found = trend(truth.points)
        covered += found is not None and found.low <= truth.rate <= found.high
    assert covered >= 134


def test_when_the_limit_is_reached_covers_the_truth() -> None:
    rng = np.random.default_rng(6)
    said = covered = 0
    for _ in range(150):
        truth = simulate(rng, 30, 7, 0.25)
        found = trend(truth.points)
        ahead = None if found is None else reach(found, 4 / 32, falling=True)
        if isinstance(ahead, Reach):
            said += 1
            covered += ahead.soonest <= truth.reaches(4 / 32) <= ahead.latest
    assert said >= 90
    assert covered / said >= 0.9


def test_nothing_is_foretold_of_what_does_not_change() -> None:
    rng = np.random.default_rng(8)
    said = 0
    for _ in range(150):
        truth = simulate(rng, 30, 7, 0.5, rate=0.0)
        found = trend(truth.points)
        assert found is not None
        said += isinstance(reach(found, found.level - 0.05, falling=True), Reach)
    assert said <= 12  # at most the interval's own error, on one side


@pytest.mark.parametrize("fitted", [6, 12, 20])
@pytest.mark.parametrize("noise", [0.1, 0.4])
def test_a_replaced_tire_starts_a_new_series(fitted: int, noise: float) -> None:
    rng = np.random.default_rng(9)
    for _ in range(40):
        truth = simulate(rng, 30, 7, noise, replaced=30 - fitted)
        found = trend(truth.points)
        assert found is not None
        assert found.since == truth.points[30 - fitted].at
        assert found.readings == fitted


def test_one_odd_reading_starts_nothing_and_moves_little() -> None:
    rng = np.random.default_rng(10)
    truth = simulate(rng, 30, 7, 0.2)
    clean = trend(truth.points)
    spoiled = list(truth.points)
    spoiled[12] = Sample(spoiled[12].at, spoiled[12].odometer, 30 / 32)
    found = trend(spoiled)
    assert clean is not None
    assert found is not None
    assert found.readings == 30
    assert found.slope == pytest.approx(clean.slope, rel=0.25)


def test_a_jump_at_the_very_end_stops_the_forecast_until_the_next_reading() -> None:
    miles = [3_000 * n for n in range(12)]
    values = [8 / 32 - n * 0.25 / 32 for n in range(12)]
    assert isinstance(reach(_trend(miles, values), 4 / 32, falling=True), Reach)
    one_new = [*values[:-1], 18 / 32]
    found = _trend(miles, one_new)
    assert (found.odd_last, found.readings) == (True, 11)
    assert reach(found, 4 / 32, falling=True) == "odd"
    two_new = [*values[:-2], 18 / 32, 18 / 32]
    assert starts(miles, two_new) == [0, 10]
    assert trend(points(miles, two_new)) is None


def _trend(miles: Sequence[float], values: Sequence[float]) -> Trend:
    found = trend(points(miles, values))
    assert found is not None
    return found


def test_why_nothing_is_foretold() -> None:
    miles = [1_000 * n for n in range(10)]
    falling = [18 / 32 - n / 32 for n in range(10)]
    assert reach(trend(points(miles[:5], falling[:5])), 4 / 32, falling=True) == "few"  # type: ignore[arg-type]
    quick = trend(points(miles, falling, days=[n / 10 for n in range(10)]))
    assert reach(quick, 4 / 32, falling=True) == "short"  # type: ignore[arg-type]
    found = trend(points(miles, falling))
    assert found is not None
    assert reach(found, 12 / 32, falling=True) == "beyond"
    assert reach(found, 30 / 32, falling=False) == "away"
    assert reach(found, -60 / 32, falling=True) == "far"
    still = trend(points(miles, [10 / 32] * 10))
    assert still is not None
    assert reach(still, 4 / 32, falling=True) == "flat"


def test_without_an_odometer_it_goes_with_the_days() -> None:
    made = [Sample(DAY0 + timedelta(days=7 * n), None, 60 + n) for n in range(10)]
    found = trend(made)
    assert found is not None
    assert (found.axis, found.slope, found.per_day) == ("day", pytest.approx(1 / 7), pytest.approx(1))
    ahead = reach(found, 75.0, falling=False)
    assert isinstance(ahead, Reach)
    assert ahead.days == pytest.approx(42)


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(0, 500_000), st.floats(0, 2)), max_size=40))
def test_whatever_was_read_the_order_of_the_numbers_holds(drawn: list[tuple[float, float]]) -> None:
    drawn.sort()
    found = trend(points([x for x, _ in drawn], [y for _, y in drawn]))
    if found is None:
        return
    assert found.low <= found.slope <= found.high
    assert found.level_low <= found.level_high
    assert found.readings <= len(drawn)
    for falling in (True, False):
        ahead = reach(found, 0.1, falling=falling)
        if isinstance(ahead, Reach):
            assert ahead.soonest <= ahead.at * (1 + 1e-9)
            assert ahead.at <= ahead.latest * (1 + 1e-9)
            assert found.last <= ahead.soonest


def test_many_readings_are_gathered() -> None:
    rng = np.random.default_rng(2)
    truth = simulate(rng, 300, 1, 0.3)
    found = trend(truth.points)
    assert found is not None
    assert found.readings == 300
    assert GROUPS < 300
    assert found.low <= truth.rate <= found.high


def test_the_division_of_the_gauge() -> None:
    assert gauge_step([4 / 32, 7 / 32, 5 / 32]) == pytest.approx(1 / 32)
    assert gauge_step([1.0, 1.0]) == 0.0


# --- limits, sentences, unevenness ------------------------------------------------------------------------------------


def test_limits_come_from_the_limits_files() -> None:
    """49 CFR 393.75(b), (c); 393.47(d)(2), (e) type 30; 393.75(i) with the vehicle's own cold pressure."""
    steer, drive = Place(side="left", axle=1), Place(side="left", axle=2, tire="outer")

    def value(quantity: str, place: Place, unit: str = "in") -> tuple[float, bool]:
        (found,) = limits_for(LIMITS, quantity, place, VEHICLE, unit)
        return found.value, found.falling

    assert value("tread-depth", steer) == (4 / 32, True)
    assert value("tread-depth", drive) == (2 / 32, True)
    assert value("lining-thickness", drive) == (1 / 4, True)
    assert value("pushrod-stroke-applied", drive) == (2, False)
    assert value("cold-inflation", drive, "psi") == (100, True)
    assert value("tread-depth", steer, "mm") == (pytest.approx(3.175), True)
    assert limit_for(LIMITS, "unheard-of", steer, VEHICLE, "in") is None
    assert limit_for(LIMITS, "tread-depth", Place(axle=9), VEHICLE, "in") is None


def steer_wear(now: datetime = LAST) -> Wear:
    """Reaches 4/32 in 35 days from its last reading: five weeks. now: by default the day of that reading."""
    miles = [400 * 7 * n for n in range(12)]
    values = [(4 + 35 / 7 * 0.5 + (11 - n) * 0.5) / 32 for n in range(12)]
    return wear_of(series(points(miles, values), Place(side="left", axle=1)), LIMITS, VEHICLE, now)


def test_what_is_said_of_a_limit_soon_reached() -> None:
    wear = steer_wear()
    assert isinstance(wear.ahead, Reach)
    assert wear.ahead.days == pytest.approx(35, abs=0.5)
    aloud = wear_sentence(wear, aloud=True)
    assert aloud == (
        "Left 1, tread depth: about five weeks until four thirty seconds of an inch, at the rate seen so far."
    )
    printed = wear_sentence(wear, aloud=False)
    assert printed is not None
    assert f"reaches its limit (4/32 in) in about 5 weeks, around {wear.ahead.day} (between" in printed
    assert wear.ahead.day is not None
    assert abs(wear.ahead.day - day(77 + 35).date()) <= timedelta(days=1)


def test_a_forecast_counts_from_today_and_not_from_the_last_reading() -> None:
    later = steer_wear(day(77 + 14))
    assert "about three weeks until" in str(wear_sentence(later, aloud=True))
    # The day stays the same: a page that is read later is still right.
    assert isinstance(first := steer_wear().ahead, Reach)
    assert f"in about 3 weeks, around {first.day} (between" in str(wear_sentence(later, aloud=False))
    assert forecast_words(later).startswith(f"about 3 weeks, {first.day} (")
    passed = steer_wear(day(77 + 40))
    told = str(wear_sentence(passed, aloud=True))
    assert told.endswith("At the rate seen so far four thirty seconds of an inch is reached by now.")
    assert "is reached by now" in str(wear_sentence(passed, aloud=False))
    assert forecast_words(passed) == "by now, at the rate seen so far"


def test_what_is_said_beyond_the_limit_and_of_what_cannot_be_told() -> None:
    """49 CFR 393.75(b) asks for at least 4/32 in on the front wheels: what has just that is within."""
    miles = [2_800 * n for n in range(8)]
    worn = wear_of(series(points(miles, [3 / 32] * 8), Place(side="left", axle=1)), LIMITS, VEHICLE, day(77))
    assert wear_sentence(worn, aloud=False) == (
        "Left 1: tread depth was 3/32 in at the last readings; the limit is 4/32 in (49 CFR 393.75(b))."
    )
    for values in ([4 / 32] * 8, [4 / 32 if n % 4 == 3 else 3 / 32 for n in range(8)]):
        at = wear_of(series(points(miles, values), Place(side="left", axle=1)), LIMITS, VEHICLE, day(77))
        assert at.ahead == "flat"
        assert wear_sentence(at, aloud=False) is None
    few = wear_of(series(points(miles[:4], [9 / 32] * 4), Place(side="left", axle=1)), LIMITS, VEHICLE, day(77))
    assert few.ahead == "few"
    assert wear_sentence(few, aloud=True) is None


def test_uneven_wear_left_to_right_and_inner_to_outer_is_flagged() -> None:
    miles = [3_000 * n for n in range(12)]

    def worn(by: float, place: Place) -> Wear:
        values = [round(20 - n * by) / 32 for n in range(12)]
        return wear_of(series(points(miles, values), place), LIMITS, VEHICLE, day(77))

    left, right = Place(side="left", axle=1), Place(side="right", axle=1)
    outer, inner = Place(side="left", axle=2, tire="outer"), Place(side="left", axle=2, tire="inner")
    wears = [worn(0.5, left), worn(1.0, right), worn(0.5, outer), worn(0.9, inner)]
    pairs = uneven_pairs(wears)
    assert [(pair.more.series.place, pair.less.series.place) for pair in pairs] == [
        ("left-1", "right-1"),
        ("left-2-outer", "left-2-inner"),
    ]
    assert pairs[0].difference == pytest.approx(5.5 / 32, abs=1 / 32)
    assert "more tread depth than right 1" in pair_sentence(pairs[0], aloud=False)
    assert uneven_pairs([worn(0.5, left), worn(0.52, right), worn(0.5, outer)]) == []


def test_unevenness_needs_more_than_the_gauges_error() -> None:
    rng = np.random.default_rng(11)
    flagged = 0
    for _ in range(100):
        rate = -1 / 32 / 10_000
        one, two = (trend(simulate(rng, 20, 7, 0.5, rate=rate).points) for _ in range(2))
        assert one is not None
        assert two is not None
        flagged += uneven(one, two) is not None
    assert flagged <= 3


def test_an_advisory_figure_is_shown_where_there_is_nothing_stricter() -> None:
    """Mud flap 10 in above the ground: common practice, no source."""
    (found,) = limits_for(LIMITS, "mud-flap-height", Place(side="left"), VEHICLE, "in")
    assert (found.value, found.falling, found.source) == (10.0, False, "common practice, no source")
