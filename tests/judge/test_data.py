"""The shipped limits fit the shipped items, and every one of them says where it is from."""

from __future__ import annotations

import re

import pytest

from tests.judge.yard import at, rig, shipped
from voice.author.table import markdown
from voice.data.folders import prompts_dir
from voice.judge import cargo, judge_defect, load_limits
from voice.judge.assessment import CHAMBERS, SLACKS
from voice.judge.wording import verdicts
from voice.measure import fits
from voice.measure.book import unit_book
from voice.measure.level import Level
from voice.route import load_library
from voice.route.answer import Choice
from voice.route.library import OTHER, Library

WHOLE = load_limits()
RULES = (*WHOLE.limits, *WHOLE.criteria)
UNSAID = {OTHER, "mismatched"}  # fits every item; named by the profile, not by the driver


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library()


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_rule_has_a_source_and_says_whether_it_was_read(rule: object) -> None:
    source = rule.source  # type: ignore[attr-defined]
    assert source.section
    if source.known in ("read", "second-hand"):
        assert source.where
    if source.known == "practice":
        assert source.section == "common practice, no source"
    else:
        assert "practice" not in source.section


def test_ids_are_used_once() -> None:
    ids = [rule.id for rule in RULES]
    assert len(ids) == len(set(ids))


def test_every_item_and_defect_of_a_criterion_exists_and_belongs_together(library: Library) -> None:
    for rule in shipped().criteria:
        for name in rule.items:
            if name in (CHAMBERS, SLACKS):
                continue
            assert name in library.items, f"{rule.id}: {name}"
        for defect in rule.defects:
            assert defect in library.defects, f"{rule.id}: {defect}"
        items = [library.items[name] for name in rule.items if name not in (CHAMBERS, SLACKS)]
        items = items or [item for item in library.items.values() if item.part in rule.parts]
        for defect in set(rule.defects) - UNSAID:
            assert any(defect in item.defects for item in items), f"{rule.id}: nobody can say {defect}"
        for item in items if rule.items else ():
            assert not rule.defects or set(rule.defects) & {*item.defects, OTHER}, f"{rule.id}: {item.id}"


def test_details_of_a_criterion_are_answers_that_can_be_given(library: Library) -> None:
    for rule in shipped().criteria:
        for name, wanted in rule.details.items():
            options = {
                option.id
                for item in rule.items
                for follow in library.items[item].follow_ups
                if follow.id == name and isinstance(follow.answer, Choice)
                for option in follow.answer.options
            }
            assert set(wanted) <= options, rule.id


def test_every_defect_of_every_item_has_a_verdict(library: Library) -> None:
    for item in library.items.values():
        for defect in (*item.defects, OTHER):
            for number in (None, 1, 2, 4):
                finding = judge_defect(shipped(), at(rig(), number, "left", item.id), defect, part=item.part)
                assert finding.level >= Level.WATCH
                assert finding.source


def test_default_of_the_rule_is_repair(library: Library) -> None:
    """49 CFR 396.11(a)(1) lists eleven parts; (a)(3) asks for repair, or certification, before the next use."""
    eleven = {
        "service-brakes", "parking-brake", "steering", "lighting", "tires", "horn", "wipers", "mirrors", "coupling",
        "wheels", "emergency-equipment",
    }  # fmt: skip
    parts = {item.part for item in library.items.values()}
    assert parts == {*eleven, "other"}
    for part in sorted(eleven):
        finding = judge_defect(shipped(), at(rig(), item="no-such-item"), "no-such-defect", part=part)  # type: ignore[arg-type]
        assert (finding.level, finding.source) == (Level.REPAIR, "49 CFR 396.11(a)(3)")
    other = judge_defect(shipped(), at(rig(), item="no-such-item"), "no-such-defect", part="other")
    assert (other.level, other.source) == (Level.REPAIR, "49 CFR 396.11(a)(2)")


HALTING = [  # item, defect, axle, part; what the public criteria or the rule itself do not let drive
    ("tire-pressure", "flat", 2, "tires"),  # 393.75(a)(3)
    ("tire-condition", "cords", 1, "tires"),  # 393.75(a)(1)
    ("tire-tread", "separating", 4, "tires"),  # 393.75(a)(2)
    ("dual-tires", "touching", 2, "tires"),
    ("rim-lugs", "cracked", 2, "wheels"),
    ("locking-jaws", "jaws-open", None, "coupling"),
    ("lining-thickness", "thin", 1, "service-brakes"),
    ("castle-nuts", "missing", None, "steering"),
    ("air-bags", "deflated", 2, "other"),
    ("fuel-tank", "leaking", None, "other"),
    ("cargo-securement", "cargo-shifted", None, "other"),  # 392.9(a)
    ("low-air-warning", "no-warning", None, "service-brakes"),
    ("supply-valve-pop", "no-pop", None, "service-brakes"),
    ("parking-brake-test", "not-holding", None, "parking-brake"),
    ("brake-chamber", "broken", 1, "service-brakes"),
    ("brake-drum", "thin", 1, "service-brakes"),
]


@pytest.mark.parametrize(("item", "defect", "number", "part"), HALTING)
def test_what_may_not_be_driven(library: Library, item: str, defect: str, number: int | None, part: str) -> None:
    assert library.items[item].part == part
    finding = judge_defect(shipped(), at(rig(), number, "left", item), defect, part=part)
    assert finding.level is Level.HALT
    assert finding.layer == "us-federal.yaml"


def test_milder_than_the_default_on_purpose() -> None:
    """Spare fuses are no longer asked for by the rule (2026); uneven wear is the manual's; retreads are allowed."""
    for item, defect, part in (
        ("spare-fuses", "missing", "emergency-equipment"),
        ("tire-condition", "uneven", "tires"),
        ("surroundings", "obstacle", "other"),
        ("reefer-unit", "not-working", "other"),
    ):
        finding = judge_defect(shipped(), at(rig(), 2, item=item), defect, part=part)  # type: ignore[arg-type]
        assert finding.level is Level.WATCH, item
    watched = {rule.id for rule in shipped().criteria if rule.level == "watch"}
    assert watched == {"spare-fuses", "tire-uneven", "obstacle", "reefer", "tire-retread", "tire-retread-steer"}


def test_a_detail_makes_it_worse() -> None:
    subject = at(rig(), 2, "left", "springs")
    leaf = judge_defect(shipped(), subject, "broken", part="other", details={"part": "leaf"})
    bolt = judge_defect(shipped(), subject, "broken", part="other", details={"part": "u-bolt"})
    assert (leaf.level, leaf.limit) == (Level.REPAIR, "spring-leaf")
    assert (bolt.level, bolt.limit) == (Level.HALT, "spring-mount")
    assert leaf.condition


def test_every_quantity_an_item_asks_is_in_the_units_file_and_fits(library: Library) -> None:
    for item in library.items.values():
        answers = [item.answer, *(follow.answer for follow in item.follow_ups)]
        for answer in answers:
            quantity = getattr(answer, "quantity", None)
            if quantity is None:
                continue
            assert quantity in unit_book().quantities, f"{item.id}: {quantity}"
            unit = getattr(answer, "unit", "")
            asked = {"hold": f"{unit}/min", "climb": "s"}.get(answer.kind, unit)
            assert fits(asked, unit_book().quantities[quantity].unit), item.id
            if quantity not in (cargo.LENGTH, cargo.WEIGHT, cargo.NUMBER, cargo.LIMIT):  # judged together
                assert shipped().of_quantity(quantity), f"{item.id}: no limit for {quantity}"


def test_every_limit_an_item_names_exists(library: Library) -> None:
    for item in library.items.values():
        for name in item.limits:
            assert shipped().rule(name) is not None, f"{item.id}: {name}"
        for point in item.points:
            assert point.limit is None or shipped().rule(point.limit) is not None, f"{item.id}: {point.limit}"


def test_the_table_of_limits_is_up_to_date() -> None:
    """Made by `python -m voice.author.table`."""
    file = prompts_dir() / "generated" / "LIMITS.md"
    assert file.read_text(encoding="utf-8") == markdown(WHOLE)


def test_the_table_has_every_rule() -> None:
    text = markdown(WHOLE)
    for rule in RULES:
        assert f"(`{rule.id}`)" in text
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    assert len({line.count(" | ") for line in rows if "`" in line and "(`" in line}) == 1  # no cell breaks the table


def test_nothing_said_of_the_vehicle_calls_it_safe_or_passed() -> None:
    for name in ("verdicts.yaml", "limits/us-federal.yaml", "units.yaml"):
        text = (prompts_dir() / name).read_text(encoding="utf-8")
        words = "\n".join(line.split("#")[0] for line in text.splitlines())
        assert not re.search(r"\b(safe|safely|passed|passes|roadworthy)\b", words, re.IGNORECASE), name


def test_the_summary_always_leaves_it_to_a_qualified_person() -> None:
    assert "qualified person decides" in verdicts().summary.decides
