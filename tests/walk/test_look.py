"""One look, one question: several parts asked about together, answered together, opened one by one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.walk.talkative import SAMPLES, Talk, answer_usually, context, finish, replayed
from voice.route.answer import Done, Measurement
from voice.route.looks import stands_alone
from voice.route.model import NotDue
from voice.understand.meaning import Clear, Defect, Ok, Part
from voice.walk.context import Context
from voice.walk.event import Doubted, Heard, Resumed, Silence, Unclear
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


def test_a_part_that_was_noted_can_be_named_again_with_what_else_it_has(talk: Talk) -> None:
    talk.say("hoses leaking", "no")
    assert "And the rest: radiator, belts, wiring?" in talk.heard
    assert talk.say("hoses cracked").startswith("hoses: cracked.")
    talk.say("no")
    answer = talk.state.answers["hoses"]
    assert [found.defect for found in answer.defects] == ["leaking", "cracked"]
    assert answer.corrected == 1
    assert talk.heard.endswith("And the rest: radiator, belts, wiring?")
    talk.say("hoses leaking", "no")
    assert [found.defect for found in talk.state.answers["hoses"].defects] == ["cracked", "leaking"]


def test_named_alone_again_it_is_asked_anew_and_only_nothing_wrong_takes_the_defect_back(talk: Talk) -> None:
    talk.say("hoses leaking", "no", "hoses")
    assert talk.current == "hoses"
    assert talk.heard.endswith(talk.context.steps["hoses"].say.normal)
    assert "leaking" in talk.say("okay")
    assert talk.state.stage is Stage.TAKE_BACK
    assert talk.state.answers["hoses"].defects
    talk.mean(Clear())
    assert kinds(talk) == {"hoses": "ok"}
    assert talk.heard.endswith("And the rest: radiator, belts, wiring?")


def test_a_noted_defect_is_not_lost_when_the_part_is_in_doubt_again_and_skipped(talk: Talk) -> None:
    talk.say("hoses leaking", "no")
    talk.clock += 1
    talk.send(Doubted(talk.clock, Part("hoses", "cracked"), "hoses cracked"))
    while talk.current == "hoses" or talk.state.stage is not Stage.REASON:
        talk.say("skip")
    assert [found.defect for found in talk.state.answers["hoses"].defects] == ["leaking"]


def test_hoses_are_the_steering_hoses_where_no_others_are_asked_about() -> None:
    talk = Talk(context(only=("alternator", "power-steering-hoses", "air-compressor")), depth="by-place")
    assert "steering hoses" in talk.heard
    assert talk.say("hoses", "leaking").startswith("steering hoses: leaking.")


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


def test_after_a_doubt_that_was_denied_an_okay_is_asked_back(talk: Talk) -> None:
    talk.clock += 1
    talk.send(Doubted(talk.clock, Part("hoses", "leaking"), "hoses leaking", onset=talk.clock))
    talk.say("no", "okay")
    assert kinds(talk) == {}
    talk.say("yes")
    assert kinds(talk) == dict.fromkeys(PARTS, "ok")


def test_what_is_not_fitted_is_said_of_one_part(talk: Talk) -> None:
    talk.say("not applicable")
    assert talk.heard == "Which part? Say one of: hoses, radiator, belts, wiring."
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
def test_no_look_goes_past_something_that_is_to_be_done(kind: str) -> None:
    """A warning lamp that is to be out once the engine runs cannot be answered before it is started."""
    plan = context(kind).plan
    at = {step.id: index for index, step in enumerate(plan.steps)}
    done = [index for index, step in enumerate(plan.steps) if isinstance(step.item.answer, Done)]
    for look in plan.looks:
        first, last = min(at[step] for step in look.steps), max(at[step] for step in look.steps)
        assert not [index for index in done if first < index < last], look.id
    assert len({look.id for look in plan.looks}) == len(plan.looks)


@pytest.mark.parametrize("kind", SAMPLES)
def test_by_place_asks_every_item_that_each_part_asks(kind: str) -> None:
    known = context(kind)
    walks = {depth: finish(Talk(known, depth=depth)) for depth in ("each-part", "by-place")}
    for walk in walks.values():
        assert set(walk.state.answers) == set(known.order)
        assert not any(answer.kind == "not-inspected" for answer in walk.state.answers.values())
    together = [answer for answer in walks["by-place"].state.answers.values() if answer.together]
    assert len(together) > len(known.order) / 2
    assert all(len(look.names(look.steps)) <= 6 for look in known.plan.looks)
    alone = [step.id for step in known.plan.steps if stands_alone(step.item)]
    assert len(alone) > 20
    assert not {answer.step for answer in together} & set(alone)


def test_a_bare_defect_names_what_any_of_the_parts_can_have(talk: Talk) -> None:
    meanings = talk.question.meanings
    assert meanings["leaking"] == Defect("leaking")
    assert meanings["radiator leaking"] == Part("radiator", "leaking")
    assert "belts leaking" not in meanings


# --- an assembly is asked by its name ----------------------------------------------------------------------------

WHEEL = ("air-bags@left-2", "shocks@left-2", "torque-arms@left-2", "brake-drum@left-2")


@pytest.fixture
def wheel() -> Talk:
    known = context(only=("air-bags", "shocks", "torque-arms", "brake-drum", "splash-guard"))
    plan = known.plan.only(step for step in known.plan.steps if step.section == "drive-left")
    return Talk(replace(known, plan=plan), depth="by-place")


def test_one_name_asks_for_the_parts_of_an_assembly_and_an_okay_is_kept_for_each(wheel: Talk) -> None:
    assert wheel.heard.endswith("Axle two: suspension, drum?")
    wheel.say("okay")
    assert kinds(wheel) == dict.fromkeys(WHEEL, "ok")
    assert wheel.state.answers["shocks@left-2"].together == WHEEL


def test_the_assembly_by_its_name_is_asked_which_part(wheel: Talk) -> None:
    wheel.say("suspension")
    assert wheel.heard.startswith("Which part?")
    wheel.send(Silence(wheel.clock))
    assert "shock" in wheel.heard, "asked again, each part is named"
    wheel.say("okay")
    assert wheel.state.stage is Stage.TAKE_BACK
    assert wheel.heard == "Nothing wrong with suspension, drum? Or defect?"
    wheel.say("shock loose", "no")
    assert kinds(wheel) == {"shocks@left-2": "defect"}


def test_the_rest_of_an_assembly_is_named_part_by_part(wheel: Talk) -> None:
    wheel.say("torque arms cracked", "no")
    assert wheel.heard.endswith("And the rest: air bags, shock, drum?")
    wheel.say("okay")
    assert wheel.state.answers["air-bags@left-2"].together == ("air-bags@left-2", "shocks@left-2", "brake-drum@left-2")


def test_the_mud_flap_is_asked_with_the_wheel_that_it_hangs_behind(wheel: Talk) -> None:
    wheel.say("okay")
    assert wheel.heard.endswith("Axle three: suspension, drum, mud flap?")
    wheel.say("mud flap missing", "no", "okay")
    assert wheel.state.answers["splash-guard@tractor-left"].kind == "defect"


@pytest.mark.parametrize("kind", SAMPLES)
def test_by_place_each_caution_is_said_in_each_place_before_what_it_is_for(kind: str) -> None:
    """Of a daily walk, on which readings that would have said it first are not asked."""
    base = context(kind)
    left = tuple(
        NotDue(step=step.id, title=step.name, last="2026-11-20T07:00:00+00:00")
        for step in base.plan.steps
        if isinstance(step.item.answer, Measurement)
    )
    known = replace(base, plan=base.plan.model_copy(update={"not_due": left}))
    talk, said = Talk(known, depth="by-place"), dict[str, str]()
    while not talk.closed:
        if talk.state.draft is not None:
            section = known.steps[talk.current].section
            said[section] = said.get(section, "") + talk.heard
            for step in talk.state.draft.group or (talk.current,):
                for name in known.steps[step].item.cautions:
                    caution = known.cautions[name]
                    assert any(text and text in said[section] for text in (caution.say, caution.again)), (step, name)
        answer_usually(talk)


def test_the_same_item_of_another_place_is_asked_in_short_and_at_each_part_in_full() -> None:
    known = context(only=("brake-chamber",))
    for depth, second in (("by-place", "Left axle two chamber?"), ("each-part", "Brake hose, chamber, slack")):
        talk = Talk(known, depth=depth)  # type: ignore[arg-type]
        assert "Brake hose, chamber, slack, pushrod sound" in talk.heard
        talk.say("okay")
        assert second in talk.heard


def test_what_else_was_said_of_the_look_stands_when_one_part_is_named(talk: Talk) -> None:
    talk.say("leaking", "frayed", "belts", "no")
    assert kinds(talk) == {"belts": "defect"}
    talk.say("change an answer", "belts", "okay")
    assert talk.state.stage is Stage.TAKE_BACK


def test_a_part_that_was_taken_back_leaves_what_else_was_said_of_the_look(talk: Talk) -> None:
    talk.say("leaking", "frayed", "belts", "go back", "okay")
    assert talk.state.stage is Stage.TAKE_BACK
    talk.mean(Clear())
    assert kinds(talk) == {"belts": "ok"}
    assert talk.state.stage is Stage.LOOK
    talk.say("okay")
    assert talk.state.stage is Stage.TAKE_BACK
    assert "leaking" in talk.heard
