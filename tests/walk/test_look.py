"""One look, one question: several parts asked about together, answered together, opened one by one."""

from __future__ import annotations

import pytest

from tests.walk.talkative import SAMPLES, Talk, context, finish, replayed
from voice.route.looks import stands_alone
from voice.understand.meaning import Clear, Defect, Ok, Part
from voice.walk.context import Context
from voice.walk.event import Doubted, Heard, Resumed, Unclear
from voice.walk.state import Aside, Stage

PARTS = ("hoses", "radiator", "belts", "wiring")


@pytest.fixture
def known() -> Context:
    return context(only=(*PARTS, "belt-play"))


@pytest.fixture
def talk(known: Context) -> Talk:
    return Talk(known, depth="by-place")


def kinds(talk: Talk) -> dict[str, str]:
    return {step: answer.kind for step, answer in talk.state.answers.items()}


def test_one_okay_is_kept_for_each_named_part_and_marked_so(talk: Talk) -> None:
    assert talk.heard.endswith("Hoses, radiator, belts, wiring?")
    talk.say("okay")
    assert kinds(talk) == dict.fromkeys(PARTS, "ok")
    assert all(answer.together == PARTS for answer in talk.state.answers.values())
    assert talk.current == "belt-play"


@pytest.mark.parametrize(
    "words", [("hoses leaking",), ("hoses", "leaking"), ("defect", "hoses", "leaking"), ("leaking", "hoses")]
)
def test_a_part_is_opened_by_its_name_by_its_defect_or_by_both_and_then_the_rest_is_asked(
    talk: Talk, words: tuple[str, ...]
) -> None:
    talk.say(*words)
    assert talk.state.stage is Stage.MORE
    talk.say("no")
    assert kinds(talk) == {"hoses": "defect"}
    assert talk.heard.endswith("And the rest: radiator, belts, wiring?")
    talk.say("okay")
    assert kinds(talk) == {"hoses": "defect", "radiator": "ok", "belts": "ok", "wiring": "ok"}
    assert talk.state.answers["hoses"].together == ()
    assert talk.state.answers["belts"].together == ("radiator", "belts", "wiring")


def test_the_last_part_of_the_rest_has_its_own_question(talk: Talk) -> None:
    for words in ("hoses leaking", "radiator leaking", "belts frayed"):
        talk.say(words, "no")
    talk.say("five eighths of an inch")  # it comes before the wiring
    assert talk.state.stage is Stage.ASK
    assert talk.heard.endswith(talk.context.steps["wiring"].say.normal)


@pytest.mark.parametrize("words", ["leaking", "defect", "hoses leaking"])
def test_an_okay_after_a_defect_names_all_parts_and_only_nothing_wrong_takes_it_back(talk: Talk, words: str) -> None:
    talk.clock += 1
    talk.send(Doubted(talk.clock, talk.meaning(words), words, onset=talk.clock))
    talk.say("okay")
    assert talk.state.stage is Stage.TAKE_BACK
    assert not talk.state.answers
    assert all(part in talk.heard for part in PARTS)
    talk.say("yes", "no", "okay")
    assert not talk.state.answers
    talk.mean(Clear())
    assert kinds(talk) == dict.fromkeys(PARTS, "ok")
    assert "hoses, radiator, belts, wiring: nothing wrong." in talk.heard


def test_a_denied_doubt_leaves_nothing_behind(talk: Talk) -> None:
    talk.clock += 1
    talk.send(Doubted(talk.clock, Part("hoses", "leaking"), "hoses leaking", onset=talk.clock))
    talk.say("no", "okay")
    assert kinds(talk) == dict.fromkeys(PARTS, "ok")


def test_what_is_not_fitted_is_said_of_one_part(talk: Talk) -> None:
    talk.say("not applicable")
    assert talk.heard == "Which part?"
    talk.say("belts")
    assert talk.state.stage is Stage.REASON


def test_the_depth_is_chosen_aloud_and_in_the_middle(talk: Talk) -> None:
    talk.say("each part")
    assert talk.heard.endswith(talk.context.steps["hoses"].say.normal)
    talk.say("okay", "by place")
    assert talk.heard.endswith("And the rest: radiator, belts, wiring?")


def test_a_look_is_put_off_and_corrected_as_a_whole(talk: Talk) -> None:
    talk.say("skip")
    assert talk.state.skipped == PARTS
    talk.say("five eighths of an inch")
    assert talk.heard.endswith("Hoses, radiator, belts, wiring?")
    talk.say("okay")
    assert kinds(talk) == {"belt-play": "reading", **dict.fromkeys(PARTS, "ok")}


def test_correct_that_asks_all_that_the_okay_answered(talk: Talk) -> None:
    talk.say("okay", "correct that")
    assert talk.heard.endswith("Hoses, radiator, belts, wiring?")
    talk.say("wiring bare wire", "no")
    assert kinds(talk)["wiring"] == "defect"
    assert talk.state.answers["wiring"].corrected == 1


def test_a_defect_of_no_part_is_not_lost_when_the_driver_ends(talk: Talk) -> None:
    talk.say("leaking", "finish inspection", "yes")
    assert kinds(talk)["hoses"] == "defect"
    assert "one of: hoses, radiator" in str(talk.state.answers["hoses"].defects)
    assert kinds(talk)["wiring"] == "not-inspected"


def test_a_defect_of_no_part_holds_at_each_part_too(talk: Talk) -> None:
    talk.say("leaking", "each part", "skip", "five eighths of an inch")
    assert talk.state.stage is Stage.LOOK
    talk.say("okay")
    assert talk.state.stage is Stage.TAKE_BACK


def test_a_kill_inside_a_look_asks_it_again(known: Context, talk: Talk) -> None:
    talk.say("leaking")
    talk.send(Resumed(talk.clock))
    assert "Hoses, radiator, belts, wiring?" in talk.heard
    talk.say("okay")
    assert talk.state.stage is Stage.TAKE_BACK
    assert replayed(known, talk.events, depth="by-place") == talk.state


def test_a_kill_in_a_doubt_about_a_part_asks_the_doubt_again(talk: Talk) -> None:
    talk.clock += 1
    talk.send(Doubted(talk.clock, Part("hoses", "leaking"), "hoses leaking", onset=talk.clock))
    talk.send(Resumed(talk.clock))
    assert talk.state.aside is Aside.DOUBT
    talk.say("yes")
    assert talk.state.draft is not None
    assert talk.state.draft.step == "hoses"


def test_what_cut_the_question_short_has_it_asked_again_to_its_end(talk: Talk) -> None:
    talk.send(Unclear(1.0, early=True))
    assert talk.heard == "Okay, or the part. Hoses, radiator, belts, wiring?"
    talk.send(Heard(2.0, Ok(), "okay", early=True))
    assert not talk.state.answers


@pytest.mark.parametrize("kind", SAMPLES)
def test_by_place_asks_every_item_that_each_part_asks(kind: str) -> None:
    known = context(kind)
    walks = {depth: finish(Talk(known, depth=depth)) for depth in ("each-part", "by-place")}
    for walk in walks.values():
        assert set(walk.state.answers) == set(known.order)
        assert not any(answer.kind == "not-inspected" for answer in walk.state.answers.values())
    together = [answer for answer in walks["by-place"].state.answers.values() if answer.together]
    assert len(together) > len(known.order) / 2
    assert all(len(answer.together) <= 6 for answer in together)
    alone = [step.id for step in known.plan.steps if stands_alone(step.item)]
    assert len(alone) > 20
    assert not {answer.step for answer in together} & set(alone)


def test_a_bare_defect_names_what_any_of_the_parts_can_have(talk: Talk) -> None:
    meanings = talk.question.meanings
    assert meanings["leaking"] == Defect("leaking")
    assert meanings["radiator leaking"] == Part("radiator", "leaking")
    assert "belts leaking" not in meanings
