"""FSRS against the library's own results, and what is chosen next."""

from datetime import UTC, datetime, timedelta

import pytest
from fsrs import Card, Rating, Scheduler

from tests.rehearse.parts import PARTS
from voice.rehearse.progress.memory import AHEAD, costs, rating, strengths, weakest
from voice.rehearse.progress.record import PartRecord, SessionRecord

BEGIN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def session(day: float, right: dict[str, bool], prompted: bool = False) -> SessionRecord:
    return SessionRecord(
        id=f"s{int(day * 100)}",
        started=BEGIN + timedelta(days=day),
        form="test",
        route="r",
        vehicle="v",
        points=0,
        of=1,
        seconds=1,
        parts=tuple(
            PartRecord(key=key, section="engine", title=key, named=True, right=good, prompted=prompted)
            for key, good in right.items()
        ),
    )


def test_strengths_are_what_the_library_gives_for_the_same_history() -> None:
    days = [(0, True), (1, True), (4, False), (4.5, True), (9, True), (30, True)]
    now = BEGIN + timedelta(days=41)
    ours = strengths([session(day, {"alternator": right}) for day, right in reversed(days)], now)["alternator"]
    scheduler, card = Scheduler(enable_fuzzing=False), Card(card_id=1)
    for day, right in days:
        grade = Rating.Good if right else Rating.Again
        card, _ = scheduler.review_card(card, grade, review_datetime=BEGIN + timedelta(days=day))
    assert ours.stability == card.stability
    assert ours.due == card.due
    assert ours.recall == scheduler.get_card_retrievability(card, current_datetime=now + AHEAD)
    assert ours.reviews == len(days)


def test_the_library_is_the_published_method() -> None:
    """Intervals in days for this sequence of ratings, as the reference implementation of FSRS-6 gives them
    (open-spaced-repetition/py-fsrs, test_review_card; recalled from memory)."""
    scheduler = Scheduler(enable_fuzzing=False)
    card, when = Card(), datetime(2022, 11, 29, 12, 30, tzinfo=UTC)
    days = []
    for grade in (3, 3, 3, 3, 3, 3, 1, 1, 3, 3, 3, 3, 3):
        card, _ = scheduler.review_card(card, Rating(grade), review_datetime=when)
        assert card.last_review is not None
        days.append((card.due - card.last_review).days)
        when = card.due
    assert days == [0, 2, 11, 46, 163, 498, 0, 0, 2, 4, 7, 12, 21]


@pytest.mark.parametrize(
    ("right", "named", "prompted", "slipped", "wanted"),
    [
        (True, True, False, False, Rating.Good),
        (True, True, True, False, Rating.Hard),
        (True, True, False, True, Rating.Hard),
        (False, True, False, False, Rating.Again),
        (False, False, False, False, Rating.Again),
    ],
)
def test_ratings(right: bool, named: bool, prompted: bool, slipped: bool, wanted: Rating) -> None:
    assert rating(right, named, prompted, slipped) is wanted


def test_what_was_just_got_wrong_is_weaker_than_what_was_right_days_ago() -> None:
    known = strengths(
        [session(0, {"horn": True}), session(3, {"horn": True}), session(5, {"wipers": False})],
        BEGIN + timedelta(days=5, minutes=3),
    )
    assert known["wipers"].recall < known["horn"].recall


def test_ten_minutes_before_class_are_the_weakest_in_walking_order() -> None:
    cost = dict.fromkeys((part.key for part in PARTS), 60.0)
    right = {part.key: part.key not in ("rim/steer", "coolant", "hoses") for part in PARTS}
    known = strengths([session(0, right), session(2, right)], BEGIN + timedelta(days=3))
    assert [part.key for part in weakest(PARTS, known, 180, cost)] == ["coolant", "hoses", "rim/steer"]


def test_parts_never_rehearsed_come_first_and_one_always_fits() -> None:
    cost = dict.fromkeys((part.key for part in PARTS), 60.0)
    known = strengths([session(0, {part.key: False for part in PARTS[1:]})], BEGIN)
    assert [part.key for part in weakest(PARTS, known, 1, cost)] == [PARTS[0].key]


def test_the_choice_fits_the_time() -> None:
    cost = costs(PARTS, 120, 5)
    chosen = weakest(PARTS, {}, 40, cost)
    assert sum(cost[part.key] for part in chosen) <= 40
    assert all(value > 5 for value in cost.values())


def test_times_without_a_zone_are_refused() -> None:
    with pytest.raises(ValueError, match="timezone"):
        session(0, {"a": True}).model_copy().model_validate(
            session(0, {"a": True}).model_dump() | {"started": datetime(2026, 1, 1)}
        )
