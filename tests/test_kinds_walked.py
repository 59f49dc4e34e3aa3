"""Whole inspections of each kind by a scripted driver with perfect ears, from options to record; and a promise: what is
reported in any kind of inspection is in the record, and open afterwards."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.record.walks import Walker, record_of
from tests.walk.scripted_walk import DEMO, PerfectEar, Quiet, Transcript
from tests.walk.talkative import SAMPLES, answer_usually, context
from voice.journal import folder as session
from voice.record.device import trusted_keys
from voice.record.entry import odometer_record
from voice.record.load import load_record
from voice.record.open_defects import open_defects
from voice.record.past import past_records
from voice.record.verify import verify_session
from voice.route import load_library, load_vehicle, make_plan, vehicle_files
from voice.route.answer import Condition
from voice.route.kinds import kinds_for
from voice.route.units import in_unit, named_vehicle
from voice.session import inspection
from voice.session.equipment import Equipment, EquipmentWanted
from voice.session.inspection import Finished, WalkOptions
from voice.session.loop import Devices
from voice.session.recorded import rebuild
from voice.session.script import Script, load_script
from voice.understand.meaning import Defect
from voice.walk.context import Context

VEHICLE = "tractor-trailer-five-axle"


class Dark:
    """A display that shows nothing."""

    def begin(self, context: object, session: str) -> None: ...
    def said(self, text: str) -> None: ...
    def asked(self, state: object, question: object) -> None: ...
    def turned(self, state: object, event: object) -> None: ...
    def close(self) -> None: ...


def script(setup: dict[str, str], *steps: dict[str, str]) -> Script:
    demo = load_script(DEMO / "driver.yaml")
    return Script.model_validate({**demo.model_dump(), "setup": setup, "steps": steps})


@contextmanager
def scripted(monkeypatch: pytest.MonkeyPatch, text: Script) -> Iterator[Transcript]:
    driver = Quiet(text)
    speaker = Transcript(driver.clock)
    devices = Devices(PerfectEar(driver), speaker, driver.clock, recover=lambda: None)
    monkeypatch.setattr(inspection, "open_equipment", lambda wanted: Equipment(devices, driver))
    yield speaker


def walk(monkeypatch: pytest.MonkeyPatch, home: Path, options: WalkOptions, text: Script) -> tuple[Finished, str]:
    with scripted(monkeypatch, text) as speaker:
        finished = inspection.walk(home, EquipmentWanted(), options, Dark())
    return finished, " ".join(line for line in speaker.log if not line.startswith("("))


def test_the_day_is_asked_aloud_from_the_first_question_to_the_second_signature(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Vehicle, kind, driver and odometer aloud; a defect at a wheel; two drivers sign."""
    (tmp_path / "drivers.yaml").write_text("- Rosa Quill\n- Ivo Lantern\n")
    setup = {
        "vehicle": "tractor twelve with trailer forty",
        "kind": "post trip",
        "driver": "rosa quill",
        "odometer": "four one two three four five",
        "co-sign": "yes",
    }
    hot = {"step": "wheel-heat@left-4", "ask": "too hot"}
    finished, heard = walk(monkeypatch, tmp_path, WalkOptions(co_driver="Ivo Lantern"), script(setup, hot))
    record = load_record(finished.found.record)
    assert (record.kind, record.kind_title, record.route) == ("post-trip", "Post-trip inspection", "post-trip")
    assert record.sign_off is not None
    assert record.sign_off.name == record.driver == "Rosa Quill"
    assert record.odometer is not None
    assert record.odometer.value == "412345"
    assert "Post-trip inspection: tractor twelve with trailer forty." in heard
    assert "four hundred twelve thousand three hundred forty five miles. Right?" in heard
    assert "Ivo Lantern: the report has one defect. Do you agree, and sign too?" in heard
    page = finished.found.report.read_text(encoding="utf-8")
    assert "Post-trip inspection · Vehicle inspection report" in page
    assert page.count("Ivo Lantern") == 1
    # The fourth axle of the five is the first of the trailer, whose defect it is.
    assert [each.key for each in open_defects(tmp_path, record.vehicle.id)] == ["wheel-heat@left-1#hot"]


def test_a_trailer_that_is_dropped_twice_without_a_hook_is_remarked_on(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Said at the beginning, in the record and its report, and nothing more: the drop goes on."""
    remark = "By the records, trailer forty was dropped already, and not hooked since."

    def of(kind: str) -> tuple[Finished, str]:
        name = "tractor-twelve+trailer-forty"
        asked = make_plan(load_library(), named_vehicle(tmp_path, name), kind_id=kind).steps
        demo = load_script(DEMO / "driver.yaml")  # has what a gauge reads in each brake check
        timed = [
            line for line in demo.steps if line.step in {step.id for step in asked if step.section == "brake-checks"}
        ]
        options = WalkOptions(vehicle=name, kind=kind, driver="Rosa Quill", review=False)
        return walk(monkeypatch, tmp_path, options, demo.model_copy(update={"setup": {}, "steps": tuple(timed)}))

    assert remark not in of("drop")[1]
    finished, heard = of("drop")
    record = load_record(finished.found.record)
    assert heard.startswith(remark)
    assert record.remarks == (remark,)
    assert record.sign_off is not None
    assert remark in finished.found.report.read_text(encoding="utf-8")
    again = verify_session(
        finished.found.path, tmp_path, trusted_keys(tmp_path), lambda: rebuild(tmp_path, finished.found)
    )
    assert [fault for check in again.checks for fault in check.faults] == []
    of("en-route")  # a short look on the road is no hook
    assert remark in of("drop")[1]
    of("hook")
    finished, heard = of("drop")
    assert remark not in heard
    assert "remarks" not in load_record(finished.found.record).model_dump(mode="json")


def test_the_hubodometer_is_asked_aloud_after_the_odometer_and_kept(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "vehicles").mkdir()
    for name in ("tractor-twelve", "trailer-forty"):
        text = vehicle_files()[name].read_text(encoding="utf-8")
        with_it = text.replace("{body: van,", "{body: van, hubodometer: true,")
        (tmp_path / "vehicles" / f"{name}.yaml").write_text(with_it, encoding="utf-8")
    options = WalkOptions(vehicle="tractor-twelve+trailer-forty", kind="drop", driver="Rosa Quill", odometer="412345")
    finished, heard = walk(monkeypatch, tmp_path, options, script({"hubodometer": "eight eight two one zero"}))
    assert heard.startswith("Hubodometer of trailer forty? eighty eight thousand two hundred ten miles. Right?")
    record = load_record(finished.found.record)
    assert (record.odometer, record.hubodometer) == (odometer_record("412345"), odometer_record("88210"))
    assert [(past.vehicle, past.miles, past.lead) for past in past_records(tmp_path)] == [
        ("tractor-twelve", 412_345.0, ""), ("trailer-forty", 88_210.0, ""),
    ]  # fmt: skip
    page = finished.found.report.read_text(encoding="utf-8")
    assert "Hubodometer of the trailer" in page
    assert "88,210 mi" in page
    bare = record.model_copy(update={"hubodometer": None}).model_dump(mode="json")
    assert "hubodometer" not in bare, "left out where there is none: the hash of an older record is what it was"
    found = finished.found
    checks = verify_session(found.path, tmp_path, trusted_keys(tmp_path), lambda: rebuild(tmp_path, found)).checks
    assert [fault for check in checks for fault in check.faults] == []


@pytest.mark.parametrize("kind", ["en-route", "drop"])
def test_with_all_given_nothing_is_asked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, kind: str) -> None:
    options = WalkOptions(vehicle=VEHICLE, kind=kind, driver="Rosa Quill", odometer="412345", new=True)
    finished, heard = walk(monkeypatch, tmp_path, options, script({}))
    title = load_library().kinds[kind].title
    assert heard.startswith(f"{title}: ")
    assert (finished.record.kind, finished.record.summary.against) == (kind, ())
    assert all(entry.outcome in ("ok", "done", "choice") for entry in finished.record.entries)


LIBRARY = load_library()
PLANS = [
    make_plan(LIBRARY, vehicle, kind_id=kind.id)
    for vehicle in (load_vehicle(vehicle_files()[name]) for name in SAMPLES.values())
    for kind in kinds_for(LIBRARY, vehicle)
    if kind.id != "brake-measurement"
]


@settings(max_examples=30, deadline=None)
@given(st.data())
def test_a_defect_reported_in_any_kind_is_in_the_record_and_open(data: st.DataObject) -> None:
    plan = data.draw(st.sampled_from(PLANS), "kind")
    steps = [s for s in plan.steps if isinstance(s.item.answer, Condition) and not s.item.follow_ups]
    step = data.draw(st.sampled_from(steps), "step")
    name = data.draw(st.sampled_from([each for each in step.item.defects if each != "other"]), "defect")
    base = context()
    known = Context(plan.only([step]), base.limits, base.talk, base.book, base.defects, base.cautions, ("Rosa Quill",))
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        found, lock, log = session.create(home, known.plan, known.limits, session.Beginning(drivers=known.drivers))
        with lock:
            walker = Walker(known, log, None)
            walker.mean(Defect(name))
            while not walker.closed:
                answer_usually(walker)
            log.close()
        record = record_of(found, known)
        assert (record.kind, [defect.key for defect in record.defects]) == (plan.kind, [f"{step.id}#{name}"])
        _, own = in_unit(plan.vehicle, f"{step.id}#{name}", step.place)
        assert [each.key for each in open_defects(home, plan.vehicle.id)] == [own]
