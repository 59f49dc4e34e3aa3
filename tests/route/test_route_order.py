"""The walk is in the order things are met on foot: front to back on the left, round the rear, back to front."""

from __future__ import annotations

import pytest

from tests.route.vehicles import FIVE_AXLE, SCHOOL_BUS, TRUCK, library, sample
from voice.route import make_plan
from voice.route.answer import Hold
from voice.route.model import Plan

SAMPLES = [FIVE_AXLE, TRUCK, SCHOOL_BUS]


def plan_of(name: str) -> Plan:
    return make_plan(library(), sample(name))


@pytest.mark.parametrize("name", SAMPLES)
def test_axles_ascend_on_the_left_and_descend_on_the_right(name: str) -> None:
    steps = plan_of(name).steps
    left = [step.place.axle for step in steps if step.place.side == "left" and step.place.axle is not None]
    right = [step.place.axle for step in steps if step.place.side == "right" and step.place.axle is not None]
    count = len(sample(name).axles)
    assert left == sorted(left)
    assert right == sorted(right, reverse=True)
    assert set(left) == set(right) == set(range(1, count + 1))


@pytest.mark.parametrize("name", SAMPLES)
def test_the_left_side_comes_before_the_rear_and_the_right_side_after_it(name: str) -> None:
    steps = plan_of(name).steps
    at = {step.id: index for index, step in enumerate(steps)}
    left = [index for index, step in enumerate(steps) if step.place.side == "left"]
    right = [index for index, step in enumerate(steps) if step.place.side == "right"]
    assert max(left) < at["rear-lights"] < min(right)


@pytest.mark.parametrize("name", SAMPLES)
def test_a_section_is_walked_once_without_coming_back_to_it(name: str) -> None:
    plan = plan_of(name)
    seen: list[str] = []
    for step in plan.steps:
        if not seen or seen[-1] != step.section:
            seen.append(step.section)
    assert seen == [section.id for section in plan.sections]


def test_what_is_further_back_comes_later_on_the_left_and_earlier_on_the_right() -> None:
    at = {step.id: index for index, step in enumerate(plan_of(FIVE_AXLE).steps)}
    on_the_left = [
        "tire-tread@left-1", "fuel-tank@left", "glad-hands", "locking-jaws", "landing-gear", "tire-tread@left-4-outer",
        "splash-guard@trailer-left", "rear-doors", "splash-guard@trailer-right", "tire-tread@right-4-outer",
        "tire-tread@right-3-outer", "fuel-tank@right", "tire-tread@right-1",
    ]  # fmt: skip
    assert sorted(on_the_left, key=at.__getitem__) == on_the_left
    # In the gap behind the cab both ends of the lines are at hand; drive axles and fifth wheel come behind it.
    assert at["air-lines"] < at["glad-hands"] < at["tire-tread@left-2-outer"] < at["locking-jaws"]


def test_lights_are_switched_on_before_they_are_looked_at() -> None:
    for name in SAMPLES:
        order = [step.item.id for step in plan_of(name).steps]
        assert order.index("lights-on") < order.index("headlights") < order.index("rear-lights")
    bus = [step.item.id for step in plan_of(SCHOOL_BUS).steps]
    seen = ["student-lights-on", "student-lights", "stop-arm", "student-lights-rear"]
    assert sorted(seen, key=bus.index) == seen


def test_the_trailers_antilock_lamp_is_watched_where_the_key_is_turned() -> None:
    steps = plan_of(FIVE_AXLE).steps
    order = [step.item.id for step in steps]
    assert order[order.index("key-on") :][:4] == ["key-on", "abs-light-cab", "abs-trailer-light-cab", "abs-lamp"]
    assert order.index("abs-lamp") < order.index("safe-start")
    assert next(step for step in steps if step.item.id == "abs-lamp").place.unit == "trailer"


def test_air_tanks_are_drained_before_the_pressure_is_built_up_for_the_brake_checks() -> None:
    for name in SAMPLES:
        order = [step.item.id for step in plan_of(name).steps]
        if "governor-cut-out" in order:
            assert order.index("lights-on") < order.index("air-tanks") < order.index("governor-cut-out")
    assert "trailer-air-tank" in [step.item.id for step in plan_of(FIVE_AXLE).steps]


def test_the_outer_tire_of_duals_comes_before_the_inner() -> None:
    at = {step.id: index for index, step in enumerate(plan_of(FIVE_AXLE).steps)}
    for side in ("left", "right"):
        for axle in (2, 3, 4, 5):
            assert at[f"tire-tread@{side}-{axle}-outer"] + 1 == at[f"tire-tread@{side}-{axle}-inner"]


def test_the_engine_is_seen_before_it_is_started_and_the_hood_is_shut_last() -> None:
    steps = plan_of(FIVE_AXLE).steps
    at = {step.id: index for index, step in enumerate(steps)}
    assert at["oil-level"] < at["hood-latches"] < at["safe-start"] < at["oil-pressure"]
    assert all(at[step.id] <= at["hood-latches"] for step in steps if step.section == "engine")


def test_air_brake_checks_come_in_the_order_of_the_published_check() -> None:
    """Model CDL manual, Section 5.3.3, Step 7: static loss before applied loss, and both before the pressure is fanned
    down to the warning and then to the valves; the brakes are tried under way last (Section 11.1.2)."""
    at = {step.id: index for index, step in enumerate(plan_of(FIVE_AXLE).steps)}
    wanted = [
        "governor-cut-out", "air-leak-static", "air-leak-applied", "low-air-warning", "supply-valve-pop",
        "parking-valve-pop", "air-build-up", "parking-brake-test", "trailer-brake-test", "service-brake-test",
    ]  # fmt: skip
    assert sorted(wanted, key=at.__getitem__) == wanted


@pytest.mark.parametrize("name", [FIVE_AXLE, SCHOOL_BUS])
def test_timed_brake_checks_tell_engine_and_chocks_first(name: str) -> None:
    """Level ground and chocks are asked before any check that releases the brakes; each tells the engine's state."""
    steps = plan_of(name).steps
    ids = [step.id for step in steps]
    first = next(index for index, step in enumerate(steps) if getattr(step.item.answer, "ready", ()))
    assert ids.index("brake-check-chocks") < first
    for step in steps:
        ready = getattr(step.item.answer, "ready", ())
        if ready:
            assert "engine" in ready[0].lower() or any("engine" in line.lower() for line in ready), step.id
            assert all(line.endswith("Ready?") for line in ready), step.id
        if isinstance(step.item.answer, Hold):
            assert any("chocked" in line for line in ready), step.id
            assert step.item.answer.seconds == 60
    assert ids.index("chocks-away") < ids.index("parking-brake-test")
