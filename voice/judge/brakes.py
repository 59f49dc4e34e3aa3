"""How many brakes of the whole vehicle count as defective, by the public out-of-service criteria.

Every end of an axle is one brake. It counts whole if it fails a limit or has a defect marked `brake: whole`. An
overstroke counts whole if it does not meet the limit of "overstroke" (prompts/limits), else half. No brake counts more
than once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from voice.judge.limit import LimitSet
from voice.judge.load import load_limits
from voice.judge.model import Finding, Result, Subject
from voice.judge.reading import judge_reading
from voice.measure import Measure
from voice.measure.level import Level
from voice.route.vehicle import Vehicle

OVERSTROKE = "overstroke"  # the quantity of the limit that says from where on a stroke counts whole

End = tuple[int, str | None]  # axle, side


@dataclass(frozen=True, slots=True)
class BrakeCount:
    """total: brakes on the vehicle.
    defective: in halves.
    ends: axle and side of each that counts.
    """

    total: int
    defective: Fraction
    ends: tuple[tuple[int, str | None, Fraction], ...] = ()

    @property
    def share(self) -> Measure:
        """The defective share in percent."""
        return Measure(self.defective * 100 / self.total, "percent")


def overstroke_count(limits: LimitSet, subject: Subject, margin: Measure) -> Fraction:
    """What a stroke counts by its distance to the limit (negative beyond it): 0, one half or 1."""
    if margin.value >= 0:
        return Fraction(0)
    # A set kept by a session from before this was a limit has none; the shipped one stands for it.
    known = limits if limits.of_quantity(OVERSTROKE) else _shipped()
    found = judge_reading(known, subject, OVERSTROKE, Measure(-margin.value, margin.unit))
    return Fraction(1) if any(finding.level >= Level.REPAIR for finding in found) else Fraction(1, 2)


@cache
def _shipped() -> LimitSet:
    return load_limits()


def count_brakes(limits: LimitSet, vehicle: Vehicle, results: Iterable[Result]) -> BrakeCount:
    """The count over all results of a walk. Out of adjustment without a measured stroke counts whole."""
    strokes: dict[End, Fraction] = {}
    reported: set[End] = set()
    whole: set[End] = set()
    for result in results:
        axle, side = result.subject.place.axle, result.subject.place.side
        if axle is None:
            continue
        end = (axle, side)
        for finding in result.findings:
            kind = _kind(limits, finding)
            if kind == "stroke" and finding.margin is not None:
                counted = overstroke_count(limits, result.subject, finding.margin)
                strokes[end] = max(counted, strokes.get(end, Fraction(0)))
            elif kind == "stroke" and finding.level >= Level.REPAIR:
                reported.add(end)
            elif kind == "whole" and finding.level >= Level.REPAIR:
                whole.add(end)
    whole |= reported - strokes.keys()
    counts = {**strokes, **dict.fromkeys(whole, Fraction(1))}
    ends = tuple((axle, side, count) for (axle, side), count in sorted(counts.items(), key=str) if count)
    return BrakeCount(2 * len(vehicle.axles), sum((count for *_, count in ends), Fraction(0)), ends)


def _kind(limits: LimitSet, finding: Finding) -> str:
    rule = limits.rule(finding.limit)
    return rule.brake if rule is not None else "none"


def judge_brakes(limits: LimitSet, vehicle: Vehicle, count: BrakeCount) -> tuple[Finding, ...]:
    """The share against its limit; empty if nothing is defective."""
    if not count.defective:
        return ()
    return judge_reading(limits, Subject(vehicle, "all-brakes"), "defective-brakes", count.share)


def judge_spring_brakes(limits: LimitSet, vehicle: Vehicle, results: Iterable[Result]) -> tuple[Finding, ...]:
    """The share of spring brakes that do not work; every brake off the steer axle is taken to have one."""
    total = 2 * sum(axle.role != "steer" for axle in vehicle.axles)
    ends = {
        (result.subject.place.axle, result.subject.place.side)
        for result in results
        for finding in result.findings
        if finding.level >= Level.REPAIR and result.subject.place.axle and _kind(limits, finding) == "spring"
    }
    if not ends or not total or vehicle.brakes != "air":
        return ()
    share = Measure(Fraction(100 * len(ends), total), "percent")
    return judge_reading(limits, Subject(vehicle, "all-spring-brakes"), "inoperative-spring-brakes", share)
