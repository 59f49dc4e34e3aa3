"""The load asked for aloud: tie-downs are worked out from four figures; what is sealed is not opened.

49 CFR 393.110(b) and .106(d) as in tests/judge/test_tiedowns.py: a piece of 18 feet takes three tie-downs, which hold
half of its weight.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from tests.walk.talkative import Talk, context, short
from voice.data.folders import prompts_dir
from voice.measure.level import Level
from voice.route import load_library, load_vehicle, make_plan
from voice.walk.context import Context


@cache
def flatbed(system: str = "us") -> Context:
    vehicle = load_vehicle(prompts_dir() / "vehicles" / "straight-truck-two-axle.yaml")
    vehicle = vehicle.model_copy(update={"body": "flatbed", "display_units": system})
    plan = short(make_plan(load_library(), vehicle), ("tie-down-count",))
    return replace(context("straight-truck"), plan=plan)


def told(*figures: str) -> Talk:
    """Length, weight, number and limit, as they are said."""
    talk = Talk(flatbed())
    talk.say(*figures)
    return talk


@pytest.mark.parametrize(
    ("number", "limit", "levels", "says"),
    [
        ("three", "six thousand", ["within", "within"], "ask for three of them and for eighteen thousand pounds"),
        ("two", "nine thousand", ["halt", "within"], "Too few tie-downs: two of at least three"),
        ("three", "fifty nine hundred", ["within", "halt"], "Too weak"),
        ("none", "six thousand", ["halt", "halt"], "Too few tie-downs: zero of at least three"),
    ],
)
def test_four_figures_are_judged_together(number: str, limit: str, levels: list[str], says: str) -> None:
    talk = told("eighteen feet", "thirty six thousand pounds", number, limit)
    assert says in talk.heard
    (result,) = talk.context.assessed(talk.state.answers).results
    assert {f.quantity: f.level.word for f in result.findings} == dict(
        zip(("tie-downs", "tie-down-hold"), levels, strict=True)
    )
    rules = {"tie-downs": "49 CFR 393.110(b)", "tie-down-hold": "49 CFR 393.106(d)"}
    assert all(finding.source == rules[finding.quantity] for finding in result.findings)


def test_too_few_stand_against_leaving_in_the_summary() -> None:
    talk = told("eighteen feet", "thirty six thousand pounds", "two", "nine thousand")
    found = talk.context.assessed(talk.state.answers)
    assert [each.finding.level for each in found.against] == [Level.HALT]
    assert any("at least three" in sentence for sentence in found.text)


@pytest.mark.parametrize("number", ["two", "three"])
def test_what_was_judged_by_all_four_figures_does_not_lack_one(number: str) -> None:
    talk = told("eighteen feet", "thirty six thousand pounds", number, "nine thousand")
    found = talk.context.assessed(talk.state.answers)
    assert (found.unjudged, found.unmeasured) == ((), ())
    assert not any("no figure" in sentence for sentence in found.text)


def test_while_a_figure_is_missing_nothing_counts_as_enough() -> None:
    talk = told("eighteen feet", "thirty six thousand pounds", "three")
    talk.say("skip")
    found = talk.context.assessed(talk.state.answers)
    (result,) = found.results
    assert result.findings == ()
    assert found.unjudged == (result.step,) or found.unmeasured == (result.step,)


def test_each_figure_is_read_back() -> None:
    talk = Talk(flatbed())
    talk.say("eighteen feet")
    assert "eighteen feet" in talk.heard
    talk.say("thirty six")
    assert "thirty six thousand pounds" in talk.heard


def test_metric_figures_are_judged_by_the_same_rule() -> None:
    talk = Talk(flatbed("si"))
    talk.say("five meters", "sixteen tons", "three", "two thousand seven hundred")
    (result,) = talk.context.assessed(talk.state.answers).results
    assert {f.quantity: f.level for f in result.findings} == {"tie-downs": Level.WITHIN, "tie-down-hold": Level.WITHIN}


def test_a_sealed_load_is_an_answer_and_a_broken_seal_is_none() -> None:
    van = context(only=("cargo-load",))
    talk = Talk(van)
    talk.say("sealed")
    assert next(iter(talk.state.answers.values())).choice == "sealed"
    talk = Talk(van)
    talk.say("not sealed", "no")
    (answer,) = talk.state.answers.values()
    assert [defect.defect for defect in answer.defects] == ["seal-broken"]
