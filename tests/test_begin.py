"""Before the walk: what is asked by voice, and what is refused before anything is on the disk."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from tests.record.walks import walk
from tests.walk.scripted_walk import DEMO, Transcript
from tests.walk.talkative import context
from voice.data.folders import prompts_dir
from voice.errors import DataError, SetupError
from voice.hear.port import Hearing, Speaking
from voice.journal import folder as session
from voice.journal.folder import Session
from voice.judge import load_limits
from voice.route import load_vehicle, make_plan
from voice.route.vehicle import Vehicle
from voice.session import coupling, inspection, planning, preparing
from voice.session.asking import Asker, Pick
from voice.session.equipment import Equipment, EquipmentWanted
from voice.session.inspection import WalkOptions
from voice.session.intended import Intended
from voice.session.loop import Devices
from voice.session.planning import Wanted
from voice.session.resources import Resources, known_drivers, open_resources, state_of
from voice.session.script import Script, load_script
from voice.sound.recording import AudioClock
from voice.understand.meaning import Command
from voice.understand.question import Question
from voice.walk.context import Context
from voice.walk.event import Event, Started
from voice.walk.state import State


class Answers:
    """An ear that hears these words in turn; "" is silence, "?" in front makes it unsure, "~" what was written down of
    an answer that was none of the phrases. closed: how often."""

    def __init__(self, *texts: str) -> None:
        self.texts = list(texts)
        self.closed = 0

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        text = self.texts.pop(0)
        if not text:
            return Hearing("silence")
        self.question = question
        words = text.removeprefix("?")
        if text.startswith("~"):
            return Hearing("unclear", words=text[1:])
        return Hearing("unsure" if text.startswith("?") else "heard", question.meanings[words], words, 0.9)

    def close(self) -> None:
        self.closed += 1


class Deaf(Answers):
    """An ear that breaks at the first question."""

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        raise SetupError("Nobody is here.", "Come back.")


class Began:
    """An asker with its transcript."""

    def __init__(self, resources: Resources, *texts: str) -> None:
        self.transcript = Transcript(AudioClock())
        self.ear = Answers(*texts)
        self.asker = Asker(self.ear, self.transcript, resources.book, resources.talk.setup)


@pytest.fixture
def resources(tmp_path: Path) -> Resources:
    return open_resources(tmp_path)


def vehicle(name: str) -> Vehicle:
    return load_vehicle(DEMO / "fleet" / f"{name}.yaml")


def begun(resources: Resources, name: str) -> Session:
    """An open inspection of a vehicle, with nothing answered yet."""
    plan, limits = make_plan(resources.library, vehicle(name)), load_limits()
    new, lock, log = session.create(resources.home, plan, limits, session.Beginning())
    log.append(Started(0.0), 0.0)
    log.close()
    lock.release()
    return new


def test_an_open_inspection_is_offered(resources: Resources) -> None:
    open_ = begun(resources, "truck-7")
    began = Began(resources, "yes")
    assert preparing.ask_resume(resources, began.asker, None) == open_
    assert "truck seven" in began.transcript.log[0]


def test_with_a_vehicle_only_its_own_open_inspection_is_offered(resources: Resources) -> None:
    truck = begun(resources, "truck-7")
    begun(resources, "tractor-12-trailer-40")
    assert preparing.ask_resume(resources, Began(resources, "yes").asker, vehicle("truck-7")) == truck
    assert preparing.ask_resume(resources, Began(resources, "no").asker, vehicle("truck-7")) is None


def test_a_damaged_one_is_passed_over(resources: Resources) -> None:
    good = begun(resources, "truck-7")
    bad = begun(resources, "truck-7")
    bad.journal.write_bytes(bad.journal.read_bytes().replace(b"started", b"stopped"))
    assert preparing.ask_resume(resources, Began(resources, "yes").asker, None) == good


def test_silence_and_doubt_ask_again_and_nobody_is_told_so(resources: Resources) -> None:
    picks = [Pick("a", ("truck seven",)), Pick("b", ("tractor twelve",))]
    began = Began(resources, "", "?truck seven", "no", "?tractor twelve", "yes")
    assert began.asker.pick("vehicle", "Which?", picks, "Again?") == "b"
    asked = [line for line in began.transcript.log if line in ("Which?", "Again?", "(not-understood)")]
    assert asked == ["Which?", "Again?", "Which?"], "silence is no mistake, and after a no it is asked as at first"
    with pytest.raises(SetupError, match="Nobody answered"):
        Began(resources, *[""] * 9).asker.pick("vehicle", "Which?", picks, "Again?")
    with pytest.raises(SetupError, match="--new"):  # it was asked whether to go on with an open one
        Began(resources, *[""] * 9).asker.yes("resume", "Go on?")
    with pytest.raises(SetupError, match="Stopped"):
        Began(resources, "stop").asker.pick("vehicle", "Which?", picks, "Again?")


def test_what_was_denied_is_not_offered_again(resources: Resources) -> None:
    picks = [Pick("a", ("truck seven",)), Pick("b", ("tractor twelve",))]
    began = Began(resources, "?truck seven", "no", "?truck seven", "tractor twelve")
    assert began.asker.pick("vehicle", "Which?", picks, "Again?") == "b"
    assert began.transcript.log.count("Did you say truck seven?") == 1
    began = Began(resources, "?truck seven", "no", "truck seven", "yes")  # heard surely: the no may have been misheard
    assert began.asker.pick("vehicle", "Which?", picks, "Again?") == "a"


def test_the_ear_itself_hears_names_and_no_commands_with_them(resources: Resources) -> None:
    """A question for free speech waits for a long pause, in which the ear itself hardly hears a name."""
    picks = [Pick("a", ("truck seven",)), Pick("b", ("tractor twelve",))]
    first, second = Began(resources, "truck seven"), Began(resources, "truck seven")
    assert first.asker.pick("vehicle", "Which?", picks, "Again?") == "a"
    assert second.asker.pick_or("vehicle", "Tractor twelve?", picks, "Again?") == "a"
    for asked in (first.ear.question, second.ear.question):
        assert not asked.free
        assert not any(isinstance(meaning, Command) for meaning in asked.meanings.values())


def test_a_name_that_was_written_down_word_for_word_is_taken_and_a_near_one_asked_back(resources: Resources) -> None:
    picks = [Pick("a", ("truck seven",)), Pick("b", ("tractor twelve",))]
    assert Began(resources, "~Truck seven.").asker.pick("vehicle", "Which?", picks, "Again?") == "a"
    began = Began(resources, "~Trucks even.", "yes")
    assert began.asker.pick("vehicle", "Which?", picks, "Again?") == "a"
    assert "Did you say truck seven?" in began.transcript.log
    with pytest.raises(SetupError, match="Nobody answered"):  # a yes that was only written down is none
        Began(resources, *["~Yes."] * 9).asker.yes("resume", "Go on?")


def fleet(resources: Resources, *names: str) -> None:
    folder = resources.home / "vehicles"
    folder.mkdir()
    for name in names:
        shutil.copy(prompts_dir() / "vehicles" / f"{name}.yaml", folder)


TWELVE, FORTY, FIFTY_ONE, BUS = "tractor-twelve", "trailer-forty", "trailer-fifty-one", "school-bus"


@pytest.mark.parametrize(
    ("said", "found"),
    [
        (("tractor twelve with trailer forty",), f"{TWELVE}--{FORTY}"),
        (("tractor twelve", "trailer fifty one"), f"{TWELVE}--{FIFTY_ONE}"),
        (("twelve", "?forty", "no", "fifty"), f"{TWELVE}--{FIFTY_ONE}"),
        (("?tractor twelve with trailer fifty one", "yes"), f"{TWELVE}--{FIFTY_ONE}"),
        (("tractor twelve", "bobtail"), TWELVE),
        (("bus twenty one",), BUS),
    ],
)
def test_a_tractor_and_a_trailer_are_put_together_aloud(
    resources: Resources, said: tuple[str, ...], found: str
) -> None:
    fleet(resources, TWELVE, FORTY, FIFTY_ONE, BUS)
    began = Began(resources, *said)
    assert preparing.ask_vehicle(resources, began.asker).id == found
    assert began.transcript.log[0] == "Which vehicle? bus twenty one, tractor twelve."
    if "trailer" in found and len(said) > 1 and not said[0].startswith("?"):
        assert "With which trailer? trailer fifty one, trailer forty; or no trailer." in began.transcript.log


def test_a_tractor_without_any_trailer_is_walked_alone(resources: Resources) -> None:
    fleet(resources, TWELVE)
    assert preparing.ask_vehicle(resources, Began(resources, "yes").asker).id == TWELVE


def test_in_a_fleet_too_large_for_one_breath_the_trailer_is_asked_for(
    resources: Resources, monkeypatch: pytest.MonkeyPatch
) -> None:
    fleet(resources, TWELVE, FORTY, FIFTY_ONE, BUS)
    monkeypatch.setattr(coupling, "MOST_PAIRS", 1)
    began = Began(resources, "tractor twelve", "trailer forty")
    assert preparing.ask_vehicle(resources, began.asker).name == "tractor twelve with trailer forty"


def test_of_one_vehicle_it_is_asked_whether_it_is_that_of_several_which_at_once(resources: Resources) -> None:
    folder = resources.home / "vehicles"
    folder.mkdir()
    shutil.copy(DEMO / "fleet" / "truck-7.yaml", folder)
    began = Began(resources, "yes")
    assert preparing.ask_vehicle(resources, began.asker).id == "truck-7"
    assert began.transcript.log[0] == resources.talk.setup.vehicle_one.format(name="truck seven")
    shutil.copy(DEMO / "fleet" / "tractor-12-trailer-40.yaml", folder)
    began = Began(resources, "truck seven")
    assert preparing.ask_vehicle(resources, began.asker).id == "truck-7"
    assert began.transcript.log[0].startswith("Which vehicle?")


@pytest.mark.parametrize("how", ["walk", "resume"])
def test_devices_are_closed_though_the_walk_ends_with_an_error(
    resources: Resources, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    ear, clock, shown = Deaf(), AudioClock(), Shown()
    devices = Devices(ear, Transcript(clock), clock, recover=lambda: None)
    monkeypatch.setattr(inspection, "open_equipment", lambda wanted: Equipment(devices))
    home, wanted = resources.home, EquipmentWanted()
    options = WalkOptions(vehicle=str(DEMO / "fleet" / "truck-7.yaml"), new=True)
    open_ = begun(resources, "truck-7").id
    goes = {
        "walk": lambda: inspection.walk(home, wanted, options, shown),
        "resume": lambda: inspection.resume(home, wanted, open_, shown, salvage=False, clips=False),
    }
    with pytest.raises(SetupError, match="Nobody is here"):
        goes[how]()
    assert ear.closed == 1
    assert shown.log[-1] == "close"


def test_what_ones_own_files_leave_out_is_named_before_the_first_item(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    groups = (prompts_dir() / "groups.yaml").read_text(encoding="utf-8")
    own = tmp_path / "prompts" / "groups.yaml"
    own.parent.mkdir()
    own.write_text(groups.replace("  - wipers\n", ""), encoding="utf-8")
    resources = open_resources(tmp_path)
    began = Began(resources)
    plan = planning.prepared(
        resources, began.asker, planning.chosen(resources, began.asker, vehicle("truck-7")), Wanted()
    )
    assert "wipers" not in {step.item.id for step in plan.steps}
    assert any("leave out what the shipped route asks: wipers" in line for line in began.transcript.log)
    assert re.search(rf'{own}:\d+: leaves out "wipers"', capsys.readouterr().err)


def test_open_defects_are_asked_about_and_recordings_kept_unless_refused() -> None:
    assert (WalkOptions().review, WalkOptions().clips, WalkOptions().new) == (True, True, False)


def test_a_damaged_record_is_told_once_before_a_walk(resources: Resources, capsys: pytest.CaptureFixture[str]) -> None:
    old = begun(resources, "truck-7")
    old.record.write_text("{", encoding="utf-8")
    plan = make_plan(resources.library, vehicle("truck-7"))
    asker = Began(resources).asker
    preparing.with_earlier(resources, plan, "by-place", {})
    preparing.defects_to_review(resources, asker, plan.vehicle)
    preparing.tell_outlook(resources, asker, plan.vehicle)
    assert capsys.readouterr().err.count("is damaged, it is not a whole record") == 1


def test_the_damage_names_the_inspection_to_mend(resources: Resources) -> None:
    bad = begun(resources, "truck-7")
    bad.journal.write_bytes(bad.journal.read_bytes().replace(b"started", b"stopped"))
    assert f"gladhand resume {bad.id} --salvage" in state_of(resources, bad) + _hint(bad)


def _hint(found: Session) -> str:
    from voice.journal import journal

    with pytest.raises(journal.DamageError) as damage:
        journal.read(found.journal)
    return damage.value.hint


def test_the_drivers_file_must_be_a_list_of_names(resources: Resources) -> None:
    (resources.home / "drivers.yaml").write_text("Rosa Quill: yes\n")
    with pytest.raises(SetupError, match="not a list of names"):
        known_drivers(resources.home)
    (resources.home / "drivers.yaml").write_text("- Rosa Quill\n- Ivo Lantern\n")
    assert known_drivers(resources.home) == ("Rosa Quill", "Ivo Lantern")


class Shown:
    """A display that keeps what it was told."""

    def __init__(self) -> None:
        self.log: list[str] = []

    def begin(self, context: Context, session: str) -> None:
        self.log.append("begin")

    def said(self, text: str) -> None:
        self.log.append(text)

    def asked(self, state: State | None, question: Question) -> None:
        """Nothing is shown of a question."""

    def turned(self, state: State, event: Event) -> None:
        """Nothing is shown of an event."""

    def close(self) -> None:
        self.log.append("close")


def test_a_record_that_is_missing_is_made_without_a_device_and_returned_not_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found, _ = walk(tmp_path, only=("hoses", "radiator"))
    shown = Shown()
    finished = inspection.resume(tmp_path, EquipmentWanted(), found.id, shown, salvage=False, clips=True)
    assert finished.found.signed
    assert finished.record.sign_off is not None
    assert finished.record.sign_off.name == "Rosa Quill"
    assert shown.log == []
    assert capsys.readouterr().out == ""


def test_a_script_without_an_answer_that_is_asked_for_is_one_sentence(tmp_path: Path) -> None:
    usual = {"condition": "okay", "done": "ready", "ready": "ready"}
    known = context(only=("belt-play",))
    intended = Intended(Script.model_validate({"name": "Ada", "usual": usual, "readings": {}}), known)
    with pytest.raises(DataError, match='no reading of "belt-play"'):
        intended.answer(known.plan.steps[0])
    script = tmp_path / "script.yaml"
    script.write_text("name: Ada\nusual: {condition: okay}\nreadings: {}\n")
    with pytest.raises(DataError, match=r"script.yaml:2: usual"):
        load_script(script)
