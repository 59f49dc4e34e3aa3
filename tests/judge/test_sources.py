"""Every shipped entry against its source: at the figure, a step to each side, and where it must not hold.

The cases are in `by_source/`, whose docstring says by whom they were written.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from tests.judge import yard
from tests.judge.by_source.again import READ_AGAIN, SAID_AGAIN
from tests.judge.by_source.defects import DEFECTS, Said
from tests.judge.by_source.readings import READINGS, Read
from tests.judge.by_source.spots import spot, wheel
from tests.judge.by_source.strokes import LASHES, STROKES
from tests.judge.yard import DAY, found, stepped
from voice.errors import DataError
from voice.judge import LimitSet, Subject, judge_defect, load_limits
from voice.judge.brakes import count_brakes
from voice.measure import exact
from voice.measure.level import Level
from voice.route import load_library
from voice.route.library import Library
from voice.route.model import Part

WHOLE = load_limits()
READ_CASES, SAID_CASES = READINGS + READ_AGAIN, DEFECTS + SAID_AGAIN


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library()


def limits_on(day: date) -> LimitSet:
    return yard.shipped() if day == DAY else WHOLE.on(day)


def readings(case: Read) -> Iterator[tuple[str, str]]:
    for text in case.says.split(", "):
        *value, level = text.split()
        yield " ".join(value), level


@pytest.mark.parametrize("case", READ_CASES, ids=lambda case: case.id)
def test_a_reading_at_the_figure_and_beside_it(case: Read) -> None:
    limits = limits_on(case.day)
    for subject in case.at:
        for value, level in readings(case):
            finding = found(subject, case.quantity, value, case.unit, limits)[case.id]
            assert finding.level.word == level, f"{value} {case.unit}, {subject}"


@pytest.mark.parametrize("case", READ_CASES, ids=lambda case: case.id)
def test_a_limit_does_not_hold_elsewhere(case: Read) -> None:
    for subject in case.off:
        for value, _ in readings(case):
            assert case.id not in found(subject, case.quantity, value, case.unit, limits_on(case.day)), subject
    if case.not_on is not None:
        limits = limits_on(case.not_on)
        assert all(case.id not in found(at, case.quantity, "1", case.unit, limits) for at in case.at)


def pairs(text: str) -> Iterator[tuple[str, str]]:
    for group in filter(None, text.split(", ")):
        item, *defects = group.split()
        yield from ((item, defect) for defect in defects)


def part_of(case: Said, library: Library, item: str) -> Part:
    if case.part is not None:
        return case.part
    return library.items[item].part if item in library.items else "service-brakes"


def named(case: Said) -> Iterator[tuple[Subject, str, dict[str, str]]]:
    details = [{name: value} for name, values in case.details.items() for value in values] or [{}]
    for subject in case.at:
        for item, defect in pairs(case.named):
            yield from ((replace(subject, item=item), defect, given) for given in details)


@pytest.mark.parametrize("case", SAID_CASES, ids=lambda case: case.id)
def test_a_defect_that_the_criterion_names(library: Library, case: Said) -> None:
    limits = limits_on(case.day)
    for subject, defect, details in named(case):
        part = part_of(case, library, subject.item)
        finding = judge_defect(limits, subject, defect, part=part, details=details)
        assert (finding.limit, finding.level.word) == (case.id, case.level), f"{subject.item} {defect}"
        result = stepped(subject.vehicle, subject.place.axle, "left", [finding], outcome="defect")
        assert count_brakes(limits, subject.vehicle, [result]).defective == Fraction(case.counts), defect


def alone(limits: LimitSet, name: str) -> LimitSet:
    """Without the other criteria, which may hide that one reaches too far."""
    return limits.model_construct(**{**dict(limits), "criteria": tuple(c for c in limits.criteria if c.id == name)})


@pytest.mark.parametrize("case", SAID_CASES, ids=lambda case: case.id)
def test_a_criterion_does_not_decide_elsewhere(library: Library, case: Said) -> None:
    limits = alone(limits_on(case.day), case.id)
    first = {name: values[0] for name, values in case.details.items()}

    def decides(subject: Subject, item: str, defect: str, part: Part, details: dict[str, str]) -> bool:
        try:
            judge_defect(limits, replace(subject, item=item), defect, part=part, details=details)
        except DataError:  # no criterion fits
            return False
        return True

    for item, defect in pairs(case.not_named):
        part = part_of(case, library, item)
        assert not any(decides(at, item, defect, part, first) for at in case.at), (item, defect)
    for item, defect in pairs(case.named):
        part = part_of(case, library, item)
        assert decides(case.at[0], item, defect, part, first), (item, defect)
        assert not any(decides(at, item, defect, part, first) for at in case.off), (item, defect)
        for at in case.beaten:
            worse = judge_defect(limits_on(case.day), replace(at, item=item), defect, part=part, details=first)
            assert worse.limit != case.id, (item, defect)
        if case.not_details:
            assert not decides(case.at[0], item, defect, part, case.not_details)
        if case.part is not None:
            assert not decides(case.at[0], item, defect, "tires" if case.part == "other" else "other", first)
    if case.not_on is not None:
        assert alone(limits_on(case.not_on), case.id).criteria == ()


@pytest.mark.parametrize(("kind", "size", "stroke", "limit", "known"), STROKES)
def test_stroke_by_chamber(kind: str, size: str, stroke: str, limit: str, known: str) -> None:
    """Must not be greater than: equal meets it, and is flagged."""
    rated = "3" if stroke == "long-3" else None
    at = spot("drive", chamber=(kind, size, stroke != "standard", rated))
    for step, level in ((Fraction(0), "watch"), (Fraction(1, 8), "repair"), (Fraction(-1, 4), "within")):
        finding = found(at, "pushrod-stroke-applied", exact(limit) + step, "in")["stroke"]
        assert (finding.level.word, finding.known) == (level, known)
        assert finding.margin is not None
        assert finding.margin.value == -step


def test_no_row_of_the_stroke_table_is_unseen() -> None:
    rows = {(row.of, row.value) for row in yard.shipped().tables["pushrod-stroke"].rows}
    assert rows == {((kind, size, stroke), exact(limit)) for kind, size, stroke, limit, _ in STROKES}


@pytest.mark.parametrize(("diameter", "manual", "power"), LASHES)
def test_steering_play_by_wheel(diameter: str, manual: str, power: str) -> None:
    """393.209(b)(1): 1/8 in beyond the table is too much, the table's figure is not; 14 in counts as 16 or less."""
    for name, helped, limit in (("steering-lash", False, manual), ("steering-lash-power", True, power)):
        for size in (diameter, "14") if diameter == "16" else (diameter,):
            met = found(wheel(helped, size), "steering-lash", limit, "in")[name]
            beyond = found(wheel(helped, size), "steering-lash", exact(limit) + Fraction(1, 8), "in")[name]
            assert (met.level, beyond.level) == (Level.WATCH, Level.REPAIR)
    assert len(yard.shipped().tables["steering-lash"].rows) == 2 * len(LASHES)


def test_a_chamber_that_is_not_listed_has_eighty_percent_of_its_rated_stroke() -> None:
    """Appendix A to Part 396, 1.a(5)(b), which is cited then."""
    at = spot("drive", chamber=("clamp", "27", False, "3"))
    met = found(at, "pushrod-stroke-applied", "2.4", "in")["stroke"]
    beyond = found(at, "pushrod-stroke-applied", "2.5", "in")["stroke"]
    assert (met.level, beyond.level) == (Level.WATCH, Level.REPAIR)
    assert (beyond.source, beyond.known) == ("Appendix A to 49 CFR Part 396, 1.a(5)(b)", "read")
    assert found(spot("drive", chamber=("clamp", "27")), "pushrod-stroke-applied", 3, "in") == {}


def test_every_shipped_entry_has_its_cases() -> None:
    assert {case.id for case in READ_CASES} == {limit.id for limit in WHOLE.limits}
    assert {case.id for case in SAID_CASES} == {criterion.id for criterion in WHOLE.criteria}
    scoped = {case.id for case in READ_CASES if case.off or case.not_on is not None}
    assert scoped >= {limit.id for limit in WHOLE.limits if limit.applies or limit.valid_from or limit.valid_to}
    assert all(case.not_named or case.part is not None for case in SAID_CASES)
