"""Which defects wait for a certification: at the exact moments, and with records or certifications missing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import permutations
from pathlib import Path
from typing import get_args

import pytest

from tests.record.walks import signed
from voice.measure.level import LevelName
from voice.record.lives import Fact, FactKind, lives
from voice.record.model import CarriedRecord, Certification
from voice.record.open_defects import OpenDefect, fold
from voice.record.past import Past, SeenDefect, pasts_of
from voice.record.repairs import Repair

KEY = "horn#not-working"
START = datetime(2026, 3, 2, 8, tzinfo=UTC)


def at(days: float) -> datetime:
    return START + timedelta(days=days)


def certified(days: float, key: str = KEY) -> Repair:
    return Repair("truck-7", "r1", Certification(key=key, verdict="repaired", name="Bo Lind", at=at(days)))


def found(days: float, level: LevelName = "repair", key: str = KEY) -> Past:
    return Past(
        id=f"found-{days}", vehicle="truck-7", at=at(days), defects=(SeenDefect(key=key, title="Horn", level=level),)
    )  # fmt: skip


def carried(days: float, answer: str, since: float = 0, *, level: LevelName | None = None) -> Past:
    """A record that asked about the defect found `since`. level: with it, it is found again on the same walk."""
    asked = CarriedRecord.model_validate(
        {"key": KEY, "title": "Horn", "found": at(since), "record": "found-0", "answer": answer}
    )
    again = () if level is None else (SeenDefect(key=KEY, title="Horn", level=level),)
    return Past(id=f"carried-{days}", vehicle="truck-7", at=at(days), carried=(asked,), defects=again)


def only(records: list[Past], repairs: list[Repair]) -> OpenDefect:
    (open_,) = fold(records, repairs)
    return open_


def test_certified_at_the_very_moment_it_was_found_is_certified() -> None:
    assert fold([found(0)], [certified(0)]) == []
    assert fold([found(0), found(0.5, key="lamp#out")], [certified(0)])[0].key == "lamp#out"


def test_a_certification_of_before_closes_nothing() -> None:
    assert only([found(0)], [certified(-1)]).found == at(0)
    assert only([found(0)], [certified(1, key="lamp#out")]).key == KEY


def test_seen_again_after_its_certification_it_is_open_as_a_new_defect() -> None:
    open_ = only([found(0, "halt"), found(2, "watch")], [certified(1)])
    assert (open_.found, open_.record, open_.level, open_.times_seen) == (at(2), "found-2", "watch", 1)


def test_a_certification_at_the_moment_of_the_next_record_closes_the_earlier_life() -> None:
    """Both at day 2: what that record found is certified at the moment it was found."""
    assert fold([found(0), found(2)], [certified(2)]) == []


def test_of_a_record_that_is_gone_the_defect_stays_open_unless_it_was_certified_since() -> None:
    assert only([carried(3, "still-there")], []).record == "found-0"
    for day in (0, 1):  # seen again after its certification, it is open again
        assert only([carried(3, "still-there")], [certified(day)]).found == at(3)
        assert fold([carried(3, "repaired")], [certified(day)]) == []
    assert only([carried(3, "still-there")], [certified(-1)]).found == at(0)
    assert fold([carried(3, "still-there")], [certified(3)]) == []


def test_what_was_not_asked_says_nothing_new() -> None:
    asked = only([found(0), carried(1, "still-there")], [])
    silent = only([found(0), carried(1, "still-there"), carried(2, "not-asked")], [])
    assert (asked.last, asked.said, asked.times_seen) == ("carried-1", "still-there", 2)
    assert silent == asked


def test_told_and_found_on_one_walk_is_seen_once_and_the_worst_level_stays() -> None:
    open_ = only([found(0, "watch"), carried(1, "still-there", level="halt"), found(2, "repair")], [])
    assert (open_.times_seen, open_.level, open_.last) == (3, "halt", "found-2")
    repaired = only([found(0), carried(1, "repaired", level="repair")], [])
    assert (repaired.times_seen, repaired.said) == (2, "repaired")


@pytest.mark.parametrize("answer", ["still-there", "said-repaired", "said-not-here"])
@pytest.mark.parametrize("certified_then", [False, True])
def test_in_which_order_the_facts_of_one_moment_come_in_makes_no_difference(answer: str, certified_then: bool) -> None:
    """Found, then what the driver said, then the mechanic; of two certifications the repair counts."""
    kinds = {
        "found",
        "still-there",
        answer,
        *(("certified-repaired", "certified-unnecessary") if certified_then else ()),
    }
    facts = [Fact(KEY, kind, "record:r1", at(0), "Horn") for kind in get_args(FactKind) if kind in kinds]
    (life,) = lives(facts)
    said = {"said-repaired": "repaired", "said-not-here": "not-on-this-vehicle"}.get(answer, "still-there")
    assert (life.said, life.verdict, life.times) == (said, "repaired" if certified_then else None, 1)
    assert {tuple(lives(order)) for order in permutations(facts)} == {(life,)}


def test_the_worst_comes_first_and_of_equals_the_oldest() -> None:
    records = [found(0, "watch", "a"), found(1, "repair", "c"), found(2, "repair", "b"), found(3, "halt", "d")]
    assert [defect.key for defect in fold(records, [])] == ["d", "c", "b", "a"]


def test_a_reading_that_was_watched_is_not_well_within_and_the_miles_are_those_of_the_odometer(tmp_path: Path) -> None:
    record = signed(tmp_path, {"tire-tread@left-1": ("four thirty seconds",)}, only=("tire-tread",))
    past, trailer = pasts_of(record)
    assert past.beyond == ("tire-tread@left-1",)
    assert len(past.measured) + len(trailer.measured) == len(record.entries) - 1
    assert trailer.measured[0].startswith("tire-tread@left-1-")
    assert past.miles == 412345
    assert pasts_of(record.model_copy(update={"odometer": None}))[0].miles is None
