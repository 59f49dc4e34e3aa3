"""Tie-downs against published rules.

Number: 49 CFR 393.110 as the agency's page on cargo securement rules words it (a quotation was read). Strength: 49 CFR
393.106(d); one half of the weight stands in Federal Register 59, no. 128 (6 July 1994). Ratings: the tables of 49 CFR
393.108 (a reprint was read). The worked example is a trade journal's of June 2015 (second-hand).
"""

from __future__ import annotations

from fractions import Fraction
from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner, Result

from voice.cli import app
from voice.errors import SetupError
from voice.judge import load_limits
from voice.judge.answer import Taken
from voice.judge.cargo import judge_cargo
from voice.judge.limit import LimitSet
from voice.judge.tiedownfigures import Way
from voice.judge.tiedowns import Cargo, Kind, TieDowns, number_needed, secured, tie_down_rules, unmarked_limit
from voice.measure import Measure
from voice.measure.level import Level

RULES = tie_down_rules()

# feet, pounds, tie-downs: on each side of every figure of the rule
FREE = [
    ("5", "1100", 1),
    ("5", "1101", 2),
    ("5.01", "1", 2),
    ("10", "1", 2),
    ("10", "48000", 2),
    ("10.01", "1", 3),
    ("20", "1", 3),
    ("20.01", "1", 4),
    ("48", "1", 6),
]
BLOCKED = [("1", 1), ("5", 1), ("10", 1), ("10.01", 2), ("20", 2), ("20.01", 3), ("48", 5)]


@pytest.mark.parametrize(("feet", "pounds", "number"), FREE)
def test_the_number_when_nothing_keeps_it_from_moving_forward(feet: str, pounds: str, number: int) -> None:
    needed, source = number_needed(Cargo(Fraction(feet), Fraction(pounds)), RULES)
    assert needed == number
    assert source.section == "49 CFR 393.110(b)"


@pytest.mark.parametrize(("feet", "number"), BLOCKED)
def test_the_number_when_it_is_blocked(feet: str, number: int) -> None:
    needed, source = number_needed(Cargo(Fraction(feet), Fraction(40000), blocked=True), RULES)
    assert needed == number
    assert source.section == "49 CFR 393.110(c)"


def test_the_journal_s_example() -> None:
    """18 feet, 40,200 pounds, nothing before it, straps of 5,000 pounds across: three by length, five by weight."""
    cargo = Cargo(Fraction(18), Fraction(40_200))
    four, five = (secured(cargo, TieDowns(number, Fraction(5000)), RULES) for number in (4, 5))
    assert (four.by_length, four.by_strength, four.wanted) == (3, 5, 20_100)
    assert not four.enough
    assert "paragraph d" in four.told[0]
    assert five.enough


@pytest.mark.parametrize(("way", "wanted"), [("across", 2), ("direct", 4), ("back", 4)])
def test_a_tie_down_that_does_not_reach_the_other_side_counts_half(way: Way, wanted: int) -> None:
    cargo = Cargo(Fraction(6), Fraction(20_000))
    assert secured(cargo, TieDowns(wanted, Fraction(5000), way), RULES).enough
    assert not secured(cargo, TieDowns(wanted - 1, Fraction(5000), way), RULES).enough


@pytest.mark.parametrize(
    ("kind", "size", "pounds"),
    [
        ("chain-30", "3/8", 2650),
        ("chain-43", "3/8", 5400),
        ("chain-70", "5/16", 4700),
        ("chain-70", "1/2", 11_300),
        ("chain-80", "3/8", 7100),
        ("chain-100", "5/8", 22_600),
        ("webbing", "1 3/4", 1750),
        ("webbing", "2", 2000),
        ("webbing", "4", 4000),
        ("wire-rope", "1/2", 5300),
    ],
)
def test_the_table_of_unmarked_tie_downs(kind: Kind, size: str, pounds: int) -> None:
    assert unmarked_limit(kind, size)[0] == pounds


def test_a_larger_size_of_a_kind_never_holds_less() -> None:
    for table in tie_down_rules().unmarked.limits.values():
        assert list(table.values()) == sorted(table.values())


def test_a_size_that_the_table_lacks() -> None:
    with pytest.raises(SetupError, match=r"webbing of 5 inches"):
        unmarked_limit("webbing", "5")


positive = st.fractions(min_value=Fraction(1, 100), max_value=10**6, max_denominator=100)


@given(positive, positive, st.booleans(), positive, st.integers(0, 60), st.sampled_from(["across", "direct", "back"]))
def test_enough_is_both_rules_together(
    feet: Fraction, pounds: Fraction, blocked: bool, limit: Fraction, number: int, way: Way
) -> None:
    found = secured(Cargo(feet, pounds, blocked), TieDowns(number, limit, way), RULES)
    assert found.enough == (number >= found.by_length and number >= found.by_strength)
    share = limit * (1 if way == "across" else Fraction(1, 2))
    assert found.by_strength == -floor(-pounds / 2 / share)
    assert len(found.told) >= 2


@given(positive, positive, st.booleans())
def test_more_cargo_never_needs_fewer(feet: Fraction, pounds: Fraction, blocked: bool) -> None:
    needed, _ = number_needed(Cargo(feet, pounds, blocked), RULES)
    assert number_needed(Cargo(feet + 1, pounds, blocked), RULES)[0] >= needed
    assert number_needed(Cargo(feet, pounds + 1000, blocked), RULES)[0] >= needed


def run(arguments: str) -> Result:
    return CliRunner().invoke(app, ["cargo", *arguments.split(" ")])


def test_the_command_says_which_rule_asks_for_more() -> None:
    weak = run("--length 18 --weight 40200 --number 4 --limit 5000")
    assert weak.exit_code == 1
    assert "Of this kind it takes five" in weak.output
    assert "A qualified person decides." in weak.output
    assert run("--length 18ft --weight 40,200 --number 5 --limit 5000").exit_code == 0


def test_a_session_keeps_the_figures_that_it_began_with() -> None:
    """Changed since in tie-downs.yaml, they change nothing of an earlier record."""
    limits = LimitSet.model_validate_json(load_limits().model_dump_json())
    assert limits.tie_downs is not None
    assert limits.tie_downs.number == RULES.number
    told = (("cargo-length", 18, "ft"), ("cargo-weight", 40_200, "lb"), ("tie-downs", 5, "count"))
    taken = [Taken(name, Measure(Fraction(value), unit)) for name, value, unit in told]
    taken.append(Taken("tie-down-limit", Measure(Fraction(5000), "lb")))
    whole = limits.tie_downs.model_copy(update={"strength": RULES.strength.model_copy(update={"share": Fraction(1)})})
    earlier = limits.model_copy(update={"tie_downs": whole})
    levels = [[finding.level for finding in judge_cargo(each, taken)] for each in (limits, earlier)]
    assert levels == [[Level.WITHIN, Level.WITHIN], [Level.WITHIN, Level.HALT]]


def test_the_command_takes_unmarked_straps_and_metric_figures() -> None:
    straps = run("--length 6meters --weight 18000kg --number 4 --kind webbing --size 4")
    assert straps.exit_code == 1  # 18,000 kg are 39,683 lb: half of it is 19,842, four straps hold 16,000
    assert run("--length 6meters --weight 18000kg --number 5 --kind webbing --size 4").exit_code == 0
    assert "Without a mark each counts four thousand pounds" in straps.output


@pytest.mark.parametrize(
    "arguments",
    [
        "--length 0 --weight 4 --number 3 --limit 1",
        "--length 4 --weight heavy --number 3 --limit 1",
        "--length 4 --weight 1000 --number 1",
        "--length 4 --weight 1000 --number 1 --kind webbing --size 9",
        "--length 4 --weight 1000 --number 1 --limit 5 --kind webbing --size 4",
    ],
)
def test_what_cannot_be_computed_is_refused_in_a_sentence(arguments: str) -> None:
    with pytest.raises(SetupError):
        CliRunner().invoke(app, ["cargo", *arguments.split(" ")], catch_exceptions=False)
