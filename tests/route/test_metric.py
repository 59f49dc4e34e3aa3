"""A metric vehicle is asked, heard and judged in SI units all the way."""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest

from voice.data.folders import prompts_dir
from voice.judge import Subject, judge_reading, load_limits
from voice.measure import Measure
from voice.measure.level import Level
from voice.route import load_library, load_vehicle, make_plan
from voice.route.answer import Call, Hold, Measurement
from voice.route.model import Plan
from voice.understand.meaning import Number
from voice.understand.phrases import Phrasebook


@pytest.fixture(scope="module")
def plans() -> tuple[Plan, Plan]:
    vehicle = load_vehicle(prompts_dir() / "vehicles" / "tractor-trailer-five-axle.yaml")
    library = load_library()
    return make_plan(library, vehicle), make_plan(library, vehicle.model_copy(update={"display_units": "si"}))


def test_no_reading_is_asked_in_us_units(plans: tuple[Plan, Plan]) -> None:
    us, si = plans
    assert [step.id for step in us.steps] == [step.id for step in si.steps]
    for step in si.steps:
        answers = [step.item.answer, *(follow.answer for follow in step.item.follow_ups)]
        for answer in answers:
            if isinstance(answer, Measurement | Hold | Call):
                assert answer.unit in ("mm", "kPa", "s", "count", "percent"), step.id
        asked = " ".join([step.say.terse, step.say.normal, *(follow.ask for follow in step.item.follow_ups)])
        assert "inch" not in asked
        assert "{units}" not in asked


def test_us_wording_names_inches(plans: tuple[Plan, Plan]) -> None:
    us, si = (next(s for s in plan.steps if s.item.id == "belt-play").say.normal for plan in plans)
    assert "inches" in us
    assert "millimeters" in si


def test_the_range_covers_that_of_the_us_gauge(plans: tuple[Plan, Plan]) -> None:
    """Against pint's own conversion."""
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    for us, si in zip(plans[0].steps, plans[1].steps, strict=True):
        one, other = us.item.answer, si.item.answer
        if isinstance(one, Measurement) and isinstance(other, Measurement):
            high = registry.Quantity(float(one.high), one.unit).to(other.unit).magnitude
            assert float(other.high) >= high - 1e-9
            assert float(other.high) < high + float(other.step)


def test_what_is_said_in_millimeters_is_judged_against_the_limit_in_inches(plans: tuple[Plan, Plan]) -> None:
    """49 CFR 393.75(b): 4/32 in is 3.175 mm; the rule's own metric figure is 3.2 mm."""
    step = next(s for s in plans[1].steps if s.id == "tire-tread@left-1")
    answer = step.item.answer
    assert isinstance(answer, Measurement)
    phrases = Phrasebook().number(answer.unit, answer.low, answer.high, answer.step)
    heard = {phrase.text: phrase.meaning for phrase in phrases}
    three, four = heard["three millimeters"], heard["four millimeters"]
    assert isinstance(three, Number)
    assert isinstance(four, Number)
    assert three.value == Measure(Fraction(3), "mm")
    subject = Subject(plans[1].vehicle, step.item.id, step.place)
    limits = load_limits()
    assert judge_reading(limits, subject, answer.quantity, three.value)[0].level is Level.REPAIR
    assert judge_reading(limits, subject, answer.quantity, four.value)[0].level <= Level.WATCH
