"""The pages of the routes say what a walk asks, and hold the answers against what a walk holds them against."""

from __future__ import annotations

import html
import re
from fractions import Fraction

from tests.desk.yard import Visitor
from voice.desk.data.asked import walk
from voice.desk.page import Desk
from voice.judge import load_limits
from voice.judge.model import Subject
from voice.judge.reading import judge_reading
from voice.measure import Measure
from voice.route import load_library, load_vehicle, make_plan
from voice.route.vehicles import vehicle_files


def test_every_question_in_order_with_its_limits(looked_at: Desk) -> None:
    """Wording and order are the plan's; limits those that a reading is judged by."""
    limits = load_limits()
    known = [load_vehicle(file) for file in vehicle_files(looked_at.home).values()]
    for vehicle in (each for each in known if each.kind != "trailer"):
        plan = make_plan(load_library(), vehicle)
        found = walk(looked_at.home, vehicle.id, None, "full")
        asked = [each for stretch in found.stretches for each in stretch.asked]
        assert [each.say for each in asked] == [step.say.full for step in plan.steps]
        assert [each.number for each in asked] == list(range(1, len(plan.steps) + 1))
        held = 0
        for each, step in zip(asked, plan.steps, strict=True):
            quantity = getattr(step.item.answer, "quantity", "")
            if each.measured and (those := limits.of_quantity(quantity)):
                unit = those[0].unit
                judged = judge_reading(limits, Subject(vehicle, step.item.id, step.place), quantity,
                                       Measure(Fraction(1), unit))  # fmt: skip
                assert {limit.text for limit in each.limits} == {finding.limit_text for finding in judged}
                held += len(judged)
            assert len(each.defects) == len(step.item.defects)
        assert held > 10


def test_the_page_shows_wording_limits_and_sources(looked_at: Desk) -> None:
    visitor = Visitor(looked_at, "driver")
    overview = visitor.get("/routes")
    assert "/routes/tractor-trailer-five-axle?route=tractor-semitrailer" in overview
    text = html.unescape(re.sub(r"\s+", " ", visitor.get("/routes/tractor-trailer-five-axle?length=terse")))
    assert "at least 4/32 in (repair before leaving if not met). 49 CFR 393.75(b), read in the published text." in text
    assert "at most 2 in (watch if not met)" in text or "at most 1 4/5 in" in text or "at most 1.8 in (watch" in text
    assert "Engine off and key removed before reaching into the engine compartment." in text
    for wrong in ("/routes/nothing", "/routes/tractor-trailer-five-axle?route=bus", "/routes/..%2ftruck-7.yaml",
                  "/routes/tractor-trailer-five-axle?route=..%2fx"):  # fmt: skip
        assert visitor.client.get(wrong).status_code == 404, wrong
