"""Which kind of inspection it is, who drives and what the odometers read, asked aloud before the walk."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.logbook.coupled import walk
from tests.logbook.test_sync import walked
from tests.record.walks import signed
from tests.walk.scripted_walk import DEMO, Transcript
from voice.cli import app
from voice.errors import SetupError
from voice.hear.port import Hearing, Speaking
from voice.record.model import Certification
from voice.record.repairs import Repair, certify
from voice.route import load_vehicle, vehicle_files
from voice.route.kinds import find_kind
from voice.route.units import combine
from voice.route.vehicle import Vehicle
from voice.session import driving, inspection, kinds, planning
from voice.session.asking import Asker
from voice.session.inspection import WalkOptions
from voice.session.resources import Resources, open_resources
from voice.session.script import Script
from voice.sound.recording import AudioClock
from voice.understand.question import Question

NAMES = ("Rosa Quill", "Ivo Lantern")


class Answers:
    """An ear that hears these words in turn; what is no phrase is only written down."""

    def __init__(self, *texts: str) -> None:
        self.texts = list(texts)
        self.asked: list[str] = []

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        self.asked.append(question.step or "")
        text = self.texts.pop(0)
        meaning = question.meanings.get(text)
        return Hearing("unclear", words=text) if meaning is None else Hearing("heard", meaning, text, 0.9)

    def close(self) -> None:
        """Nothing is held."""


class Before:
    """An asker with its ear and its transcript."""

    def __init__(self, resources: Resources, *texts: str, topics: tuple[str, ...] | None = None) -> None:
        self.speaker, self.ear = Transcript(AudioClock()), Answers(*texts)
        self.asker = Asker(self.ear, self.speaker, resources.book, resources.talk.setup, topics=topics)

    @property
    def heard(self) -> str:
        return " ".join(line for line in self.speaker.log if not line.startswith("("))


@pytest.fixture
def resources(tmp_path: Path) -> Resources:
    return open_resources(tmp_path)


@pytest.fixture(scope="module")
def combination() -> Vehicle:
    return load_vehicle(vehicle_files()["tractor-trailer-five-axle"])


# --- which kind ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answers", "kind"),
    [(("yes",), "pre-trip"), (("post trip",), "post-trip"), (("hook",), "hook"), (("no", "en route"), "en-route")],
)
def test_the_kind_is_asked_by_its_name_or_with_yes(
    resources: Resources, combination: Vehicle, answers: tuple[str, ...], kind: str
) -> None:
    before = Before(resources, *answers)
    assert kinds.ask_kind(resources, before.asker, combination) == kind
    assert before.speaker.log[0] == "Pre-trip inspection?"


def test_a_script_without_an_answer_is_not_asked_and_walks_before_driving(resources: Resources) -> None:
    before = Before(resources, "truck seven", topics=("vehicle",))
    plan = planning.chosen(resources, before.asker, None)
    assert (plan.kind, before.ear.asked) == ("pre-trip", ["vehicle"])


def test_with_a_vehicle_nothing_is_asked(resources: Resources, combination: Vehicle) -> None:
    before = Before(resources)
    assert planning.chosen(resources, before.asker, combination).kind == "pre-trip"
    assert planning.chosen(resources, before.asker, combination, kind="drop").kind == "drop"
    assert before.ear.asked == []


# --- after a repair -----------------------------------------------------------------------------------------------

VEHICLE = "tractor-trailer-five-axle"
LAMP = {"brake-lights": ("defect", "lamp out")}


def test_after_a_repair_what_was_certified_since_is_asked_and_what_is_open_is_reviewed(
    resources: Resources, combination: Vehicle
) -> None:
    record = signed(resources.home, LAMP, only=("brake-lights", "chocks"), clips=False)
    before = Before(resources)
    plan = planning.chosen(resources, before.asker, combination, kind="after-repair")
    with pytest.raises(SetupError, match="Nothing was certified as repaired since the last inspection of tractor"):
        planning.prepared(resources, before.asker, plan, planning.Wanted())
    assert before.heard.startswith("Nothing was certified as repaired")
    (defect,) = record.defects
    for key in (defect.key, "wheel-heat@left-2#hot"):  # the second was found on the way
        done = Certification(key=key, verdict="repaired", name="Bo Lind", at=datetime.now(UTC))
        certify(resources.home, Repair(VEHICLE, record.id, done))
    plan = planning.prepared(resources, before.asker, plan, planning.Wanted())
    assert {step.id for step in plan.steps} == {"brake-lights", "wheel-heat@left-2"}
    assert {section.id for section in plan.sections} == {step.section for step in plan.steps}
    signed(resources.home, only=("chocks",), clips=False)
    with pytest.raises(SetupError, match="Nothing was certified"):
        kinds.only_repaired(resources, before.asker, planning.chosen(resources, before.asker, combination))


# --- who drives ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "name"), [("rosa quill", "Rosa Quill"), ("ivo", "Ivo Lantern"), ("somebody else", None)]
)
def test_of_several_drivers_it_is_asked_which(resources: Resources, said: str, name: str | None) -> None:
    before = Before(resources, said)
    assert driving.ask_driver(resources, before.asker, NAMES) == name
    assert before.speaker.log[0] == "Who drives? Rosa Quill, Ivo Lantern. Or somebody else."
    assert before.heard.endswith("Ivo Lantern." if name == NAMES[1] else "Rosa Quill." if name else "at the end.")


def test_a_word_of_two_names_names_nobody(resources: Resources) -> None:
    before = Before(resources, "rosa", "rosa lantern")
    assert driving.ask_driver(resources, before.asker, ("Rosa Quill", "Rosa Lantern")) == "Rosa Lantern"
    assert before.ear.asked == ["driver", "driver"]


def test_a_name_that_was_written_down_wrongly_is_asked_back_and_else_each_is_asked(resources: Resources) -> None:
    """The ear was not taught names: the first two as a transcriber wrote down a synthetic voice."""
    before = Before(resources, "Pre-drug inspection.", "yes")
    vehicle = load_vehicle(vehicle_files()["straight-truck-two-axle"])
    assert kinds.ask_kind(resources, before.asker, vehicle) == "pre-trip"
    assert "Did you say pre trip inspection?" in before.heard
    before = Before(resources, "And we.", "Can we?", "no", "yes")
    assert kinds.ask_kind(resources, before.asker, vehicle) == "en-route"
    assert before.ear.asked == ["kind", "kind", "one:kind", "one:kind"]
    assert before.heard.endswith("before the trip. Right? road check. Right?")


@pytest.mark.parametrize(("drivers", "name"), [((), None), (("Rosa Quill",), "Rosa Quill")])
def test_of_none_or_one_nothing_is_asked(resources: Resources, drivers: tuple[str, ...], name: str | None) -> None:
    assert driving.ask_driver(resources, Before(resources).asker, drivers) == name
    assert driving.ask_driver(resources, Before(resources, topics=()).asker, NAMES) is None


# --- the odometer -------------------------------------------------------------------------------------------------


def ask(
    resources: Resources, vehicle: Vehicle, before: Before, kind: str = "post-trip", given: str | None = None
) -> str | None:
    return driving.odometer(resources, before.asker, vehicle, find_kind(resources.library, vehicle, kind), given)


def had(monkeypatch: pytest.MonkeyPatch, miles: float, days: float = 0.5) -> None:
    """The vehicle's last inspection had this odometer, so long ago."""
    last = driving._Last(miles, datetime.now(UTC) - timedelta(days=days))
    monkeypatch.setattr(driving, "_last", lambda resources, unit: last)


def test_it_is_asked_where_the_kind_wants_it_and_read_back(resources: Resources, combination: Vehicle) -> None:
    before = Before(resources, "four hundred twelve thousand three hundred forty five", "yes")
    assert ask(resources, combination, before) == "412345"
    assert "four hundred twelve thousand three hundred forty five miles. Right?" in before.heard
    assert ask(resources, combination, Before(resources), "pre-trip") is None, "not wanted, and never had"
    assert ask(resources, combination, Before(resources, topics=()), "post-trip") is None, "a script that has none"


@pytest.mark.parametrize(
    ("answers", "found"),
    [
        (("four one two three four five", "yes"), "412345"),
        (("Odometer is 412,345 miles.", "yes"), "412345"),
        (("663 thousand kilometers", "yes"), "663000 km"),
        (("banana", "412 345", "yes"), "412345"),
        (("412 344", "no", "412 345", "yes"), "412345"),
        (("skip",), None),
        (("don't know",), None),
        (("banana", "apple", "plum", "fig", "pear"), None),
        (("for one too three four five", "yes"), "412345"),  # as a transcriber may write it
    ],
)
def test_ways_of_answering(
    resources: Resources, combination: Vehicle, answers: tuple[str, ...], found: str | None
) -> None:
    before = Before(resources, *answers)
    assert ask(resources, combination, before) == found
    assert before.ear.texts == []
    assert ("Without the odometer." in before.heard) is (found is None)


@pytest.mark.parametrize(
    ("last", "days", "doubted"),
    [
        (412_345, 0.5, False), (412_346, 0.5, True), (412_000, 0.5, False),
        (410_845, 0.5, False), (410_844, 0.5, True), (410_844, 1.5, False), (400_000, 30, False),
    ],
)  # fmt: skip
def test_backwards_or_a_jump_is_asked_again_and_kept_if_it_is_right(
    resources: Resources, combination: Vehicle, monkeypatch: pytest.MonkeyPatch, last: int, days: float, doubted: bool
) -> None:
    """More than 1,500 miles a day: common practice, no source."""
    had(monkeypatch, last, days)
    before = Before(resources, "412 345", "yes", *(["yes"] if doubted else []))
    assert ask(resources, combination, before, "pre-trip") == "412345", "it is asked because the last one had it"
    assert ("odometer:sure" in before.ear.asked) is doubted
    if doubted:
        before = Before(resources, "412 345", "yes", "no", "412 888", "yes", *(["yes"] if last < 412_000 else []))
        assert ask(resources, combination, before) == "412888"


def test_one_that_was_given_is_asked_about_only_if_it_cannot_well_be(
    resources: Resources, combination: Vehicle, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    had(monkeypatch, 412_345)
    assert ask(resources, combination, Before(resources), given="412,400") == "412,400"
    before = Before(resources, "yes")
    assert ask(resources, combination, before, given="412000") == "412000"
    assert "is less than the last time" in before.heard
    assert ask(resources, combination, Before(resources, "no", "412 400", "yes"), given="412000") == "412400"
    assert ask(resources, combination, Before(resources, topics=()), given="412000") == "412000"
    assert "is less than the last time" in capsys.readouterr().err


def test_the_last_one_comes_from_the_vehicles_own_records(resources: Resources, combination: Vehicle) -> None:
    signed(resources.home, only=("chocks",), clips=False)  # with the odometer at 412,345
    before = Before(resources, "412 300", "yes", "yes")
    assert ask(resources, combination, before, "pre-trip") == "412300"
    assert "less than the last time, four hundred twelve thousand three hundred forty five miles" in before.heard


# --- the hubodometer ----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def with_hub() -> tuple[Vehicle, Vehicle]:
    """A trailer that has a hubodometer, behind two tractors."""
    files = vehicle_files()
    trailer, tractor = load_vehicle(files["trailer-forty"]), load_vehicle(files["tractor-twelve"])
    assert trailer.trailer is not None
    own = trailer.model_copy(update={"trailer": trailer.trailer.model_copy(update={"hubodometer": True})})
    nine = tractor.model_copy(update={"id": "tractor-nine", "name": "tractor nine"})
    return combine(tractor, own), combine(nine, own)


def test_it_is_asked_where_the_trailers_profile_has_one(
    resources: Resources, combination: Vehicle, with_hub: tuple[Vehicle, Vehicle]
) -> None:
    before = Before(resources, "eighty eight thousand two hundred ten", "yes")
    assert driving.hubodometer(resources, before.asker, with_hub[0], None) == "88210"
    assert before.heard.startswith("Hubodometer of trailer forty? eighty eight thousand two hundred ten miles. Right?")
    assert before.ear.asked == ["hubodometer", "hubodometer:right"]
    before = Before(resources, "the hubodometer reads 142 000 kilometers", "yes")
    assert driving.hubodometer(resources, before.asker, with_hub[0], None) == "142000 km"
    before = Before(resources, "skip")
    assert driving.hubodometer(resources, before.asker, with_hub[0], None) is None
    assert before.heard.endswith("Without the hubodometer.")
    assert driving.hubodometer(resources, Before(resources).asker, combination, None) is None, "its profile has none"
    assert driving.hubodometer(resources, Before(resources).asker, combination, "88210") == "88210"
    assert driving.hubodometer(resources, Before(resources, topics=()).asker, with_hub[0], None) is None
    bus = load_vehicle(vehicle_files()["school-bus"])
    assert driving.hubodometer(resources, Before(resources).asker, bus, None) is None
    plan = planning.chosen(resources, Before(resources).asker, bus)
    with pytest.raises(SetupError, match="has no trailer"):
        inspection._asked(resources, WalkOptions(hubodometer="88210"), Before(resources).asker, plan)


def test_backwards_is_asked_again_behind_whatever_tractor_and_the_tractors_miles_do_not_matter(
    resources: Resources, with_hub: tuple[Vehicle, Vehicle], capsys: pytest.CaptureFixture[str]
) -> None:
    twelve, nine = with_hub
    for number, (odometer, hub) in enumerate(((412_345, 88_210), (500_000, None))):  # none given the second time
        at = datetime.now(UTC)
        walked(resources.home, walk(f"r{number}", at, twelve, [], odometer=odometer, hubodometer=hub))
    before = Before(resources, "88 200", "yes", "no", "88 230", "yes")
    assert driving.hubodometer(resources, before.asker, nine, None) == "88230"
    assert before.ear.asked[:3] == ["hubodometer", "hubodometer:right", "hubodometer:sure"]
    assert "Hubodometer: eighty eight thousand two hundred miles is less than the last time" in before.heard
    before = Before(resources, "yes")
    assert driving.hubodometer(resources, before.asker, nine, "99000") == "99000"
    assert "more than the last time" in before.heard
    assert driving.hubodometer(resources, Before(resources).asker, twelve, "142000 km") == "142000 km"
    before = Before(resources, "88 230", "yes", "yes")  # as the odometer of that tractor it would be far too little
    assert ask(resources, twelve, before) == "88230"
    assert "is less than the last time, five hundred thousand miles" in before.heard
    assert capsys.readouterr().err == ""


def test_a_scripted_driver_says_no_to_a_number_that_was_heard_wrongly() -> None:
    from voice.session.script import load_script
    from voice.session.scripted import ScriptedDriver

    script = load_script(DEMO / "driver.yaml")
    spoken = Script.model_validate({**script.model_dump(), "setup": {"odometer": "four one two three four five"}})
    driver = ScriptedDriver(spoken, AudioClock())
    driver.said("four hundred twelve thousand three hundred forty four miles. Right?")
    assert driver._before("odometer:right") == "no"
    driver.said("four hundred twelve thousand three hundred forty five miles. Right?")
    assert driver._before("odometer:right") == "yes"


@pytest.mark.parametrize(
    ("args", "told"),
    [
        (
            ["walk", "--odometer", "412345", "--metric"],
            '--odometer 412345 is taken as miles. In kilometers write "412345 km".',
        ),
        (
            ["walk", "--hubodometer", "88,210"],
            '--hubodometer 88,210 is taken as miles. In kilometers write "88,210 km".',
        ),
        (["day", "--odometer", "412345"], '--odometer 412345 is taken as miles. In kilometers write "412345 km".'),
        (["walk", "--odometer", "663000 km", "--metric"], ""),
        (["day", "--odometer", "412345 mi"], ""),
        (["walk", "--odometer", "many"], ""),  # no reading: refused with its own sentence
    ],
)
def test_a_bare_number_as_an_option_says_in_which_unit_it_was_taken(tmp_path: Path, args: list[str], told: str) -> None:
    refused = CliRunner().invoke(app, [*args, "--vehicle", "nowhere", "--home", str(tmp_path)])
    assert isinstance(refused.exception, SetupError)
    assert told in refused.output
    assert told or "taken as miles" not in refused.output
