"""The share of defective brakes, against worked cases of the public criteria.

Sources: a state police officer's answer in the trade press (five axles, ten brakes: two defective are out of service;
half brakes), and a truck maker's service manual quoting the criteria (a quarter of an inch or more past the limit is a
defective brake; two that are less than that past it make one). The rest is constructed from these.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import pytest

from tests.judge.yard import at, axle, found, rig, shipped, steer, stepped, truck
from voice.judge import LimitSet, assess_results, judge_defect, load_limits, shipped_limits
from voice.judge.brakes import BrakeCount, count_brakes, judge_brakes, judge_spring_brakes
from voice.judge.model import Result
from voice.measure.level import Level
from voice.route.vehicle import Brake, Chamber, Vehicle

FIVE_AXLES = rig()  # type 30 standard off the steer axle: 2 in; type 24 on it: 1 3/4 in
FOUR_AXLES = rig((steer(), axle(), axle("trailer", "trailer"), axle("trailer", "trailer")))
TWO_AXLES, THREE_AXLES = truck(), truck([steer("truck"), axle("truck"), axle("truck")])


def stroke(vehicle: Vehicle, number: int, side: str, inches: str) -> Result:
    findings = found(at(vehicle, number, side), "pushrod-stroke-applied", inches, "in").values()
    return stepped(vehicle, number, side, findings)


def named(vehicle: Vehicle, number: int, side: str, item: str, defect: str) -> Result:
    finding = judge_defect(shipped(), at(vehicle, number, side, item), defect, part="service-brakes")
    return stepped(vehicle, number, side, [finding], outcome="defect")


def count(vehicle: Vehicle, results: Sequence[Result]) -> BrakeCount:
    return count_brakes(shipped(), vehicle, results)


def level(vehicle: Vehicle, results: Sequence[Result]) -> Level:
    findings = judge_brakes(shipped(), vehicle, count(vehicle, results))
    return findings[0].level if findings else Level.WITHIN


@pytest.mark.parametrize(
    ("vehicle", "strokes", "defective", "share", "verdict"),
    [
        (FIVE_AXLES, {}, "0", "0", Level.WITHIN),
        (FIVE_AXLES, {(2, "left"): "2 1/4"}, "1", "10", Level.WITHIN),
        (FIVE_AXLES, {(2, "left"): "2 1/4", (4, "right"): "2 1/2"}, "2", "20", Level.HALT),
        (FIVE_AXLES, {(2, "left"): "2 1/4", (3, "left"): "2 1/8", (3, "right"): "2 1/8"}, "2", "20", Level.HALT),
        (FIVE_AXLES, {(2, "left"): "2 1/8", (3, "left"): "2 1/8", (3, "right"): "2 1/8"}, "3/2", "15", Level.WITHIN),
        (FIVE_AXLES, {(2, "left"): "2", (3, "left"): "2"}, "0", "0", Level.WITHIN),  # at the limit
        (FIVE_AXLES, {(2, "left"): "3 1/2"}, "1", "10", Level.WITHIN),  # one brake never counts more than once
        (FOUR_AXLES, {(2, "left"): "2 1/4"}, "1", "25/2", Level.WITHIN),
        (FOUR_AXLES, {(2, "left"): "2 1/4", (1, "left"): "2"}, "2", "25", Level.HALT),
        (THREE_AXLES, {(2, "left"): "2 1/4"}, "1", "50/3", Level.WITHIN),
        (THREE_AXLES, {(2, "left"): "2 1/4", (2, "right"): "2 1/8"}, "3/2", "25", Level.HALT),
        (TWO_AXLES, {(2, "left"): "2 1/4"}, "1", "25", Level.HALT),
        (TWO_AXLES, {(2, "left"): "2 1/8"}, "1/2", "25/2", Level.WITHIN),
    ],
)
def test_share(
    vehicle: Vehicle, strokes: dict[tuple[int, str], str], defective: str, share: str, verdict: Level
) -> None:
    results = [stroke(vehicle, number, side, inches) for (number, side), inches in strokes.items()]
    counted = count(vehicle, results)
    assert counted.total == 2 * len(vehicle.axles)
    assert counted.defective == Fraction(defective)
    assert counted.share.value == Fraction(share)
    assert level(vehicle, results) is verdict


def test_how_many_are_needed_by_number_of_brakes() -> None:
    """The criteria's chart (from memory): 4 brakes 1, 6 2, 8 2, 10 2, 12 3, 14 3, 16 4, 18 4, 20 4, 22 5."""
    chart = {4: 1, 6: 2, 8: 2, 10: 2, 12: 3, 14: 3, 16: 4, 18: 4, 20: 4, 22: 5}
    for brakes, needed in chart.items():
        vehicle = rig([steer(), *(axle() for _ in range(brakes // 2 - 1))])
        ends = [(number, side) for number in range(2, brakes // 2 + 1) for side in ("left", "right")]
        few = [named(vehicle, number, side, "brake-drum", "loose") for number, side in ends[: needed - 1]]
        enough = [named(vehicle, number, side, "brake-drum", "loose") for number, side in ends[:needed]]
        assert level(vehicle, few) is Level.WITHIN, brakes
        assert level(vehicle, enough) is Level.HALT, brakes


def test_defects_and_linings_count_whole() -> None:
    thin = found(at(FIVE_AXLES, 3, "right"), "lining-thickness", "3/16", "in").values()
    results = [
        named(FIVE_AXLES, 2, "left", "brake-chamber", "leaking"),
        stepped(FIVE_AXLES, 3, "right", thin),
        named(FIVE_AXLES, 4, "left", "brake-chamber", "chafed"),  # a repair, but not counted
    ]
    counted = count(FIVE_AXLES, results)
    assert counted.ends == ((2, "left", Fraction(1)), (3, "right", Fraction(1)))
    assert level(FIVE_AXLES, results) is Level.HALT


def test_the_inspection_director_s_own_example() -> None:
    """trucknews.com, "Understanding truck brake violations": an inoperative brake on the second or third axle of a
    tractor does not reach 20 percent; with one more brake out of adjustment the two do; on the steer axle the
    same brake is out of service by itself. Oil on a lining counts when the lining is saturated, which a named defect
    does not tell: then a person decides."""
    second = named(FIVE_AXLES, 2, "left", "brake-chamber", "broken")
    contaminated = named(FIVE_AXLES, 5, "right", "brake-drum", "contaminated")
    adjustment = stroke(FIVE_AXLES, 4, "right", "2 1/4")
    assert assess_results(shipped(), FIVE_AXLES, [second]).level is Level.REPAIR
    assert assess_results(shipped(), FIVE_AXLES, [second, contaminated]).level is Level.REPAIR
    assert contaminated.findings[0].condition == "counts as a defective brake when the lining is saturated"
    assert assess_results(shipped(), FIVE_AXLES, [second, adjustment]).level is Level.HALT
    front = named(FIVE_AXLES, 1, "left", "brake-chamber", "broken")
    assert assess_results(shipped(), FIVE_AXLES, [front]).level is Level.HALT


def test_two_faults_of_one_brake_are_one_brake() -> None:
    results = [
        named(FIVE_AXLES, 2, "left", "brake-chamber", "leaking"),
        named(FIVE_AXLES, 2, "left", "brake-drum", "cracked"),
        stroke(FIVE_AXLES, 2, "left", "2 1/8"),
    ]
    assert count(FIVE_AXLES, results).defective == 1


def test_out_of_adjustment_counts_by_its_measured_stroke_else_whole() -> None:
    reported = named(FIVE_AXLES, 2, "left", "brake-chamber", "overstroke")
    assert count(FIVE_AXLES, [reported]).defective == 1
    assert count(FIVE_AXLES, [reported, stroke(FIVE_AXLES, 2, "left", "2 1/8")]).defective == Fraction(1, 2)
    assert count(FIVE_AXLES, [reported, stroke(FIVE_AXLES, 2, "left", "1 7/8")]).defective == 0


def test_eight_brakes_one_defective_is_not_out_of_service_unless_it_is_on_the_steer_axle() -> None:
    """One of eight is 12.5 percent. A lining below its limit on the steer axle is out of service by itself."""
    drive = [stroke(FOUR_AXLES, 2, "left", "2 1/4")]
    front = [stepped(FOUR_AXLES, 1, "left", found(at(FOUR_AXLES, 1, "left"), "lining-thickness", "1/8", "in").values())]
    assert assess_results(shipped(), FOUR_AXLES, drive).level is Level.REPAIR
    assessment = assess_results(shipped(), FOUR_AXLES, front)
    assert assessment.brakes.share.value == Fraction(25, 2)
    assert assessment.level is Level.HALT
    assert [entry.finding.limit for entry in assessment.against] == ["lining-steer-strip-halt"]


def test_a_broken_steer_brake_stands_against_leaving_by_itself() -> None:
    front = named(FIVE_AXLES, 1, "right", "brake-chamber", "broken")
    rear = named(FIVE_AXLES, 2, "right", "brake-chamber", "broken")
    assert front.level is Level.HALT
    assert rear.level is Level.REPAIR


def brake(left: str, right: str) -> Brake:
    return Brake(kind="air-drum", chamber=Chamber(size=left), right_chamber=Chamber(size=right))


def test_chambers_that_differ() -> None:
    """49 CFR 393.47(b), read; on the steer axle out of service (from memory; Quebec 166(8) has the same, read)."""
    front = rig((steer(brake=brake("24", "20")), axle()))
    rear = rig((steer(), axle(brake=brake("30", "24"))))
    same = rig((steer(brake=brake("24", "24")), axle()))
    [entry] = assess_results(shipped(), front, []).against
    assert (entry.finding.level, entry.finding.limit) == (Level.HALT, "chambers-differ-steer")
    assert entry.name == "axle one, brake chambers"
    [entry] = assess_results(shipped(), rear, []).against
    assert (entry.finding.level, entry.finding.source) == (Level.REPAIR, "49 CFR 393.47(b)")
    assert assess_results(shipped(), same, []).against == ()


def spring_limits(tmp_path: Path) -> LimitSet:
    own = tmp_path / "own.yaml"
    own.write_text(
        "layer: own\ntitle: An invented house rule\ncriteria:\n"
        "  - {id: spring-caged, title: A caged spring brake, items: [spring-brake], defects: [not-working],"
        " level: repair, brake: spring, source: {section: House rule, known: practice}}\n"
    )
    return load_limits([shipped_limits(), own])


def test_a_quarter_of_the_spring_brakes(tmp_path: Path) -> None:
    """25 percent or more of them out of order (from memory). Four axles off the steer axle have eight."""
    limits = spring_limits(tmp_path)

    def caged(*ends: tuple[int, str]) -> list[Result]:
        results = []
        for number, side in ends:
            subject = at(FIVE_AXLES, number, side, "spring-brake")
            finding = judge_defect(limits, subject, "not-working", part="parking-brake")
            results.append(stepped(FIVE_AXLES, number, side, [finding], outcome="defect"))
        return results

    one, two = caged((2, "left")), caged((2, "left"), (3, "left"))
    assert judge_spring_brakes(limits, FIVE_AXLES, one)[0].level is Level.WITHIN
    assert judge_spring_brakes(limits, FIVE_AXLES, two)[0].level is Level.HALT
    assert judge_spring_brakes(limits, FIVE_AXLES, []) == ()


def test_from_where_an_overstroke_counts_whole_is_data(tmp_path: Path) -> None:
    """An eighth beyond counts half; whole under a fleet's rule; as shipped in a set that has no such rule."""
    own = tmp_path / "own.yaml"
    own.write_text(
        "layer: own\ntitle: Own\nlimits:\n  - id: overstroke-whole\n    value: 1/8\n"
        "    source: {section: common practice, known: practice}\n",
        encoding="utf-8",
    )
    results = [stroke(FIVE_AXLES, 2, "left", "2 1/8")]
    strict = load_limits([shipped_limits(), own])
    old = shipped().model_copy(update={"limits": tuple(x for x in shipped().limits if x.quantity != "overstroke")})
    assert count_brakes(shipped(), FIVE_AXLES, results).defective == Fraction(1, 2)
    assert count_brakes(strict, FIVE_AXLES, results).defective == 1
    assert count_brakes(old, FIVE_AXLES, results).defective == Fraction(1, 2)
    assert count_brakes(old, FIVE_AXLES, [stroke(FIVE_AXLES, 2, "left", "2 1/4")]).defective == 1
