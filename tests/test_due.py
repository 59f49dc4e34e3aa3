"""What is due on a walk by place: never what the law wants daily, never an OK for what was not asked."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.test_ten_faults import PLANTED, VEHICLES, Walked
from tests.walk.talkative import SAMPLES, Talk, answer_usually, context
from voice.author.check import check_files
from voice.record.past import Past, pasts_of
from voice.route import load_library
from voice.route.answer import Measurement
from voice.route.files import Due
from voice.route.model import Plan
from voice.route.units import in_unit, units_of
from voice.session.due import Today, with_due
from voice.understand.meaning import Defect
from voice.walk.event import Doubted
from voice.walk.pacetalk import shipped_pace

NOW = datetime(2026, 11, 26, 7, 0, tzinfo=UTC)
DUE = {"tire-tread": Due(id="tire-tread", days=7, miles=3000), "belt-play": Due(id="belt-play", miles=500)}


def plan(kind: str = "straight-truck") -> Plan:
    return context(kind).plan


def past(
    days: float,
    *,
    miles: float | None = None,
    beyond: tuple[str, ...] = (),
    kind: str = "straight-truck",
    unit: int = 0,
) -> Past:
    """unit: which of the vehicle's units."""
    vehicle = plan(kind).vehicle
    steps = [s for s in plan(kind).steps if isinstance(s.item.answer, Measurement) and s.id not in beyond]
    keys = [in_unit(vehicle, step.id, step.place) for step in steps]
    here = units_of(vehicle)[unit].id
    measured = tuple(key for of, key in keys if of == here)
    at = NOW - timedelta(days=days)
    return Past(id="r1", vehicle=here, at=at, miles=miles, measured=measured, beyond=beyond)


def _today(miles: float | None, kind: str = "straight-truck") -> Today:
    return Today(NOW, {} if miles is None else {units_of(plan(kind).vehicle)[0].id: miles})


def left(*pasts: Past, miles: float | None = None) -> set[str]:
    made = with_due(plan(), DUE, pasts, _today(miles), shipped_pace())
    assert made.steps == plan().steps
    asked = {step.id for step in made.walked().steps}
    assert {each.step for each in made.not_due} == {s.id for s in plan().steps} - asked
    return {each.step.partition("@")[0] for each in made.not_due}


def test_what_was_never_measured_is_due() -> None:
    assert left() == set()


@pytest.mark.parametrize(("days", "due"), [(1, False), (6, False), (7, True), (30, True), (-2, True)])
def test_days(days: float, due: bool) -> None:
    assert ("tire-tread" not in left(past(days))) is due


@pytest.mark.parametrize(
    ("then", "now", "found"),
    [
        (1000, 1400, {"tire-tread", "belt-play"}),
        (1000, 1500, {"tire-tread"}),
        (1000, 4000, set()),
        (1000, 900, set()),  # another odometer
        (None, 1400, {"tire-tread"}),
        (1000, None, {"tire-tread"}),
    ],
)
def test_miles(then: float | None, now: float | None, found: set[str]) -> None:
    assert left(past(1, miles=then), miles=now) == found


@pytest.mark.parametrize(
    ("behind", "own", "hub", "odometer", "found"),
    [
        ("", 1000, 1400, None, True),  # behind any tractor
        ("", 1000, 1500, 1400, False),
        ("", 1000, None, 1400, False),
        ("tractor-9", 1000, 1400, 1400, False),  # it had no count of its own then, and the tractor is another
    ],
)
def test_a_trailers_miles_are_those_of_its_hubodometer(
    behind: str, own: float, hub: float | None, odometer: float | None, found: bool
) -> None:
    kind = "tractor-semitrailer"
    (ahead, trailer), rule = units_of(plan(kind).vehicle), {"tire-tread": Due(id="tire-tread", miles=500)}
    last = past(1, miles=own, kind=kind, unit=1).model_copy(update={"lead": behind})
    given = {ahead.id: odometer, trailer.id: hub}
    today = Today(NOW, {unit: miles for unit, miles in given.items() if miles is not None})
    made = with_due(plan(kind), rule, [last], today, shipped_pace())
    asked = {each.step.partition("@")[0] for each in made.not_due}
    assert asked == ({"tire-tread"} if found else set())


def test_a_reading_that_was_not_well_within_is_due_on_the_next_walk() -> None:
    made = with_due(plan(), DUE, [past(2), past(1, beyond=("tire-tread@left-1",))], Today(NOW), shipped_pace())
    asked = {step.id for step in made.walked().steps if step.item.id == "tire-tread"}
    assert asked == {"tire-tread@left-1"}


def test_what_is_due_again_comes_with_the_reason() -> None:
    known = context("straight-truck")
    made = with_due(plan(), DUE, [past(8)], Today(NOW), shipped_pace())
    first = next(step.id for step in plan().steps if step.item.id == "tire-tread")
    assert made.reasons[first] == "Tread was last measured eight days ago."
    assert len(made.reasons) == 2  # once for each item
    talk = Talk(replace(known, plan=made))
    while talk.current != first:
        answer_usually(talk)
    assert "Tread was last measured eight days ago. " in talk.heard


@pytest.mark.parametrize("kind", SAMPLES)
def test_what_the_law_lists_is_asked_every_day(kind: str) -> None:
    """Each of the eleven parts of 49 CFR 396.11(a)(1) that a walk asks about is asked about on every walk."""
    whole = plan(kind)
    pasts = [past(1, kind=kind, unit=number) for number in range(len(units_of(whole.vehicle)))]
    made = with_due(whole, load_library().due, pasts, Today(NOW), shipped_pace()).walked()
    assert len(made.not_due) >= 10
    assert {step.item.part for step in made.steps} == {step.item.part for step in whole.steps}
    assert all(isinstance(s.item.answer, Measurement) for s in whole.steps if s.id not in {t.id for t in made.steps})
    wheels = {(s.place.side, s.place.axle) for s in whole.steps if s.item.part == "tires"}
    assert {(s.place.side, s.place.axle) for s in made.steps if s.item.part == "tires"} == wheels


def test_the_record_names_what_was_not_due_and_never_as_an_okay(tmp_path: Path) -> None:
    vehicle = "straight-truck-two-axle"
    first = Walked(tmp_path / "first", VEHICLES / f"{vehicle}.yaml", PLANTED[vehicle], "by-place")
    (known,) = pasts_of(first.record)
    assert "tire-tread@left-1" in known.beyond
    assert "tire-tread@right-1" in known.measured
    today = Today(known.at + timedelta(days=1))
    made = with_due(first.context.plan, DUE, [known], today, shipped_pace())
    second = Walked(tmp_path / "second", VEHICLES / f"{vehicle}.yaml", PLANTED[vehicle], "by-place", made)
    named = {each.step for each in second.record.not_due}
    assert "tire-tread@right-1" in named
    assert "tire-tread@left-1" not in named
    assert not named & {entry.step for entry in second.record.entries}
    assert not named & {*second.record.summary.unmeasured, *second.record.summary.not_inspected}
    assert "Not asked: not due yet" in second.session.report.read_text()
    assert "not_due" not in first.record.model_dump(mode="json")


def test_only_a_reading_can_be_due_less_than_daily(tmp_path: Path) -> None:
    (tmp_path / "due.yaml").write_text("horn-electric: {days: 7}\nno-such: {days: 2}\n")
    found = [str(fault) for fault in check_files([tmp_path / "due.yaml"])]
    assert len(found) == 2
    assert any("is no reading" in each for each in found)


def test_each_part_in_the_middle_brings_back_what_lies_ahead_and_by_place_leaves_it_again() -> None:
    known = context("straight-truck")
    made = with_due(plan(), DUE, [past(1, beyond=("tire-tread@right-2-outer",))], Today(NOW), shipped_pace())
    known = replace(known, plan=made)
    talk = Talk(known, depth="by-place")
    while known.steps[talk.current].section != "right":
        answer_usually(talk)
    ahead = [each.step for each in made.not_due if known.index(each.step) >= known.index(talk.current)]
    assert 0 < len(ahead) < len(made.not_due)
    talk.say("each part")
    assert "readings come back." in talk.heard
    assert set(ahead) <= set(known.open_steps(talk.state))
    while talk.current != "tire-tread@right-2-inner":
        answer_usually(talk)
    talk.say("nine", "by place")
    assert talk.current not in ahead
    assert set(known.asked(talk.state)) & set(ahead) == {"tire-tread@right-2-inner"}


def test_what_was_reported_of_a_step_that_came_back_stays_open_by_place() -> None:
    known = replace(context("straight-truck"), plan=with_due(plan(), DUE, [past(1)], Today(NOW), shipped_pace()))
    talk = Talk(known, depth="by-place")
    while known.steps[talk.current].section != "left":
        answer_usually(talk)
    talk.say("each part")
    while talk.current != "tire-tread@left-1":
        answer_usually(talk)
    talk.send(Doubted(talk.clock, Defect("cut"), "cut", onset=talk.clock))
    talk.say("skip", "by place")
    assert "tire-tread@left-1" in set(known.open_steps(talk.state))


def test_a_script_that_names_what_is_not_due_is_passed_over_with_a_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    vehicle = "straight-truck-two-axle"
    known = context("straight-truck")
    made = with_due(known.plan, DUE, [past(1)], Today(NOW), shipped_pace())
    walk = Walked(tmp_path, VEHICLES / f"{vehicle}.yaml", PLANTED[vehicle], "by-place", made)
    named = [each.step for each in made.not_due if f"step: {each.step}" in PLANTED[vehicle].read_text()]
    assert named
    said = capsys.readouterr().err
    assert all(said.count(f'"{step}", which is not due today') == 1 for step in named)
    assert not set(named) & set(walk.state.answers)
