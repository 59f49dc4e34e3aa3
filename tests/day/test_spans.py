"""When the cargo is looked at again: 49 CFR 392.9(b), read in a copy of the eCFR.

Within the first 50 miles of a trip; then at each change of duty status, after 3 hours of driving, or after 150 miles,
whichever comes first. Not for a sealed load, or one that cannot be looked at.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voice.day.rules import Status, day_rules
from voice.day.spans import Duty, Inspection, Now, Span, due, spans
from voice.day.told import told

Happened = Inspection | Duty
RULES = day_rules()
MORNING = datetime(2026, 11, 27, 6, 0, tzinfo=UTC)
DRIVER = "Rosa Quill"


def at(hours: float) -> datetime:
    return MORNING + timedelta(hours=hours)


def inspection(kind: str | None, hours: float, miles: float | None = None, **more: bool) -> Inspection:
    return Inspection(f"{kind}-{hours}", kind, at(hours), DRIVER, ("tractor-12",), miles, **more)


def duty(status: Status, hours: float, miles: float | None = None) -> Duty:
    return Duty(at(hours), DRIVER, status, miles)


def found(*happened: Happened) -> tuple[Span, ...]:
    inspections = [each for each in happened if isinstance(each, Inspection)]
    return spans(inspections, [each for each in happened if isinstance(each, Duty)], RULES)


def verdicts(*happened: Happened) -> list[str]:
    return [span.verdict(RULES) for span in found(*happened)]


@pytest.mark.parametrize(("miles", "verdict"), [(1049, "met"), (1050, "met"), (1051, "late")])
def test_the_first_look_is_due_within_fifty_miles(miles: float, verdict: str) -> None:
    assert verdicts(inspection("pre-trip", 0, 1000), inspection("en-route", 1, miles)) == [verdict, "open"]


@pytest.mark.parametrize(("miles", "verdict"), [(1199, "met"), (1200, "met"), (1201, "late")])
def test_a_later_one_after_a_hundred_and_fifty(miles: float, verdict: str) -> None:
    day: list[Happened] = [
        inspection("pre-trip", 0, 1000),
        inspection("en-route", 1, 1050),
        inspection("en-route", 3, miles),
    ]
    assert verdicts(*day) == ["met", verdict, "open"]


@pytest.mark.parametrize(("hours", "verdict"), [(2.9, "met"), (3.0, "met"), (3.1, "late")])
def test_or_after_three_hours_of_driving(hours: float, verdict: str) -> None:
    day: list[Happened] = [inspection("pre-trip", 0, 1000), duty("driving", 0), inspection("en-route", hours, 1040)]
    assert verdicts(*day)[0] == verdict


def test_hours_at_the_dock_are_not_driven() -> None:
    day: list[Happened] = [
        duty("on-duty", -0.5),
        inspection("pre-trip", 0, 1000),
        duty("driving", 3),
        inspection("en-route", 4, 1040),
    ]
    assert verdicts(*day)[0] == "met"


def test_without_odometer_or_hours_it_is_said_that_it_cannot_be_shown() -> None:
    assert verdicts(inspection("pre-trip", 0), inspection("en-route", 1)) == ["not-shown", "open"]
    assert verdicts(inspection("pre-trip", 0, 1000), inspection("en-route", 3.5, 1040)) == ["not-shown", "open"]
    # But in half an hour nobody has driven fifty miles.
    assert verdicts(inspection("pre-trip", 0), inspection("en-route", 0.5)) == ["met", "open"]


def test_a_change_of_duty_asks_for_a_look_before_driving_goes_on() -> None:
    begun: list[Happened] = [duty("on-duty", -0.5), inspection("pre-trip", 0, 1000), duty("driving", 0.1)]
    assert verdicts(*begun, duty("off-duty", 1), inspection("en-route", 1.4, 1040), duty("driving", 1.5))[0] == "met"
    assert verdicts(*begun, duty("off-duty", 1), duty("driving", 1.5), inspection("en-route", 1.6, 1040))[0] == "late"


def test_one_look_answers_for_both_sides_of_a_stop() -> None:
    day: list[Happened] = [
        inspection("pre-trip", 0, 1000),
        duty("driving", 0),
        duty("on-duty", 0.6),
        inspection("en-route", 0.7, 1040),
    ]
    after = found(*day, duty("driving", 0.8))
    assert after[-1].change is None
    assert not due(after, Now(at(0.9)), RULES).is_due(Now(at(0.9)))  # type: ignore[union-attr]
    off = found(*day, duty("driving", 0.8), duty("off-duty", 2))
    assert due(off, Now(at(2)), RULES).is_due(Now(at(2)))  # type: ignore[union-attr]


def test_a_look_that_left_the_cargo_out_is_none() -> None:
    assert verdicts(inspection("pre-trip", 0, 1000), inspection("en-route", 1, 1049, looked=False)) == ["open"]


def test_the_trip_ends() -> None:
    assert verdicts(inspection("pre-trip", 0, 1000), inspection("post-trip", 1, 1040)) == ["not-due"]
    assert verdicts(inspection("pre-trip", 0, 1000), inspection("post-trip", 1, 1060)) == ["missed"]
    assert due(found(inspection("pre-trip", 0, 1000), inspection("post-trip", 1, 1040)), Now(at(9)), RULES) is None


def test_another_trailer_is_a_trip_with_a_first_look_of_its_own() -> None:
    day = found(inspection("pre-trip", 0, 1000), inspection("en-route", 1, 1050), inspection("hook", 2, 1100))
    assert due(day, Now(at(2)), RULES).mile == 1150  # type: ignore[union-attr]


def test_a_record_that_names_no_kind_begins_a_trip() -> None:
    assert found(inspection(None, 0, 1000))[0].first


def test_no_look_is_due_without_cargo() -> None:
    assert found(inspection("pre-trip", 0, 1000, carries=False)) == ()


def test_what_is_told_names_the_rule() -> None:
    begun = found(inspection("pre-trip", 0, 1000))
    assert told(begun, Now(at(0)), RULES) == ("The next cargo check is due by mile 1,050 or 09:00.",)
    assert told(begun, Now(at(1), 1050), RULES) == (
        "The cargo check is due.",
        "Fifty miles since the last look, federal rule three ninety two point nine, paragraph b two.",
    )
    sealed = found(inspection("pre-trip", 0, 1000, sealed=True))
    assert told(sealed, Now(at(9), 2000), RULES)[0].startswith("The load is sealed")
    unknown = told(found(inspection("pre-trip", 0)), Now(at(0.7)), RULES)
    assert "Look at the odometer" in unknown[-1]


# --- whatever a day is like -----------------------------------------------------------------------------------------

HOURS = st.floats(0, 20)
MILES = st.none() | st.floats(0, 900)
KINDS = st.sampled_from([None, *RULES.kinds])
INSPECTIONS = st.builds(
    lambda kind, hours, miles, carries, looked, sealed: Inspection(
        f"{kind}-{hours}-{miles}-{carries}-{looked}-{sealed}",
        kind, at(hours), DRIVER, (), miles, carries, looked, sealed,
    ),
    KINDS, HOURS, MILES, st.booleans(), st.booleans(), st.booleans(),
)  # fmt: skip
DUTIES = st.builds(duty, st.sampled_from(get_args(Status)), HOURS, MILES)
DAYS = st.tuples(st.lists(INSPECTIONS, max_size=6), st.lists(DUTIES, max_size=6))


@given(DAYS, st.randoms(use_true_random=False))
def test_the_order_of_what_is_read_does_not_matter(
    day: tuple[list[Inspection], list[Duty]], order: random.Random
) -> None:
    mixed = [order.sample(each, len(each)) for each in day]
    assert spans(day[0], day[1], RULES) == spans(mixed[0], mixed[1], RULES)  # type: ignore[arg-type]


@given(DAYS, MILES)
def test_it_is_never_due_later_than_any_of_the_bounds(
    day: tuple[list[Inspection], list[Duty]], miles: float | None
) -> None:
    now = Now(at(20), miles)
    next_look = due(spans(*day, RULES), now, RULES)
    if next_look is None:
        return
    since = next_look.span.since
    assert next_look.at <= since.at + timedelta(hours=3)
    assert since.miles is None or next_look.mile == since.miles + (50 if next_look.span.first else 150)
    # Nobody drives on after a change of duty away from driving without its being due.
    stops = [d for d in day[1] if d.at > since.at and d.status != "driving"]
    if stops and not any(d.status != "driving" and d.at <= since.at for d in day[1]):
        assert next_look.at <= min(d.at for d in stops)
    for bound in (since.at + timedelta(hours=3), next_look.at):
        assert next_look.is_due(Now(bound))
    if next_look.mile is not None:
        assert next_look.is_due(Now(since.at, next_look.mile))


@given(DAYS)
def test_nothing_is_due_of_a_sealed_load(day: tuple[list[Inspection], list[Duty]]) -> None:
    sealed = [replace(each, sealed=True) for each in day[0]]
    result = spans(sealed, day[1], RULES)
    assert due(result, Now(at(20), 9000), RULES) is None
    assert {span.verdict(RULES) for span in result} <= {"sealed"}


@given(DAYS)
def test_a_look_ends_what_was_due(day: tuple[list[Inspection], list[Duty]]) -> None:
    look = Inspection("zz", "en-route", at(21), DRIVER)
    next_look = due(spans([*day[0], look], day[1], RULES), Now(at(21)), RULES)
    assert next_look is None or not next_look.is_due(Now(at(21)))
