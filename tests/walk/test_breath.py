"""Two readings in one breath, and "same": read back, judged anew, and worth no more than the numbers they stand for."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.test_ten_faults import PLANTED, VEHICLES, Walked
from tests.walk.talkative import Talk, context, replayed
from voice.author.check import check_files
from voice.data.folders import prompts_dir
from voice.journal import journal
from voice.judge.answer import LAST
from voice.measure import Measure
from voice.record.build import build
from voice.record.past import pasts_of
from voice.route.model import LastReading
from voice.session.due import with_last
from voice.understand.meaning import Clear, Defect, Pair, Same
from voice.walk.context import Context
from voice.walk.event import Doubted, Heard
from voice.walk.state import Aside, Stage

TREAD, PRESSURE = "tire-tread@left-1", "tire-pressure@left-1"
OUTER, INNER = "tire-tread@left-2-outer", "tire-tread@left-2-inner"


@pytest.fixture
def known() -> Context:
    return context(only=("tire-tread", "tire-pressure"))


@pytest.fixture
def talk(known: Context) -> Talk:
    return Talk(known)


def reading(talk: Talk, step: str) -> Measure:
    (taken,) = talk.state.answers[step].taken
    return taken.value


def test_both_are_kept_each_read_back_and_marked_as_told_so(talk: Talk) -> None:
    talk.say("nine and one ten")
    assert talk.heard.startswith("nine thirty seconds of an inch. one hundred ten p s i.")
    assert reading(talk, TREAD) == Measure(Fraction(9, 32), "in")
    assert reading(talk, PRESSURE) == Measure(Fraction(110), "psi")
    assert (talk.state.answers[TREAD].beside, talk.state.answers[PRESSURE].beside) == (PRESSURE, TREAD)
    assert talk.state.answers[PRESSURE].events == talk.state.answers[TREAD].events == (1,)
    assert talk.current == OUTER


def test_the_first_is_confirmed_before_the_second_counts(talk: Talk) -> None:
    talk.say("three and one ten")
    assert talk.state.stage is Stage.CONFIRM
    assert not talk.state.answers
    talk.say("yes")
    assert set(talk.state.answers) == {TREAD, PRESSURE}


def test_a_denied_first_takes_the_second_with_it(talk: Talk) -> None:
    talk.say("three and one ten", "no", "nine")
    assert set(talk.state.answers) == {TREAD}
    assert talk.state.answers[TREAD].beside == ""
    assert talk.current == PRESSURE


def test_a_denied_first_takes_the_second_with_it_whatever_is_said_then(talk: Talk) -> None:
    talk.say("three and one ten", "no", "cut", "no")
    assert set(talk.state.answers) == {TREAD}
    assert talk.state.answers[TREAD].kind == "defect"


def test_the_second_is_of_the_same_tire(talk: Talk) -> None:
    talk.say("nine and one ten", "eight and one hundred")
    assert set(talk.state.answers) == {TREAD, PRESSURE, OUTER, "tire-pressure@left-2-outer"}
    assert reading(talk, "tire-pressure@left-2-outer") == Measure(Fraction(100), "psi")


def test_a_second_beyond_its_limit_is_confirmed_by_itself(talk: Talk) -> None:
    talk.say("nine and fifty")
    assert set(talk.state.answers) == {TREAD}
    assert talk.heard.startswith("nine thirty seconds of an inch. fifty p s i. The limit is")
    talk.say("no", "one ten")
    assert reading(talk, PRESSURE) == Measure(Fraction(110), "psi")
    assert talk.state.answers[PRESSURE].beside == ""


def test_what_is_no_pressure_is_refused_with_both(talk: Talk) -> None:
    talk.mean(Pair(Measure(Fraction(9, 32), "in"), Measure(Fraction(400), "psi")))
    assert not talk.state.answers
    assert "outside" in talk.heard


def test_a_doubted_cut_stands_against_the_first_and_the_second_waits(talk: Talk) -> None:
    talk.send(Doubted(1.0, Defect("cut"), "cut", onset=1.0))
    talk.say("nine and one ten")
    assert talk.state.stage is Stage.TAKE_BACK
    assert not talk.state.answers
    talk.mean(Clear())
    assert set(talk.state.answers) == {TREAD, PRESSURE}


def test_a_pair_is_offered_only_while_both_are_open(talk: Talk) -> None:
    assert "nine and one ten" in talk.question.meanings
    talk.say("nine", "one ten", "change an answer", "left steer tread")
    assert "nine and one ten" not in talk.question.meanings


def test_a_pair_adds_to_no_other_question(talk: Talk) -> None:
    assert sum(isinstance(each, Pair) for each in talk.question.meanings.values()) > 1000
    talk.say("nine")
    assert not any(isinstance(each, Pair) for each in talk.question.meanings.values())


def test_the_inner_tire_is_the_same_as_the_outer(talk: Talk) -> None:
    talk.say("nine and one ten", "eight", "same")
    assert talk.heard.startswith("The same, eight thirty seconds of an inch.")
    assert reading(talk, INNER) == Measure(Fraction(8, 32), "in")
    assert talk.state.answers[INNER].same == OUTER


def test_the_same_beyond_the_limit_is_confirmed_again(talk: Talk) -> None:
    talk.say("nine and one ten", "one thirty second", "yes", "same")
    assert talk.state.stage is Stage.CONFIRM
    assert "The limit is" in talk.heard
    talk.say("no")
    assert INNER not in talk.state.answers


def test_the_same_never_carries_a_defect_or_its_absence(talk: Talk) -> None:
    talk.say("nine and one ten", "cut", "no", "same")
    assert talk.heard.startswith("I have no number for that.")
    assert INNER not in talk.state.answers
    talk.say("change an answer", "left axle two outer tread", "eight")
    assert talk.state.stage is Stage.TAKE_BACK  # the cut stands
    talk.mean(Clear())
    talk.send(Doubted(talk.clock, Defect("cut"), "cut", onset=talk.clock))
    talk.mean(Same())
    talk.say("yes")
    assert talk.state.stage is Stage.TAKE_BACK  # and of the inner one the number settles nothing
    assert INNER not in talk.state.answers


def test_there_is_no_number_to_be_the_same_as(talk: Talk) -> None:
    talk.say("same")
    assert not talk.state.answers
    assert talk.heard.startswith("I have no number for that. Tread depth")


def test_when_the_outer_is_changed_the_inner_is_asked_again(known: Context, talk: Talk) -> None:
    talk.say("nine and one ten", "eight", "same", "change an answer", "left axle two outer tread", "seven")
    assert talk.current == INNER
    talk.say("skip")
    assert talk.current != INNER
    talk.say("change an answer", "left axle two inner tread", "same")
    assert reading(talk, INNER) == Measure(Fraction(7, 32), "in")
    assert replayed(known, talk.events) == talk.state


def test_the_same_counts_only_once_the_question_was_asked_to_its_end(talk: Talk) -> None:
    talk.say("nine and one ten", "eight")
    talk.send(Heard(talk.clock, Same(), "same", onset=talk.clock, early=True))
    assert INNER not in talk.state.answers


def test_a_doubted_same_is_asked_back(talk: Talk) -> None:
    talk.say("nine and one ten", "eight")
    talk.send(Doubted(talk.clock, Same(), "same", onset=talk.clock))
    assert talk.state.aside is Aside.DOUBT
    talk.say("yes")
    assert talk.state.answers[INNER].same == OUTER


def test_the_height_of_a_flap_is_what_it_was_last_time() -> None:
    base = context(only=("mud-flap-height",))
    last = {"mud-flap-height@left": LastReading(at="2026-11-20T07:00:00+00:00", value=Fraction(9), unit="in")}
    talk = Talk(replace(base, plan=base.plan.model_copy(update={"last": last})))
    talk.say("same")
    assert talk.state.answers["mud-flap-height@left"].same == LAST
    talk.say("same")
    assert talk.heard.startswith("I have no number for that.")


def test_the_record_says_what_was_told_so(tmp_path: Path) -> None:
    vehicle = "tractor-trailer-five-axle"
    first = Walked(tmp_path / "first", VEHICLES / f"{vehicle}.yaml", PLANTED[vehicle])
    past, trailer = pasts_of(first.record)
    made = with_last(first.context.plan, [past, trailer])
    assert set(made.last) == {"mud-flap-height@left", "mud-flap-height@right", "rear-guard-height"}
    state, answers = first.state, dict(first.state.answers)
    answers[INNER] = replace(answers[INNER], same=OUTER, beside="tire-pressure@left-2-inner")
    answers["rear-guard-height"] = replace(answers["rear-guard-height"], same=LAST)
    state = replace(state, answers=answers)
    log = journal.read(first.session.journal)
    record = build(made, log, state, first.context.limits, {})
    told = {entry.step: entry.details["told"] for entry in record.entries if "told" in entry.details}
    assert told == {
        INNER: "same as left axle two outer tread; in one breath with left axle two inner pressure",
        "rear-guard-height": f"same as on {past.at:%Y-%m-%d}",
    }


WRONG = {
    "horn-electric": ("  same: [last]\n", "this is none"),
    "tire-tread": ("  beside: {item: horn-air, low: 0, high: 1, then_low: 0, then_high: 1}\n", "not both readings"),
    "belt-play": ("  beside: {item: tire-pressure, low: 0, high: 1, then_low: 50, then_high: 60}\n", "no route asks"),
}


@pytest.mark.parametrize("item", WRONG)
def test_what_can_be_told_so_is_checked(item: str, tmp_path: Path) -> None:
    lines, message = WRONG[item]
    files = {file: file.read_text() for file in (prompts_dir() / "items").glob("*.yaml")}
    text = next(text for text in files.values() if text.startswith(f"{item}:") or f"\n{item}:\n" in text)
    start = text.index(f"{item}:\n")
    own = text[start:].split("\n")
    end = next((n for n, line in enumerate(own[1:], 1) if line and not line.startswith(" ")), len(own))
    kept = [line for line in own[1:end] if not line.startswith(("  beside:", "  same:"))]
    (tmp_path / "items").mkdir()
    file = tmp_path / "items" / "own.yaml"
    file.write_text(f"{item}:\n{lines}" + "\n".join(kept) + "\n")
    assert any(message in str(fault) for fault in check_files([file])), [str(f) for f in check_files([file])]
