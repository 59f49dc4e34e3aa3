"""The review of the last report before driving, 49 CFR 396.13."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.record.walks import signed, walk
from tests.walk.talkative import context
from voice.judge.answer import Answer
from voice.record.open_defects import OpenDefect
from voice.record.review import SECTION, carried_records, with_review
from voice.route.model import Plan

FOUND = datetime(2026, 3, 2, 5, 30, tzinfo=UTC)
FEW = ("chocks", "wipers")


def open_(number: int, title: str = "Air horn: does not work") -> OpenDefect:
    return OpenDefect(f"horn#{number}", title, FOUND, "r1", "repair", 1, "r1")


def test_it_comes_first_and_changes_nothing_else() -> None:
    plan = context(only=FEW).plan
    reviewed = with_review(plan, [open_(1), open_(2, "Mud flap: torn")])
    assert [step.id for step in reviewed.steps[:2]] == ["carried@1", "carried@2"]
    assert reviewed.steps[2:] == plan.steps
    assert reviewed.sections[0].id == SECTION
    assert reviewed.sections[1:] == plan.sections
    assert [carried.key for carried in reviewed.carried] == ["horn#1", "horn#2"]
    assert reviewed.data_sha256 == plan.data_sha256


def test_nothing_open_nothing_asked() -> None:
    plan = context(only=FEW).plan
    assert with_review(plan, []) is plan


def test_twice_is_once() -> None:
    reviewed = with_review(context(only=FEW).plan, [open_(1)])
    assert with_review(reviewed, [open_(1), open_(2)]) is reviewed


def test_the_question_says_what_and_when() -> None:
    step = with_review(context(only=FEW).plan, [open_(1)]).steps[0]
    assert "Air horn: does not work" in step.say.normal
    assert "March 2" in step.say.normal
    assert "certification closes" in step.say.full
    assert len(step.say.terse) < len(step.say.normal) < len(step.say.full)


def test_names_stay_unique_and_in_words_however_many_there_are() -> None:
    reviewed = with_review(context(only=FEW).plan, [open_(n) for n in range(30)])
    assert reviewed.steps[20].name == "earlier defect twenty one"
    assert len({step.name for step in reviewed.steps}) == len(reviewed.steps)
    assert len({step.id for step in reviewed.steps}) == len(reviewed.steps)


def test_the_plan_survives_its_file(tmp_path: Path) -> None:
    reviewed = with_review(context(only=FEW).plan, [open_(1)])
    assert Plan.model_validate_json(reviewed.model_dump_json()) == reviewed


def test_braces_in_a_title_are_only_text() -> None:
    step = with_review(context(only=FEW).plan, [open_(1, "{0} {title} {x.__class__}")]).steps[0]
    assert "{0} {title} {x.__class__}" in step.say.normal


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (Answer("carried@1", "choice", 0, 1, choice="repaired"), "repaired"),
        (Answer("carried@1", "choice", 0, 1, choice="still-there"), "still-there"),
        (Answer("carried@1", "choice", 0, 1, choice="not-on-this-vehicle"), "not-on-this-vehicle"),
        (Answer("carried@1", "not-applicable", 0, 1, reason="other trailer"), "not-on-this-vehicle"),
        (Answer("carried@1", "not-inspected", 0, 1), "not-asked"),
        (None, "not-asked"),
    ],
)
def test_what_the_driver_said(answer: Answer | None, said: str) -> None:
    reviewed = with_review(context(only=FEW).plan, [open_(1)])
    (record,) = carried_records(reviewed, {} if answer is None else {"carried@1": answer})
    assert (record.key, record.answer, record.found) == ("horn#1", said, FOUND)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("repaired", "repaired"),
        ("fixed", "repaired"),
        ("still there", "still-there"),
        ("other trailer", "not-on-this-vehicle"),
    ],
)
def test_spoken_through_the_real_walk(tmp_path: Path, words: str, said: str) -> None:
    record = signed(tmp_path, {"carried@1": (words,)}, only=FEW, carried=[open_(1)])
    assert [(c.key, c.answer) for c in record.carried] == [("horn#1", said)]
    first = record.entries[0]
    assert (first.section, first.step) == (SECTION, "carried@1")
    assert first.evidence[0].words == words
    assert not record.defects


def test_an_unanswered_review_is_not_an_item_left_out(tmp_path: Path) -> None:
    found, known = walk(tmp_path, {"carried@1": ("finish inspection", "yes")}, only=FEW, carried=[open_(1)])
    from tests.record.walks import record_of

    record = record_of(found, known)
    assert [c.answer for c in record.carried] == ["not-asked"]
    assert set(record.summary.not_inspected) == {"chocks", "wipers"}
