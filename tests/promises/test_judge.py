"""Figures of the judging that no other test holds to the last digit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.judge.test_brakes import FIVE_AXLES, count, named, spring_limits
from tests.judge.yard import at, stepped
from voice.judge import judge_defect
from voice.judge.air import reserve_share
from voice.judge.brakes import judge_spring_brakes
from voice.measure import Measure
from voice.measure.level import Level


def psi(value: int) -> Measure:
    return Measure(Fraction(value), "psi")


def test_the_reserve_is_an_exact_share_of_the_pressure_before() -> None:
    """49 CFR 393.50(a): in percent of the pressure before the application."""
    assert reserve_share(psi(120), psi(84)) == Measure(Fraction(70), "percent")
    assert reserve_share(psi(1), psi(1)) == Measure(Fraction(100), "percent")
    with pytest.raises(ValueError, match="above zero"):
        reserve_share(psi(0), psi(0))


@pytest.mark.parametrize(
    ("level", "counted"), [(Level.WITHIN, 0), (Level.WATCH, 0), (Level.REPAIR, 1), (Level.HALT, 1)]
)
def test_a_reported_overstroke_counts_from_repair_on(level: Level, counted: int) -> None:
    reported = named(FIVE_AXLES, 2, "left", "brake-chamber", "overstroke")
    findings = tuple(replace(finding, level=level) for finding in reported.findings)
    assert count(FIVE_AXLES, [replace(reported, findings=findings)]).defective == counted


def test_the_share_of_spring_brakes_is_exact(tmp_path: Path) -> None:
    """Four axles off the steer axle have eight: two are exactly a quarter."""
    limits = spring_limits(tmp_path)
    results = []
    for number in (2, 3):
        subject = at(FIVE_AXLES, number, "left", "spring-brake")
        finding = judge_defect(limits, subject, "not-working", part="parking-brake")
        results.append(stepped(FIVE_AXLES, number, "left", [finding], outcome="defect"))
    (found,) = judge_spring_brakes(limits, FIVE_AXLES, results)
    assert found.reading == Measure(Fraction(25), "percent")
