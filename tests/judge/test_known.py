"""How a figure is known is said aloud, in the report and in the table; "check locally" where a halt rests on memory."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

from tests.judge.yard import DAY, at, axle, found, rig, shipped, steer, stepped
from voice.author.table import markdown
from voice.judge import Finding, assess_results, judge_defect, load_limits, sentence
from voice.judge.citation import spoken_support
from voice.judge.model import KNOWN, UNSURE, Known
from voice.judge.wording import verdicts
from voice.measure.level import Level
from voice.record.wording import words
from voice.route.vehicle import Brake

BULGE = judge_defect(shipped(), at(rig(), 2, item="tire-condition"), "bulge", part="tires")  # a halt, from memory


@pytest.mark.parametrize(
    ("known", "level", "said"),
    [
        ("read", Level.HALT, ""),
        ("second-hand", Level.HALT, ", known second-hand"),
        ("second-hand", Level.REPAIR, ", known second-hand"),
        ("memory", Level.HALT, ", from memory, check locally"),
        ("memory", Level.REPAIR, ", from memory"),
        ("practice", Level.HALT, ", check locally"),
        ("practice", Level.WATCH, ""),
    ],
)
def test_what_is_said_after_a_source(known: Known, level: Level, said: str) -> None:
    finding = replace(BULGE, known=known, level=level, source="House rule")
    assert spoken_support(finding) == f"House rule{said}"


def test_it_is_said_at_the_answer_and_in_the_summary() -> None:
    assert sentence(BULGE) == (
        "Bulge: may not be driven under out of service criteria, tires, from memory, check locally."
    )
    result = stepped(rig(), 2, "left", [BULGE], name="left axle two tire", part="tires", outcome="defect")
    assert (
        "out of service criteria, tires, from memory, check locally."
        in assess_results(shipped(), rig(), [result]).text[1]
    )


def test_every_way_of_knowing_has_its_words() -> None:
    assert KNOWN == get_args(Known) == ("read", "second-hand", "memory", "practice")
    assert set(words("report")["sources"]["levels"]) == set(words("report")["sources"]["short"]) == set(KNOWN)
    assert set(verdicts().known) == set(KNOWN)
    assert frozenset(KNOWN[2:]) == UNSURE


def test_of_equal_findings_the_better_known_one_is_told() -> None:
    """A steer lining of 1/8 in: a halt by memory. Two halts: the one that was read comes first."""
    drive = rig((steer(), axle(brake=Brake(kind="air-drum"))))
    finding = next(iter(found(at(drive, 2, "left"), "lining-thickness", "1/8", "in").values()))
    assert (finding.limit, finding.known) == ("lining-other-drum", "read")
    whole = load_limits().on(DAY)
    remembered = next(limit for limit in whole.limits if limit.id == "lining-steer-strip-halt")
    read = remembered.model_copy(
        update={"id": "zz-read", "source": remembered.source.model_copy(update={"known": "read"})}
    )
    both = type(whole)(**{**dict(whole), "limits": (remembered, read)})
    first: Finding = next(iter(found(at(rig(), 1, "left"), "lining-thickness", "1/8", "in", both).values()))
    assert first.limit == "zz-read"


def test_the_table_tells_it_too() -> None:
    text = markdown(load_limits())
    row = next(line for line in text.splitlines() if "(`tire-bulge`)" in line)
    assert "**halt**, check locally" in row
    row = next(line for line in text.splitlines() if "(`wheel-welded-disc`)" in line)
    assert "second-hand: " in row
    assert "check locally" not in row


def test_no_out_of_service_criterion_is_called_read() -> None:
    """The book itself was never seen, only reprints and reports of it."""
    for rule in (*load_limits().limits, *load_limits().criteria):
        if rule.source.section.startswith("CVSA"):
            assert rule.source.known in ("second-hand", "memory"), rule.id


def test_slack_adjusters_of_two_lengths_stand_against_leaving() -> None:
    """393.47(c): the effective length at each end of an axle must be the same; on the steer axle out of service."""
    long_right = Brake(kind="air-drum", arm_in="5 1/2", right_arm_in="6")
    same = Brake(kind="air-drum", arm_in="6", right_arm_in="6")
    vehicle = rig((steer(brake=long_right), axle(brake=long_right), axle(brake=same)))
    entries = assess_results(shipped(), vehicle, []).against
    assert [(entry.name, entry.finding.limit, entry.finding.level) for entry in entries] == [
        ("axle one, slack adjusters", "slacks-differ-steer", Level.HALT),
        ("axle two, slack adjusters", "slacks-differ", Level.REPAIR),
    ]
