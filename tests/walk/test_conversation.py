"""What the driver can say and what comes of it, on the shipped routes and wording."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.walk.talkative import Talk, answer_usually, context, finish
from voice.measure import Measure
from voice.understand.meaning import Clear, Command, Defect, Meaning, No, Number, Ok, Signed, Words
from voice.walk.event import Doubted, Heard, Lost, Regained, Resumed, Silence, Started, Unclear
from voice.walk.machine import begin, step
from voice.walk.state import Aside, Stage
from voice.walk.turn import IllegalEvent

FEW = ("hoses", "radiator", "belts", "tire-tread", "alternator")


@pytest.fixture
def talk() -> Talk:
    return Talk(context(only=FEW))


def test_the_walk_begins_with_the_vehicle_and_the_first_item(talk: Talk) -> None:
    assert "tractor twelve" in talk.heard
    assert talk.current == "hoses"
    assert talk.cues[-1] == "listening"


def test_ok_stores_the_answer_and_goes_on(talk: Talk) -> None:
    talk.say("okay")
    assert talk.state.answers["hoses"].kind == "ok"
    assert talk.current == "radiator"
    assert talk.cues == ["understood", "listening"]


def test_a_defect_is_asked_about_read_back_and_kept(talk: Talk) -> None:
    assert "wrong" in talk.say("defect").lower()
    which = next(d for d in context(only=FEW).steps["hoses"].item.defects if d != "other")
    read_back = talk.say(context(only=FEW).defects[which].say[0])
    while talk.state.stage is Stage.FOLLOW:
        read_back = talk.say("skip")
    assert context(only=FEW).defects[which].title.lower() in read_back
    assert talk.state.stage is Stage.MORE
    talk.say("no")
    answer = talk.state.answers["hoses"]
    assert (answer.kind, [d.defect for d in answer.defects]) == ("defect", [which])


def test_two_defects_on_one_item(talk: Talk) -> None:
    names = [d for d in context(only=FEW).steps["hoses"].item.defects if d != "other"][:2]
    for name in names:
        talk.say(context(only=FEW).defects[name].say[0])
        while talk.state.stage is Stage.FOLLOW:
            talk.say("skip")
    talk.say("no")
    assert [d.defect for d in talk.state.answers["hoses"].defects] == names


def test_okay_after_defect_is_asked_back_with_both_named(talk: Talk) -> None:
    talk.say("defect")
    assert talk.say("okay") == "Nothing wrong? Or defect?"
    for unclear in ("okay", "yes", "no", "correct"):
        assert talk.say(unclear) == "Say nothing wrong. Or say defect."
        assert "hoses" not in talk.state.answers
    assert "hoses: nothing wrong" in talk.say("nothing wrong").lower()
    assert talk.state.answers["hoses"].kind == "ok"


def test_another_defect_is_described_in_the_drivers_words(talk: Talk) -> None:
    talk.say("defect")
    talk.say(context(only=FEW).defects["other"].say[0])
    assert talk.question.free
    talk.mean(Words("bolt lying on the crossmember"))
    while talk.state.stage is Stage.FOLLOW:
        talk.say("skip")
    talk.say("no")
    (found,) = talk.state.answers["hoses"].defects
    assert dict(found.details)["described"] == "bolt lying on the crossmember"


def test_repeat_explain_help_where_and_left_change_nothing(talk: Talk) -> None:
    talk.say("okay")
    first = talk.state
    assert talk.say("repeat") == context(only=FEW).steps["radiator"].say.normal
    assert context(only=FEW).steps["radiator"].say.full in talk.say("explain")
    assert context().talk.help["condition"] in talk.say("help")
    assert "2 of 2" in talk.say("where am i").replace(str(len(context(only=FEW).order)), "2")
    assert f"{len(context(only=FEW).order) - 1} to go" in talk.say("how many left")
    assert talk.state.answers == first.answers
    assert talk.current == "radiator"


def test_skipped_items_come_again_and_a_second_skip_needs_a_reason() -> None:
    talk = Talk(context(only=("hoses", "radiator", "belts")))
    talk.say("skip", "okay")
    assert "1 left over" in talk.say("okay")
    assert talk.current == "hoses"
    talk.say("skip")
    assert talk.state.stage is Stage.REASON
    talk.mean(Words("hood frozen shut"))
    answer = talk.state.answers["hoses"]
    assert (answer.kind, answer.reason) == ("not-inspected", "hood frozen shut")
    assert talk.state.stage is Stage.NAME


def test_skipped_items_come_again_before_their_place_is_left() -> None:
    """Not after the brake checks, when the engine is hot."""
    talk = Talk(context(only=("hoses", "radiator", "papers", "seat-belt", "brake-lights")))
    talk.say("skip")
    assert "1 left over here. Hoses" in talk.say("okay")
    talk.say("okay")
    assert talk.current == "papers"
    talk.say("skip")
    assert "1 left over here." in talk.say("okay")
    talk.say("skip")
    assert talk.state.stage is Stage.REASON
    talk.mean(Words("left at the office"))
    assert talk.current == "brake-lights"
    assert [answer.kind for answer in talk.state.answers.values()] == ["ok", "ok", "ok", "not-inspected"]


def test_go_back_asks_the_item_before_and_keeps_its_answer_until_a_new_one(talk: Talk) -> None:
    talk.say("okay", "go back")
    assert talk.current == "hoses"
    assert talk.state.answers["hoses"].kind == "ok"
    talk.say("not applicable")
    talk.mean(Words("electric drive"))
    answer = talk.state.answers["hoses"]
    assert (answer.kind, answer.corrected) == ("not-applicable", 1)
    assert talk.current == "radiator"


def test_correct_that_asks_the_last_answer_again(talk: Talk) -> None:
    talk.say("okay", "okay", "correct that")
    assert talk.current == "radiator"


def test_change_by_name(talk: Talk) -> None:
    talk.say("okay", "okay")
    talk.send(Doubted(10.0, Command("change", "hoses"), "change hoses"))
    assert "change hoses" in talk.heard
    talk.clock = 10.0
    talk.say("yes")
    assert talk.current == "hoses"
    talk.say("okay")
    assert talk.state.answers["hoses"].corrected == 1
    assert talk.current == "belts"


def test_change_left_steer_tread_by_its_name_in_two_parts() -> None:
    talk = Talk(context(only=("tire-tread",)))
    for _ in range(8):
        answer_usually(talk)
    talk.say("change an answer")
    assert talk.state.aside is Aside.CHANGE
    talk.say("left steer tread")
    assert talk.current == "tire-tread@left-1"


def test_a_note_is_kept_at_its_item(talk: Talk) -> None:
    talk.say("okay", "take a note")
    assert talk.question.free
    assert "gravel" in talk.mean(Words("loose gravel in this yard"))
    (note,) = talk.state.notes
    assert (note.step, note.text) == ("radiator", "loose gravel in this yard")
    talk.say("yes")
    assert talk.state.notes == (note,)
    assert talk.current == "radiator"


def test_a_note_is_read_back_and_can_be_said_again_kept_as_recording_or_dropped_aloud(talk: Talk) -> None:
    talk.say("take a note")
    assert talk.mean(Words("loose gravel")) == "Noted: loose gravel. Right?"
    talk.say("no")
    assert talk.question.free
    assert not talk.state.notes
    talk.mean(Words("lose gavel"))
    assert talk.say("recording only").startswith(talk.context.talk.note_recording)
    (note,) = talk.state.notes
    assert note.text == "listen to the recording (understood: lose gavel)"
    talk.say("take a note")
    talk.mean(Words("and mud"))
    assert talk.say("drop it").startswith(talk.context.talk.note_dropped)
    assert talk.state.notes == (note,)
    assert talk.current == "hoses"


@pytest.mark.parametrize("how", ["silence", "killed", "lost", "command"])
def test_a_note_that_nobody_confirms_is_kept(talk: Talk, how: str) -> None:
    talk.say("take a note")
    talk.mean(Words("loose gravel"))
    at = talk.clock
    match how:
        case "silence":
            talk.send(Silence(at + 6))
            talk.send(Silence(at + 12))
        case "killed":
            talk.send(Resumed(at + 1))
        case "lost":
            talk.send(Lost(at + 1))
            talk.send(Regained(at + 2))
        case "command":
            talk.say("repeat")
    assert talk.state.aside is None
    assert [note.text for note in talk.state.notes] == ["loose gravel"]


def test_pause_waits_for_resume(talk: Talk) -> None:
    talk.say("pause")
    for _ in range(5):
        talk.clock += 600
        talk.send(Silence(talk.clock))
        assert talk.heard == ""
    assert context(only=FEW).steps["hoses"].say.normal in talk.say("resume")


def test_stop_halts_and_loses_nothing(talk: Talk) -> None:
    talk.say("okay")
    talk.mean(Command("pause"))
    assert talk.state.aside is Aside.PAUSED
    assert "hoses" in talk.state.answers


def test_silence_asks_again_then_shorter_then_waits_without_a_word(talk: Talk) -> None:
    texts = []
    for _ in range(5):
        talk.clock += talk.question.patience
        talk.send(Silence(talk.clock))
        texts.append(talk.heard)
    item = context(only=FEW).steps["hoses"].say
    assert texts[0] == item.normal
    assert texts[1] == item.terse
    assert texts[2] == context().talk.waiting
    assert texts[3:] == ["", ""]
    assert "hoses" not in talk.state.answers


def test_what_was_not_understood_is_asked_again_and_counted(talk: Talk) -> None:
    short = context().talk.can_say["condition"]
    talk.send(Unclear(1.0))
    assert talk.cues[0] == "not-understood"
    assert talk.heard == short
    talk.send(Unclear(2.0))
    assert talk.heard == f"{context().talk.unlisted} {talk.context.steps['hoses'].say.normal}"
    talk.say("okay")
    assert talk.heard == context().talk.nothing_wrong
    talk.say("yes")
    assert talk.state.answers["hoses"].asked_again == 2


def test_the_second_asking_names_a_way_that_reports_what_is_on_no_list(talk: Talk) -> None:
    for at in (1.0, 2.0):
        talk.send(Unclear(at))
    told = context().talk.unlisted.lower()
    for said in ("defect", "something else"):
        assert said in told
        talk.say(said)
    assert talk.heard.endswith(context().talk.defect_describe)


def test_noise_is_named_rather_than_misheard(talk: Talk) -> None:
    talk.send(Unclear(1.0, noisy=True))
    assert talk.heard == context().talk.noisy


def test_a_doubtful_answer_needs_a_yes(talk: Talk) -> None:
    talk.send(Doubted(1.0, Ok(), "okay"))
    assert "okay" in talk.heard
    assert not talk.state.answers
    talk.say("yes")
    assert talk.state.answers["hoses"].kind == "ok"


def test_a_no_to_did_you_say_asks_again(talk: Talk) -> None:
    talk.send(Doubted(1.0, Ok(), "okay"))
    talk.say("no")
    assert talk.state.aside is None
    assert not talk.state.answers
    assert talk.current == "hoses"


def test_the_right_answer_instead_of_yes_or_no_counts(talk: Talk) -> None:
    talk.send(Doubted(1.0, Ok(), "okay"))
    talk.say("defect")
    assert talk.state.stage is Stage.WHICH


def number(thirty_seconds: int) -> Number:
    return Number(Measure(Fraction(thirty_seconds, 32), "in"))


class TestReading:
    """Steer tires: at least 4/32 in, 49 CFR 393.75(b); other tires: at least 2/32 in, 49 CFR 393.75(c)."""

    @pytest.fixture
    def talk(self) -> Talk:
        return Talk(context(only=("tire-tread",)))

    def test_is_read_back(self, talk: Talk) -> None:
        assert "nine thirty seconds" in talk.mean(number(9))
        assert talk.state.answers["tire-tread@left-1"].taken[0].value == Measure(Fraction(9, 32), "in")

    def test_at_the_limit_is_not_questioned(self, talk: Talk) -> None:
        talk.mean(number(4))
        assert talk.state.answers["tire-tread@left-1"].kind == "reading"

    def test_beyond_its_limit_is_confirmed_with_the_limit_aloud(self, talk: Talk) -> None:
        heard = talk.mean(number(3))
        assert "three thirty seconds" in heard
        assert "at least four thirty seconds" in heard
        assert not talk.state.answers
        talk.say("yes")
        assert talk.state.answers["tire-tread@left-1"].taken[0].value.value == Fraction(3, 32)

    def test_three_thirty_seconds_is_enough_on_a_drive_axle(self, talk: Talk) -> None:
        while not talk.current.startswith("tire-tread@left-2"):
            answer_usually(talk)
        step = talk.current
        talk.mean(number(3))
        assert talk.state.answers[step].kind == "reading"

    def test_a_denied_reading_is_taken_again(self, talk: Talk) -> None:
        talk.mean(number(1))
        talk.say("no")
        assert talk.state.stage is Stage.ASK
        talk.mean(number(11))
        answer = talk.state.answers["tire-tread@left-1"]
        assert [t.value.value for t in answer.taken] == [Fraction(11, 32)]
        assert answer.asked_again == 1

    def test_what_no_gauge_can_show_is_asked_again(self, talk: Talk) -> None:
        assert "outside" in talk.mean(Number(Measure(Fraction(7), "in")))
        assert not talk.state.answers

    def test_about_is_confirmed(self, talk: Talk) -> None:
        assert "right" in talk.mean(Number(Measure(Fraction(9, 32), "in"), approximate=True))
        talk.say("yes")
        assert talk.state.answers["tire-tread@left-1"].kind == "reading"


def test_finish_early_reports_what_is_open_as_not_inspected(talk: Talk) -> None:
    talk.say("okay")
    total = len(context(only=FEW).order)
    assert str(total - 1) in talk.say("finish inspection")
    talk.say("no")
    assert talk.current == "radiator"
    talk.say("finish inspection", "yes")
    kinds = [answer.kind for answer in talk.state.answers.values()]
    assert kinds.count("not-inspected") == total - 1
    assert talk.state.stage is Stage.NAME


def test_the_driver_signs_by_name() -> None:
    talk = Talk(context(only=("hoses",)))
    summary = talk.say("okay")
    assert "qualified person decides" in summary
    assert "safe" not in summary.lower()
    assert "Rosa Quill" in talk.say("signed rosa quill")
    assert not talk.closed
    talk.say("yes")
    assert talk.closed
    assert talk.state.signature is not None
    assert talk.state.signature.name == "Rosa Quill"


@pytest.mark.parametrize("words", ["signed by Ivo Lantern", "I am Ivo Lantern.", "Signed, Ivo Lantern"])
def test_a_name_outside_the_list_is_spelled_back(words: str) -> None:
    talk = Talk(context(only=("hoses",)))
    talk.say("okay")
    assert "I, V, O. L, A, N, T, E, R, N." in talk.mean(Words(words))
    assert not talk.closed
    talk.say("yes")
    assert talk.state.signature is not None
    assert talk.state.signature.name == "Ivo Lantern"


@pytest.mark.parametrize("words", ["Ivo Lantern", "thank you", "There is a truck coming.", "..."])
def test_what_a_recognizer_made_up_is_no_signature(words: str) -> None:
    talk = Talk(context(only=("hoses",)))
    talk.say("okay")
    assert context().talk.help["name"] in talk.mean(Words(words))
    assert talk.state.stage is Stage.NAME


def test_a_wrong_name_can_be_said_again_or_left_out() -> None:
    talk = Talk(context(only=("hoses",)))
    talk.say("okay")
    talk.mean(Words("signed by rows a quill"))
    assert "unnamed driver" in talk.say("no")
    assert talk.state.stage is Stage.NAME
    assert "unnamed driver" in talk.say("unnamed driver")
    talk.say("yes")
    assert talk.state.signature is not None
    assert talk.state.signature.name == "unnamed driver"


def test_signed_alone_is_enough_where_the_driver_was_given() -> None:
    talk = Talk(replace(context(only=("hoses",)), driver="Ivo Lantern"))
    talk.say("okay")
    assert talk.say("signed") == "Signed by Ivo Lantern. Right?"
    talk.say("yes")
    assert talk.closed


def test_the_driver_who_walks_is_read_back_before_a_name_heard_badly() -> None:
    walk = replace(context(only=("hoses",)), driver="Ivo Lantern", drivers=("Ivo Lantern", "Rosa Quill"))
    talk = Talk(walk)
    talk.say("okay")
    assert talk.mean(Words("sign time payroll")) == "Signed by Ivo Lantern. Right?"
    assert not talk.closed
    assert "P, A, Y, R, O, L, L" in talk.say("no")
    assert "unnamed driver" in talk.say("no")
    assert "Z, E, D" in talk.mean(Words("signed Zed"))  # not Ivo again: that was denied
    talk.say("no")
    assert talk.say("signed rosa quill") == "Signed by Rosa Quill. Right?"


def test_the_driver_who_walks_is_read_back_before_another_who_was_doubted() -> None:
    walk = replace(context(only=("hoses",)), driver="Ivo Lantern", drivers=("Ivo Lantern", "Rosa Quill"))
    for replies, name in ((("yes",), "Ivo Lantern"), (("no", "yes"), "Rosa Quill")):
        talk = Talk(walk)
        talk.say("okay")
        talk.send(Doubted(talk.clock + 1, Signed("Rosa Quill"), "signed rosa quill"))
        assert talk.heard == "Signed by Ivo Lantern. Right?"
        talk.say(*replies)
        assert talk.state.signature is not None
        assert talk.state.signature.name == name


def test_under_the_third_rules_a_name_heard_badly_was_spelled_back_at_once() -> None:
    walk = replace(context(only=("hoses",)), driver="Ivo Lantern")
    talk = Talk(walk)
    talk.say("okay")
    talk.state = replace(talk.state, rules=3)
    assert "P, A, Y, R, O, L, L" in talk.mean(Words("sign time payroll"))


def test_signed_alone_asks_for_the_name_where_nobody_was_given() -> None:
    talk = Talk(context(only=("hoses",)))
    talk.say("okay")
    assert talk.say("signed") == "Say your name."
    assert "V, O." in talk.mean(Words("Ivo Lantern"))
    talk.say("no")
    assert talk.say("rosa quill") == "Signed by Rosa Quill. Right?"


def test_a_lost_microphone_pauses_and_comes_back(talk: Talk) -> None:
    talk.say("okay", "defect")
    talk.send(Lost(10.0))
    assert talk.effects == ()
    talk.clock = 20.0
    talk.send(Regained(20.0))
    assert context().talk.regained in talk.heard
    assert talk.state.stage is Stage.WHICH
    assert "hoses" in talk.state.answers


def test_resume_says_where_it_is_and_asks_the_open_question_again(talk: Talk) -> None:
    talk.say("okay", "defect")
    talk.send(Resumed(100.0, torn=17))
    assert context().talk.resumed_torn in talk.heard
    assert talk.state.stage is Stage.WHICH
    assert talk.current == "radiator"


def test_the_wording_can_be_switched_while_walking(talk: Talk) -> None:
    item = context(only=FEW).steps["hoses"].say
    assert item.terse in talk.say("short prompts")
    assert item.full in talk.say("full prompts")


def test_cautions_are_said_before_the_item_that_needs_them() -> None:
    talk = Talk(context())
    said = [talk.heard]
    while talk.current != "oil-level":
        answer_usually(talk)
        said.append(talk.heard)
    assert any("hock the wheels" in text for text in said)


def test_a_caution_that_comes_up_again_is_said_in_short_and_never_left_out() -> None:
    talk = Talk(context())
    caution = talk.context.cautions["traffic-side"]
    heard: dict[str, str] = {}
    while talk.state.draft is not None:
        heard.setdefault(talk.context.current(talk.state).section, talk.heard)
        answer_usually(talk)
    under = [section.id for section in talk.context.plan.sections if "traffic-side" in section.cautions]
    assert len(under) > 2
    assert caution.say in heard[under[0]]
    for section in under[1:]:
        assert caution.again in heard[section]
        assert caution.say not in heard[section]


@pytest.mark.parametrize("word", ["no", "negative", "nope"])
def test_a_no_that_is_not_sure_is_asked_back_as_defect(word: str) -> None:
    """To "Did you say no?" a second no could mean either: that it is wrong, or that it was not said."""
    talk = Talk(context(only=("hoses", "radiator")))
    talk.send(Doubted(talk.clock + 1, Defect(), word))
    assert talk.heard == "Did you say defect?"
    assert talk.say("yes").startswith("What is wrong?")


def test_an_illegal_event_raises_and_changes_nothing(talk: Talk) -> None:
    before = talk.state
    for event in (Started(1.0), Regained(1.0), Heard(1.0, Words("hello"), "hello"), Silence(-5.0)):
        with pytest.raises(IllegalEvent):
            step(talk.context, talk.state, event)
    assert talk.state == before
    with pytest.raises(IllegalEvent):
        step(talk.context, begin("normal"), Silence(0.0))


@pytest.mark.parametrize("kind", ["tractor-semitrailer", "straight-truck", "bus"])
def test_a_whole_walk_answers_every_item_in_walking_order(kind: str) -> None:
    talk = finish(Talk(context(kind)))
    assert set(talk.state.answers) == set(context(kind).order)
    answered = sorted(talk.state.answers.values(), key=lambda answer: answer.answered)
    assert [answer.step for answer in answered] == list(context(kind).order)


def test_only_what_is_new_of_the_place_is_said_and_repeat_says_all_of_it() -> None:
    talk = Talk(context(only=("rim-lugs", "hub-seal", "tire-tread")))
    assert "left side, steer axle" in talk.heard
    assert "steer axle" not in talk.say("okay")
    assert "left side, steer axle" in talk.say("repeat")
    while talk.current != "tire-tread@left-2-inner":
        answer_usually(talk)
    assert "inner tire" in talk.heard
    assert "axle two" not in talk.heard


class TestDoubt:
    """After "did you say", and after a report: nothing but "nothing wrong" makes the item okay."""

    @pytest.mark.parametrize("words", ["okay", "looks good", "all good"])
    @pytest.mark.parametrize(("meaning", "said"), [(Defect("leaking"), "leaking"), (Defect(), "defect")])
    def test_an_okay_to_a_doubt_is_asked_back_with_both_named(
        self, talk: Talk, meaning: Meaning, said: str, words: str
    ) -> None:
        talk.send(Doubted(1.0, meaning, said))
        assert talk.say(words) == f"Nothing wrong? Or {said}?"
        assert "hoses" not in talk.state.answers
        assert talk.say(words) == f"Say nothing wrong. Or say {said}."
        assert "hoses" not in talk.state.answers
        talk.say("nothing wrong")
        assert talk.state.answers["hoses"].kind == "ok"

    @pytest.mark.parametrize("sure", [True, False])
    def test_an_okay_to_a_doubted_command_is_asked_back_but_no_command_is_a_defect(
        self, talk: Talk, sure: bool
    ) -> None:
        talk.send(Doubted(1.0, Command("pause"), "pause"))
        if sure:
            talk.say("okay")
        else:
            talk.send(Doubted(2.0, Ok(), "okay"))
        assert talk.heard == "Nothing wrong?"
        assert "hoses" not in talk.state.answers
        talk.say("yes")
        assert talk.state.answers["hoses"].kind == "ok"

    def test_where_nothing_is_left_to_be_taken_back_no_question_has_a_hole(self, talk: Talk) -> None:
        talk.send(Doubted(1.0, Defect(), "defect"))
        assert talk.say("okay") == "Nothing wrong? Or defect?"
        talk.clock = 4.0
        talk.send(Doubted(4.0, Defect(), "defect"))
        assert talk.say("no").endswith("Nothing wrong?")
        assert talk.state.stage is Stage.UNHEARD
        assert "hoses" not in talk.state.answers
        talk.say("yes")
        assert talk.state.answers["hoses"].kind == "ok"

    def test_a_doubtful_okay_to_a_doubt_is_asked_back_too(self, talk: Talk) -> None:
        talk.send(Doubted(1.0, Defect("leaking"), "leaking"))
        talk.send(Doubted(2.0, Ok(), "okay"))
        assert talk.heard == "Nothing wrong? Or leaking?"
        talk.send(Doubted(3.0, Clear(), "nothing wrong"))
        assert talk.heard == "Did you say nothing wrong?"
        assert "hoses" not in talk.state.answers
        talk.clock = 3.0
        talk.say("leaking")
        assert talk.state.stage is Stage.MORE

    def test_a_sure_no_denies_it_aloud_and_then_an_okay_is_asked_back(self, talk: Talk) -> None:
        talk.send(Doubted(1.0, Defect("leaking"), "leaking"))
        assert talk.say("no").startswith("Not leaking.")
        assert talk.say("okay") == "Nothing wrong?"  # it was something else that was said
        talk.say("yes")
        assert talk.state.answers["hoses"].kind == "ok"

    def test_a_doubtful_no_denies_nothing(self, talk: Talk) -> None:
        talk.send(Doubted(1.0, Defect("leaking"), "leaking"))
        talk.send(Doubted(2.0, No(), "no"))
        assert talk.heard.endswith("Did you say leaking?")
        assert talk.state.aside is Aside.DOUBT

    def test_two_doubts_in_a_row_are_both_settled(self, talk: Talk) -> None:
        talk.send(Doubted(1.0, Defect("leaking"), "leaking"))
        talk.send(Doubted(2.0, Defect("cracked"), "cracked"))
        assert talk.heard == "Did you say cracked?"
        talk.clock = 2.0
        assert talk.say("no") == "Did you say leaking?"
        assert talk.say("okay") == "Nothing wrong? Or leaking?"

    @pytest.mark.parametrize("how", ["skip", "pause", "lost", "killed", "note", "repeat", "finish"])
    def test_a_doubt_outlives_interruptions(self, talk: Talk, how: str) -> None:
        talk.send(Doubted(1.0, Defect("leaking"), "leaking"))
        talk.clock = 2.0
        match how:
            case "skip":
                talk.say("skip")
                while talk.current != "hoses":
                    answer_usually(talk)
                assert talk.say("okay") == "Nothing wrong? Or leaking?"
                return
            case "pause":
                talk.say("pause", "resume")
            case "lost":
                talk.send(Lost(2.0))
                talk.send(Regained(3.0))
            case "killed":
                talk.send(Resumed(2.0))
            case "note":
                talk.say("take a note")
                talk.mean(Words("gravel"))
                talk.say("yes")
            case "repeat":
                talk.say("repeat")
            case "finish":
                talk.say("finish inspection", "no")
        assert talk.heard.endswith("Did you say leaking?")

    @pytest.mark.parametrize("way", ["go back", "correct that"])
    def test_an_item_that_had_a_defect_is_okay_only_after_it_was_read_back(self, talk: Talk, way: str) -> None:
        talk.say("leaking", "no", way)
        name = talk.context.steps["hoses"].name
        assert talk.say("okay") == f"{name} was reported: leaking. Nothing wrong now? Or still leaking?"
        assert talk.state.answers["hoses"].kind == "defect"
        assert f"{name}: nothing wrong." in talk.say("nothing wrong")
        assert talk.state.answers["hoses"].kind == "ok"

    def test_a_defect_reported_of_an_okay_item_is_not_lost_by_skipping(self, talk: Talk) -> None:
        talk.say("okay", "go back", "defect", "skip")
        while talk.current != "hoses":
            answer_usually(talk)
        assert talk.say("okay") == "Nothing wrong? Or defect?"

    def test_finishing_early_keeps_what_was_begun(self, talk: Talk) -> None:
        talk.say("leaking", "finish inspection", "yes")
        assert [d.defect for d in talk.state.answers["hoses"].defects] == ["leaking"]
        which = Talk(talk.context)
        which.say("defect", "finish inspection", "yes")
        (found,) = which.state.answers["hoses"].defects
        assert found.defect == "other"
        assert dict(found.details)["described"] == "defect, not described"
        doubt = Talk(talk.context)
        doubt.send(Doubted(1.0, Defect("leaking"), "leaking"))
        doubt.say("finish inspection", "yes")
        answer = doubt.state.answers["hoses"]
        assert (answer.kind, answer.reason) == ("not-inspected", "the driver finished early; in doubt: leaking")

    def test_finishing_early_keeps_a_recorded_defect_though_another_is_in_doubt(self) -> None:
        talk = Talk(context(only=("hoses", "belts")))
        talk.say("leaking", "no", "go back")
        talk.send(Doubted(talk.clock, Defect("cracked"), "cracked"))
        talk.say("finish inspection", "yes")
        answer = talk.state.answers["hoses"]
        assert (answer.kind, [found.defect for found in answer.defects]) == ("defect", ["leaking"])
        assert answer.reason == "the driver finished early; in doubt: cracked"
        assert talk.heard.startswith("Repair before leaving, one: hoses leaking.")

    def test_finishing_early_keeps_a_reading_beyond_its_limit_though_a_defect_is_in_doubt(self) -> None:
        talk = Talk(context(only=("tire-tread",)))
        step = talk.current
        talk.say("two thirty seconds", "yes", "go back")
        talk.send(Doubted(talk.clock, Defect("cut"), "cut"))
        talk.say("finish inspection", "yes")
        answer = talk.state.answers[step]
        assert (answer.kind, len(answer.taken)) == ("reading", 1)
        assert talk.heard.startswith("Repair before leaving, one")

    @pytest.mark.parametrize("word", ["correct", "yes"])
    def test_correct_means_yes_and_is_never_a_command(self, word: str) -> None:
        talk = Talk(context(only=FEW))
        talk.say("okay")
        talk.say(word)
        if word == "correct":
            assert talk.heard == "Did you say okay?"
            talk.say("yes")
        assert talk.state.answers["radiator"].kind == "ok"
        assert talk.current == "belts"
        talk.send(Doubted(10.0, Defect("leaking"), "leaking"))
        talk.say(word)
        assert talk.state.stage is Stage.FOLLOW or talk.state.stage is Stage.MORE

    def test_correct_never_makes_something_good(self, talk: Talk) -> None:
        """It sounds like "cracked"."""
        talk.send(Doubted(1.0, Ok(), "okay"))
        assert talk.say("correct").endswith("Yes or no? Did you say okay?")
        assert "hoses" not in talk.state.answers
