"""The demo's inspection with ten planted faults: what is kept of it, and its final summary in full.

The driver's words reach the loop as a perfect ear would hear them; the demo itself goes through real audio.
"""

from __future__ import annotations

from datetime import date
from functools import partial
from pathlib import Path

import pytest

from tests.walk.scripted_walk import DEMO, Quiet, Transcript, run
from tests.walk.talkative import Talk
from voice.data.folders import prompts_dir
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.folder import Session
from voice.judge import load_limits
from voice.record.build import build
from voice.record.files import write_record
from voice.record.model import InspectionRecord
from voice.record.verify import Rebuilt, verify_session
from voice.route import load_vehicle, make_plan
from voice.route.model import Depth, Plan
from voice.session.resources import open_resources
from voice.walk.context import Context
from voice.walk.event import Started
from voice.walk.machine import begin
from voice.walk.state import Stage, State

TRACTOR = DEMO / "fleet" / "tractor-12-trailer-40.yaml"
VEHICLES = prompts_dir() / "vehicles"
FAULTS = Path(__file__).parent / "faults"
# Each shipped sample, with a driver who finds ten planted faults on it.
PLANTED = {
    "tractor-trailer-five-axle": DEMO / "driver.yaml",
    "straight-truck-two-axle": FAULTS / "straight-truck.yaml",
    "school-bus": FAULTS / "school-bus.yaml",
}


class Walked:
    """One scripted walk, from an empty home to the record."""

    def __init__(
        self,
        home: Path,
        vehicle: Path = TRACTOR,
        script: Path = DEMO / "driver.yaml",
        depth: Depth = "each-part",
        made: Plan | None = None,
    ) -> None:
        resources = open_resources(home)
        plan = made or make_plan(resources.library, load_vehicle(vehicle))
        limits = load_limits().on(date(2026, 6, 1))
        self.context: Context = resources.context(plan, limits, ("Rosa Quill",))
        self.session: Session
        self.session, lock, log = session.create(
            home, plan, limits, session.Beginning(drivers=("Rosa Quill",), odometer="412345", depth=depth)
        )
        with lock:
            self.state: State
            self.transcript: Transcript
            self.driver: Quiet
            self.state, self.transcript, self.driver = run(
                self.context, begin("normal", depth), log, Started(0.0), clips=self.session.clips, driver=Quiet(script)
            )
            log.close()
        file = journal.read(self.session.journal)
        self.replayed = session.replay(self.context, file)
        defects = resources.library.defects
        self.record: InspectionRecord = write_record(self.session, plan, file, self.state, limits, defects)
        titles = {name: defect.title for name, defect in defects.items()}
        self.rebuilt = partial(build, plan, file, self.replayed, limits, titles)


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Walked:
    return Walked(tmp_path_factory.mktemp("home"))


def test_every_item_is_kept_as_it_was_meant(walked: Walked) -> None:
    different = {
        answer.step: walked.driver.intended.differs(answer)
        for answer in walked.state.answers.values()
        if walked.driver.intended.differs(answer)
    }
    assert different == {}
    assert len(walked.record.entries) == len(walked.context.plan.steps) >= 90


def test_replay_gives_the_live_state(walked: Walked) -> None:
    assert walked.replayed == walked.state


def test_what_was_found(walked: Walked) -> None:
    assert {defect.key: defect.level for defect in walked.record.defects} == {
        "power-steering-hoses#leaking": "repair",
        "triangles#missing": "repair",
        "tire-tread@left-1#beyond-tread-depth": "repair",
        "glad-hands#worn": "repair",
        "brake-chamber@left-4#overstroke": "repair",
        "brake-lights#lamp-out": "repair",
        "rim-lugs@right-2#loose": "halt",
        "tire-condition@right-1#cords": "halt",
        "air-leak-applied#beyond-air-leak-applied": "repair",
    }
    assert [standing.step for standing in walked.record.summary.watch] == ["mud-flap-height@right"]


def test_the_final_summary_in_full(walked: Walked) -> None:
    """Sources: 49 CFR 393.75(a)(1), (b), 393.95(f), 393.47(e), 393.9, 393.205(c), 396.11(a)(3); model commercial
    driver manual 5.3.3 (a combination may lose 4 psi in a minute); wheel fasteners, public out-of-service criteria;
    mud flap, common practice, no source."""
    assert list(walked.record.summary.text) == SUMMARY
    context, answers = walked.context, walked.state.answers
    talk = replayed_to_sign_off(walked)
    assert all(sentence in talk.say("details") for sentence in SUMMARY)
    why = talk.say("why")
    assert all(sentence in why for sentence in context.assessed(answers).findings)
    assert "federal rule three ninety three point seventy five" in why
    assert "reading" not in why  # what was not looked at is in the details


def test_the_closing_speech_has_each_finding_in_one_headline_and_no_rule(walked: Walked) -> None:
    (said,) = [line for line in walked.transcript.log if "a qualified person decides" in line]
    closing = said.partition("May not be driven, two")
    speech = closing[1] + closing[2]
    assert speech == CLOSING
    assert len(speech.split()) < 80  # half a minute at 165 words a minute, with the pauses between sentences


CLOSING = (
    "May not be driven, two: right axle two rim loose, right steer tire cords or belt showing. "
    "Repair before leaving, seven: steering hoses leaking, triangles missing, left steer tread, glad hands worn, "
    "left axle four chamber pushrod travels too far, brake lights lamp out, applied leak. "
    "Watch, one: right flap height. No release: a qualified person decides. More: why, or details."
)


def replayed_to_sign_off(walked: Walked) -> Talk:
    """The walk once more, up to its closing speech."""
    talk = Talk(walked.context)
    talk.events, talk.state = [], begin("normal")
    for line in journal.read(walked.session.journal).lines:
        talk.send(line.event)
        if talk.state.stage is Stage.NAME:
            return talk
    raise AssertionError("it was signed")


SUMMARY = (DEMO / "expected_summary.txt").read_text().splitlines()


def test_nothing_is_called_safe_or_passed(walked: Walked) -> None:
    words = " ".join(walked.transcript.log).lower().split()
    assert not {"safe", "safe.", "passed", "passed."} & set(words)


def test_the_commands_on_the_way_were_carried_out(walked: Walked) -> None:
    assert [note.text for note in walked.record.notes] == ["loose gravel in this yard today"]
    fuses = next(entry for entry in walked.record.entries if entry.item == "spare-fuses")
    assert (fuses.outcome, fuses.reason) == ("not-applicable", "breakers only")
    order = sorted(walked.state.answers.values(), key=lambda answer: answer.answered)
    sections = [walked.context.steps[answer.step].section for answer in order]
    last_of_engine = max(index for index, section in enumerate(sections) if section == "engine")
    assert order[last_of_engine].step == "alternator"  # was put off, and came before the hood was left
    assert walked.record.sign_off is not None
    assert walked.record.sign_off.name == "Rosa Quill"


def test_every_answer_has_its_recording(walked: Walked) -> None:
    for entry in walked.record.entries:
        assert entry.evidence, entry.step
        assert all(e.clip and (walked.session.path / e.clip).exists() for e in entry.evidence)


@pytest.mark.parametrize("vehicle", PLANTED)
def test_by_place_finds_each_planted_fault_and_loses_none_against_each_part(vehicle: str, tmp_path: Path) -> None:
    each, place = (
        Walked(tmp_path / depth, VEHICLES / f"{vehicle}.yaml", PLANTED[vehicle], depth)
        for depth in ("each-part", "by-place")
    )
    assert place.replayed == place.state
    wrong = {step: place.driver.intended.differs(answer) for step, answer in place.state.answers.items()}
    assert wrong == dict.fromkeys(place.context.order, "")
    found, known = ({(d.key, d.level, tuple(d.details)) for d in walk.record.defects} for walk in (place, each))
    assert found == known
    assert [entry.outcome for entry in place.record.entries] == [entry.outcome for entry in each.record.entries]
    stood, told = (
        [(s.level, s.step, s.defect) for s in (*walk.record.summary.against, *walk.record.summary.watch)]
        for walk in (place, each)
    )
    assert stood == told
    assert len(stood) >= 10
    together = [entry for entry in place.record.entries if entry.together]
    assert len(together) > len(place.record.entries) / 3
    assert not any(entry.together for entry in each.record.entries)
    assert all(entry.evidence and entry.seconds for entry in together)
    checked = verify_session(place.session.path, tmp_path, {}, lambda: Rebuilt(place.rebuilt()))
    assert [check.name for check in checked.checks if check.faults] == ["device"]  # its key is not trusted here
