"""The demo's inspection with ten planted faults: what is kept of it, and its final summary in full.

The driver's words reach the loop as a perfect ear would hear them; the demo itself goes through real audio.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tests.walk.scripted_walk import DEMO, Quiet, Transcript, run
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.folder import Session
from voice.judge import load_limits
from voice.record.files import write_record
from voice.record.model import InspectionRecord
from voice.route import load_vehicle, make_plan
from voice.session.resources import open_resources
from voice.walk.context import Context
from voice.walk.event import Started
from voice.walk.machine import begin
from voice.walk.state import State


class Walked:
    """One scripted walk, from an empty home to the record."""

    def __init__(self, home: Path) -> None:
        resources = open_resources(home)
        plan = make_plan(resources.library, load_vehicle(DEMO / "fleet" / "tractor-12-trailer-40.yaml"))
        limits = load_limits().on(date(2026, 6, 1))
        self.context: Context = resources.context(plan, limits, ("Rosa Quill",))
        self.session: Session
        self.session, lock, log = session.create(
            home, plan, limits, session.Beginning(drivers=("Rosa Quill",), odometer="412345")
        )
        with lock:
            self.state: State
            self.transcript: Transcript
            self.driver: Quiet
            self.state, self.transcript, self.driver = run(
                self.context, begin("normal"), log, Started(0.0), clips=self.session.clips
            )
            log.close()
        file = journal.read(self.session.journal)
        self.replayed = session.replay(self.context, file)
        self.record: InspectionRecord = write_record(
            self.session, plan, file, self.state, limits, resources.library.defects
        )


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
    said = [line for line in walked.transcript.log if "a qualified person decides" in line]
    assert len(said) == 1
    assert all(sentence in said[0] for sentence in SUMMARY)


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
