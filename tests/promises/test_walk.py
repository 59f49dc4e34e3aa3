"""What the walk promises of time, of doubt, and of itself."""

from __future__ import annotations

import ast
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

import voice.walk
from tests.walk.talkative import SAMPLES, Talk, answer_usually, context
from voice.measure import Measure
from voice.route.answer import Choice, Option
from voice.route.model import FollowUp
from voice.understand.meaning import Defect, DoneIt, Meaning, No, Now, Number, Ok, Words, Yes
from voice.walk.closing import signer
from voice.walk.context import Context
from voice.walk.event import Doubted, Heard, Resumed, Silence, Unclear
from voice.walk.machine import step
from voice.walk.state import Aside, Stage, State
from voice.walk.turn import IllegalEvent

LATE = 1.7  # seconds from the beginning of a word to its being understood


def late(talk: Talk, meaning: Meaning, onset: float) -> None:
    """The word begins at onset; it takes a while until it is understood."""
    talk.clock = onset + LATE
    talk.send(Heard(talk.clock, meaning, "", onset=onset))


def psi(value: int) -> Number:
    return Number(Measure(Fraction(value), "psi"))


def ready(item: str) -> Talk:
    talk = Talk(context(only=(item,)))
    while talk.state.stage is Stage.READY:
        talk.mean(DoneIt())
    return talk


def taken(talk: Talk, item: str) -> dict[str, Measure]:
    return {each.quantity: each.value for each in talk.state.answers[item].taken}


# --- time counts from the beginning of a word --------------------------------------------------------------------


def test_a_hold_is_timed_from_the_beginning_of_the_word_not_from_its_being_understood() -> None:
    talk = ready("air-leak-applied")
    talk.mean(psi(125))
    start = talk.clock + 3.0
    late(talk, DoneIt(), start)
    while talk.state.stage is Stage.QUIET:
        talk.clock += talk.question.patience
        talk.send(Silence(talk.clock))
    assert talk.clock - start == pytest.approx(60.0, abs=0.05), "the end sounds a minute after the word, not later"
    late(talk, psi(123), start + 64.0)
    result = taken(talk, "air-leak-applied")
    assert result["hold-time"] == Measure(Fraction(64), "s")
    assert result["air-leak-applied"].value == Fraction(2 * 60, 64)


def test_both_marks_of_a_climb_count_from_the_beginning_of_the_word() -> None:
    talk = ready("air-build-up")
    first = talk.clock + 5.0
    late(talk, Now(), first)
    talk.clock = first + 41.0
    talk.send(Heard(first + 41.0 + 2 * LATE, Now(), "now", onset=first + 41.0))
    assert taken(talk, "air-build-up")["air-build-up"] == Measure(Fraction(41), "s")


def test_a_doubted_mark_keeps_the_moment_it_began() -> None:
    talk = ready("air-build-up")
    first = talk.clock + 5.0
    talk.send(Doubted(first + LATE, Now(), "now", onset=first))
    assert talk.state.aside is Aside.DOUBT
    late(talk, Yes(), first + 6.0)
    late(talk, Now(), first + 30.0)
    assert taken(talk, "air-build-up")["air-build-up"] == Measure(Fraction(30), "s")


def test_an_event_before_the_last_one_is_illegal_and_one_at_the_same_moment_is_not() -> None:
    talk = Talk(context(only=("wipers",)))
    talk.clock = 10.0
    talk.send(Silence(10.0))
    with pytest.raises(IllegalEvent):
        step(talk.context, talk.state, Silence(9.999))
    step(talk.context, talk.state, Silence(10.0))


def test_every_line_of_getting_ready_is_said_before_a_timed_check_begins() -> None:
    """Engine off, key on ...: a check from another state of the vehicle would measure something else."""
    known = context(only=("air-leak-applied",))
    step_ = known.plan.steps[0]
    lines = ("Engine off.", "Key on.", "Wheels chocked.")
    answer = step_.item.answer.model_copy(update={"ready": lines})
    item = step_.item.model_copy(update={"answer": answer})
    plan = known.plan.only([step_.model_copy(update={"item": item})])
    talk = Talk(replace(known, plan=plan))
    for line in lines:
        assert talk.state.stage is Stage.READY
        assert line in talk.heard
        talk.mean(DoneIt())
    assert talk.state.stage is Stage.GAUGE


@pytest.mark.parametrize("item", ["low-air-warning", "air-build-up"])
def test_stop_breaks_a_running_check_off_and_it_begins_again_from_the_top(item: str) -> None:
    first = Talk(context(only=(item,))).state.stage  # a check that goes on from another has nothing to get ready
    talk = ready(item)
    talk.say("stop")
    assert (talk.state.stage, talk.state.aside) == (first, None)


# --- it never guesses --------------------------------------------------------------------------------------------


def held(state: State) -> tuple[object, ...]:
    """What the driver has told so far."""
    draft = state.draft
    told = None if draft is None else (draft.step, draft.taken, draft.defects, draft.outcome, draft.choice)
    return dict(state.answers), told, state.notes, state.signature, state.name


@pytest.mark.parametrize("kind", SAMPLES)
def test_what_was_only_guessed_is_asked_back_and_never_kept(kind: str) -> None:
    """At every question of a whole walk: each kind of answer that can be heard there, heard without being sure."""
    talk = Talk(context(kind))
    tried: set[tuple[Stage, str]] = set()
    while not talk.closed:
        if talk.state.aside is None:
            for meaning in {type(m): m for m in talk.question.meanings.values()}.values():
                if (talk.state.stage, meaning.kind) in tried:
                    continue
                tried.add((talk.state.stage, meaning.kind))
                after, effects = step(
                    talk.context, talk.state, Doubted(talk.clock + 1, meaning, "words", onset=talk.clock)
                )
                assert held(after) == held(talk.state), (talk.state.stage, meaning)
                assert not any(getattr(effect, "name", "") == "understood" for effect in effects)
        answer_usually(talk)
    assert len(tried) >= 15


def test_noise_and_silence_answer_nothing() -> None:
    """A reason or a description that is not given after two silences is told as not given; nothing else comes of it."""
    talk = Talk(context())
    while not talk.closed:
        for event in (Unclear(talk.clock + 1), Unclear(talk.clock + 1, noisy=True), Silence(talk.clock + 1)):
            after, _ = step(talk.context, talk.state, event)
            assert after.answers == talk.state.answers
            assert after.signature is None
        answer_usually(talk)


@pytest.mark.parametrize("meaning", [Yes(), No()])
def test_a_yes_that_is_not_sure_confirms_nothing(meaning: Meaning) -> None:
    talk = Talk(context(only=("tire-tread",)))
    talk.say("three thirty seconds")
    assert talk.state.stage is Stage.CONFIRM
    talk.send(Doubted(talk.clock + 1, meaning, "yes"))
    assert (talk.state.stage, talk.state.aside, dict(talk.state.answers)) == (Stage.CONFIRM, None, {})
    assert "not-understood" in talk.cues


def test_a_yes_to_did_you_say_that_is_not_sure_asks_the_question_again() -> None:
    talk = Talk(context(only=("wipers",)))
    talk.send(Doubted(talk.clock + 1, Ok(), "okay"))
    asked = talk.heard
    talk.send(Doubted(talk.clock + 1, Yes(), "yes"))
    assert talk.state.aside is Aside.DOUBT
    assert not talk.state.answers
    assert asked in talk.heard


def test_nobody_signs_by_a_doubtful_yes_or_by_silence() -> None:
    talk = Talk(context(only=("wipers",)))
    talk.say("okay")
    while talk.state.stage is not Stage.SIGN:
        answer_usually(talk)
    for event in (Doubted(talk.clock, Yes(), "yes"), Silence(talk.clock), Unclear(talk.clock)):
        talk.send(event)
        assert (talk.state.stage, talk.state.signature) == (Stage.SIGN, None)
    talk.say("no")
    assert (talk.state.stage, talk.state.signature) == (Stage.NAME, None)


def test_only_nothing_wrong_takes_a_defect_back_that_was_not_named() -> None:
    talk = Talk(context(only=("wipers",)))
    talk.mean(Defect())
    for _ in range(3):
        talk.say("okay")
        assert talk.state.stage is Stage.TAKE_BACK
        assert not talk.state.answers
    talk.say("nothing wrong")
    assert talk.state.answers["wipers"].kind == "ok"


# --- what is told ------------------------------------------------------------------------------------------------


def test_a_torn_answer_is_told_after_a_break_and_only_then() -> None:
    talk = Talk(context(only=("wipers",)))
    torn, whole = (
        " ".join(getattr(effect, "text", "") for effect in step(talk.context, talk.state, Resumed(5.0, torn=bytes_))[1])
        for bytes_ in (17, 0)
    )
    assert talk.context.talk.resumed_torn in torn
    assert talk.context.talk.resumed_torn not in whole


def test_what_is_finished_early_is_told_as_not_inspected_with_its_reason() -> None:
    talk = Talk(context(only=("wipers", "chocks", "triangles")))
    answer_usually(talk)
    talk.say("finish inspection", "yes")
    outcomes = {name: (answer.kind, answer.reason) for name, answer in talk.state.answers.items()}
    early = ("not-inspected", talk.context.talk.finished_early)
    assert sorted(outcomes.values()) == sorted([("done", ""), early, early])


# --- the walk's own rules ----------------------------------------------------------------------------------------

CLOCKS_FILES_AND_SOUND = {
    "time", "datetime", "os", "io", "pathlib", "threading", "asyncio", "random", "secrets", "subprocess", "socket",
    "numpy", "sounddevice", "soundfile", "logging", "shutil", "tempfile",
}  # fmt: skip


def imports(path: Path) -> set[str]:
    """The modules that a file names, wherever in it."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add(node.module or "")
    return found


@pytest.mark.parametrize("path", sorted(Path(voice.walk.__path__[0]).glob("*.py")), ids=lambda path: path.stem)
def test_the_walk_has_no_clock_file_thread_or_sound(path: Path) -> None:
    allowed = (
        {"pathlib"} if path.stem in ("talk", "pacetalk", "drivingtalk") else set()
    )  # the wording is read from its file, before the walk
    assert {name.partition(".")[0] for name in imports(path)} & CLOCKS_FILES_AND_SOUND <= allowed
    assert not {
        name for name in imports(path) if name.startswith(("voice.session.loop", "voice.cli", "voice.journal.folder"))
    }


def test_a_command_counts_while_the_walk_asks_something_in_between() -> None:
    talk = Talk(context(only=("wipers", "chocks")))
    talk.say("finish inspection")
    assert talk.state.aside is Aside.FINISHING
    talk.say("pause")
    assert (talk.state.aside, talk.state.stage) == (Aside.PAUSED, Stage.ASK)


def test_the_reason_of_what_does_not_apply_is_no_detail_of_it() -> None:
    talk = Talk(context(only=("horn-air", "wipers")))
    item = talk.current
    talk.say("not applicable")
    talk.mean(Words("none fitted"))
    answer = talk.state.answers[item]
    assert (answer.kind, answer.reason, answer.details) == ("not-applicable", "none fitted", ())


def chooser(*, follow: bool) -> Context:
    """A walk of one item with the options dry and wet, of which wet means that it leaks.

    follow: the options are those of a question after an okay; else of the item itself.
    """
    known = context(only=("hoses",))
    (step,) = known.plan.steps
    options = Choice(
        options=(
            Option(id="dry", title="Dry", say=("dry all over",)),
            Option(id="wet", title="Wet", say=("wet all over",), defect="leaking"),
        )
    )
    change: dict[str, object] = {"answer": options}
    if follow:
        change = {"follow_ups": (FollowUp(id="how", after="ok", ask="How is it?", answer=options),)}
    step = step.model_copy(update={"item": step.item.model_copy(update=change)})
    return replace(known, plan=known.plan.model_copy(update={"steps": (step,)}))


@pytest.mark.parametrize("follow", [False, True])
def test_an_option_that_means_a_defect_begins_it(follow: bool) -> None:
    before = ("okay",) if follow else ()
    wet = Talk(chooser(follow=follow))
    assert "Anything else" in wet.say(*before, "wet all over")
    wet.say("no")
    assert [each.defect for each in wet.state.answers["hoses"].defects] == ["leaking"]
    dry = Talk(chooser(follow=follow))
    dry.say(*before, "dry all over")
    assert dry.state.answers["hoses"].kind == ("ok" if follow else "choice")
    assert dry.state.answers["hoses"].defects == ()


def test_of_two_gauges_each_has_its_own_loss_and_the_worse_is_judged() -> None:
    known = context(only=("air-leak-applied",))
    (step,) = known.plan.steps
    two = step.item.answer.model_copy(update={"gauges": ("primary", "secondary")})
    step = step.model_copy(update={"item": step.item.model_copy(update={"answer": two})})
    talk = Talk(replace(known, plan=known.plan.model_copy(update={"steps": (step,)})))
    while talk.state.stage is Stage.READY:
        talk.mean(DoneIt())
    talk.mean(psi(125))
    talk.mean(psi(110))
    start = talk.clock + 1.0
    late(talk, DoneIt(), start)
    while talk.state.stage is Stage.QUIET:
        talk.clock += talk.question.patience
        talk.send(Silence(talk.clock))
    late(talk, psi(124), start + 60.0)
    late(talk, psi(108), start + 60.0)
    lost = {t.name: t.value.value for t in talk.state.answers[step.id].taken if t.quantity == "air-leak-applied"}
    assert lost == {"primary": Fraction(1), "secondary": Fraction(2)}


@pytest.mark.parametrize("said", ["by place", "each part"])
def test_the_depth_can_be_changed_where_no_item_is_asked(said: str) -> None:
    talk = Talk(context(only=("wipers",)))
    talk.say("okay")
    assert talk.state.stage is Stage.NAME
    talk.say(said)
    assert talk.state.stage is Stage.NAME


def test_a_name_keeps_the_capitals_it_was_written_with() -> None:
    known = context(only=("wipers",))
    assert signer(known, "Signed, Ana McQuill.") == ("Ana McQuill", True)
    assert signer(known, "Signed, signed.") == ("", True), "said twice it is nobody's name"
    assert signer(known, "ana mcquill") == ("Ana Mcquill", False)


def test_after_one_silence_the_reason_is_asked_for_again_after_two_it_is_left_out() -> None:
    talk = Talk(context(only=("horn-air", "wipers")))
    item = talk.current
    talk.say("not applicable")
    talk.send(Silence(talk.clock + 10))
    assert item not in talk.state.answers
    assert talk.state.stage is Stage.REASON
    talk.send(Silence(talk.clock + 10))
    assert talk.state.answers[item].kind == "not-applicable"
