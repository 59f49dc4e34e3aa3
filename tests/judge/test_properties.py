"""What must hold for every limit and every reading."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.judge.yard import at, axle, rig, shipped, steer, truck
from voice.judge import Subject, judge_reading
from voice.judge.limit import Limit
from voice.judge.reading import bounds_of
from voice.measure import Measure
from voice.measure.book import unit_book
from voice.measure.level import Level
from voice.route.vehicle import Brake, Chamber, Governor, Steering, Trailer, Vehicle

VEHICLES: list[Vehicle] = [
    rig(governor=Governor(cut_in=Fraction(100), cut_out=Fraction(125))),
    rig((steer(cold_psi=110, max_psi=120), axle(cold_psi=95, max_psi=110, studs=8)), towed_units=3),
    rig(trailer=Trailer(body="flatbed", built=1990), placarded=True, steering=Steering(power=False)),
    rig(
        (
            steer(brake=Brake(kind="air-disc", chamber=Chamber(size="24", long_stroke=True))),
            axle(brake=Brake(kind="air-disc")),
        )
    ),
    truck(
        brakes="hydraulic",
        axles=[steer("truck", brake=Brake(kind="hydraulic-disc")), axle("truck", brake=Brake(kind="hydraulic-drum"))],
    ),
    truck(kind="bus", air_system="single", steering=Steering(wheel_in=Fraction(23))),
    truck([steer("truck", brake=Brake(kind="air-drum", lining="two-pad")), axle("truck")]),
]
SUBJECTS = [at(vehicle, number, side) for vehicle in VEHICLES for number in (None, 1, 2) for side in ("left", "right")]
LIMITS = list(shipped().limits)
OTHER_UNITS = {"in": ["mm", "cm", "ft"], "psi": ["kPa", "bar"], "psi/min": ["kPa/min"], "s": ["min"], "mi": ["km"], "h": ["min"]}  # fmt: skip  # noqa: E501

subjects = st.sampled_from(SUBJECTS)
limits = st.sampled_from(LIMITS)
values = st.fractions(0, 200, max_denominator=64)


def level_under(limit: Limit, subject: Subject, value: Fraction) -> Level | None:
    found = judge_reading(shipped(), subject, limit.quantity, Measure(value, limit.unit))
    return next((finding.level for finding in found if finding.limit == limit.id), None)


@settings(max_examples=400)
@given(limit=limits, subject=subjects, first=values, second=values)
def test_a_worse_reading_never_gets_a_better_verdict(
    limit: Limit, subject: Subject, first: Fraction, second: Fraction
) -> None:
    """On either side of what is wanted: farther from it is never judged milder."""
    bounds = bounds_of(shipped(), limit, subject)
    assume(bounds is not None)
    assert bounds is not None
    if bounds.low is not None and bounds.high is not None:  # worse means farther from the middle
        middle = (bounds.low + bounds.high) / 2
        assume((first - middle) * (second - middle) >= 0)
        worse, better = sorted((first, second), key=lambda value: -abs(value - middle))
    else:
        worse, better = sorted((first, second), reverse=bounds.high is not None)
    worse_level, better_level = level_under(limit, subject, worse), level_under(limit, subject, better)
    assert worse_level is not None
    assert better_level is not None
    assert worse_level >= better_level


ONE_WAY = sorted(
    {limit.quantity for limit in LIMITS}
    - {limit.quantity for limit in LIMITS if limit.must == "between"}
    - {"cold-inflation"}  # has a maximum too, checked limit by limit above
)


@settings(max_examples=300)
@given(quantity=st.sampled_from(ONE_WAY), subject=subjects, first=values, second=values)
def test_nor_over_all_limits_of_a_quantity_together(
    quantity: str, subject: Subject, first: Fraction, second: Fraction
) -> None:
    applying = [limit for limit in shipped().of_quantity(quantity) if bounds_of(shipped(), limit, subject)]
    assume(applying)
    downward = {limit.must in ("at-most", "less-than") for limit in applying}
    assert len(downward) == 1  # all of them look the same way
    worse, better = sorted((first, second), reverse=downward.pop())

    def worst(value: Fraction) -> Level:
        unit = applying[0].unit
        return max(f.level for f in judge_reading(shipped(), subject, quantity, Measure(value, unit)))

    assert worst(worse) >= worst(better)


@settings(max_examples=300)
@given(limit=limits, subject=subjects, value=values, data=st.data())
def test_the_verdict_does_not_depend_on_the_unit(
    limit: Limit, subject: Subject, value: Fraction, data: st.DataObject
) -> None:
    units = OTHER_UNITS.get(limit.unit)
    assume(units)
    assert units is not None
    reading = Measure(value, limit.unit)
    other = reading.to(data.draw(st.sampled_from(units)))

    def told(measure: Measure) -> list[tuple[str, Level, Measure | None]]:
        return [(f.limit, f.level, f.margin) for f in judge_reading(shipped(), subject, limit.quantity, measure)]

    assert told(reading) == told(other)


@pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.id)
def test_exactly_at_the_limit_is_decided_by_its_comparison(limit: Limit) -> None:
    """at-least, at-most and between are met at the figure; more-than and less-than are not."""
    tried = 0
    for subject in SUBJECTS:
        bounds = bounds_of(shipped(), limit, subject)
        if bounds is None:
            continue
        for end in {bounds.low, bounds.high} - {None}:
            assert end is not None
            level = level_under(limit, subject, end)
            assert level is not None
            failed = limit.must in ("more-than", "less-than")
            assert (level.word == limit.level) is failed
            if not failed and limit.level in ("repair", "halt"):
                expected = Level.WITHIN if limit.target and limit.near is None else Level.WATCH
                assert level is expected
            tried += 1
    assert tried, "no vehicle of this file has this limit"


@settings(max_examples=200)
@given(subject=subjects, quantity=st.sampled_from(sorted(unit_book().quantities)), value=values)
def test_findings_are_worst_first_and_name_a_source(subject: Subject, quantity: str, value: Fraction) -> None:
    unit = unit_book().quantities[quantity].unit
    found = judge_reading(shipped(), subject, quantity, Measure(value, unit))
    assert [f.level for f in found] == sorted((f.level for f in found), reverse=True)
    for finding in found:
        assert finding.source
        assert finding.limit_text
        assert finding.limit_spoken
        assert finding.layer == "us-federal.yaml"
        assert finding.reading == Measure(value, unit)
