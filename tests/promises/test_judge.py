"""Figures of the judging that no other test holds to the last digit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.judge.test_brakes import FIVE_AXLES, count, named, spring_limits
from tests.judge.yard import at, axle, rig, shipped, steer, stepped
from tests.walk.talkative import context
from voice.judge import assess_results, judge_answer, judge_defect, judge_reading
from voice.judge.air import reserve_share
from voice.judge.answer import Answer
from voice.judge.brakes import judge_spring_brakes
from voice.measure import Measure
from voice.measure.level import Level
from voice.route.answer import Choice, Option


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


def test_of_two_defects_of_one_part_both_stand_in_the_summary() -> None:
    vehicle = rig()
    subject = at(vehicle, 2, "left", item="tire-condition")
    both = [judge_defect(shipped(), subject, name, part="tires") for name in ("cut", "cords")]
    result = stepped(vehicle, 2, "left", both, step="tire-condition@left-2", part="tires", outcome="defect")
    against = assess_results(shipped(), vehicle, [result]).against
    assert [(each.finding.defect, each.finding.level) for each in against] == [
        ("cords", Level.HALT), ("cut", Level.REPAIR),
    ]  # fmt: skip


def test_a_reading_exactly_as_specified_is_not_watched() -> None:
    """The pressure is the one to aim at (49 CFR 393.75(i)(1)); other limits are watched at their figure."""
    vehicle = rig([steer(cold_psi=Fraction(90), max_psi=Fraction(110)), axle()])
    subject = at(vehicle, 1, "left", item="tire-pressure")
    assert {found.level for found in judge_reading(shipped(), subject, "cold-inflation", psi(90))} == {Level.WITHIN}
    tread = judge_reading(shipped(), subject, "tread-depth", Measure(Fraction(4, 32), "in"))
    assert Level.WATCH in {found.level for found in tread}


@pytest.mark.parametrize(("chosen", "defects"), [("dry", set()), ("wet", {"leaking"}), (None, set())])
def test_a_choice_reports_the_defect_of_the_option_that_was_chosen_and_no_other(
    chosen: str | None, defects: set[str]
) -> None:
    known = context(only=("hoses",))
    (step,) = known.plan.steps
    options = (
        Option(id="dry", title="Dry", say=("dry",)),
        Option(id="wet", title="Wet", say=("wet",), defect="leaking"),
        Option(id="torn", title="Torn", say=("torn",), defect="broken"),
    )
    step = step.model_copy(update={"item": step.item.model_copy(update={"answer": Choice(options=options)})})
    answer = Answer(step.id, "choice", 0, 1, choice=chosen)
    assert {found.defect for found in judge_answer(shipped(), known.plan.vehicle, step, answer).findings} == defects
