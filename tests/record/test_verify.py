"""gladhand verify: every later change of a record, its journal or a recording is found, and what differs is named."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.record.test_canonical import _change, _places
from tests.record.walks import record_of, walk
from voice.errors import RecordError
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.folder import Session
from voice.record.device import device_key, trusted_keys
from voice.record.files import make_record
from voice.record.model import InspectionRecord
from voice.record.seal import content_sha256
from voice.record.verify import Rebuilt, Verification, _clip_fault, differences, verify_record, verify_session
from voice.walk.context import Context

FEW = ("chocks", "steering-lash", "brake-lights", "wipers")


class Scene:
    """A signed session in a home, and the known good state to compare with."""

    def __init__(self, home: Path, found: Session, known: Context) -> None:
        self.home, self.found, self.known = home, found, known

    def rebuild(self) -> Rebuilt:
        plan, limits = session.load_snapshot(self.found)
        known = replace(self.known, plan=plan, limits=limits)
        file = journal.read(self.found.journal)
        return Rebuilt(make_record(plan, file, session.replay(known, file), limits, known.defects))

    def check(self) -> Verification:
        return verify_session(self.found.path, self.home, trusted_keys(self.home), self.rebuild)

    def content(self) -> dict[str, Any]:
        loaded: dict[str, Any] = json.loads(self.found.record.read_text())
        return loaded

    def write(self, content: dict[str, Any], *, rehash: bool) -> None:
        if rehash:
            content["record_sha256"] = content_sha256(content)
        self.found.record.write_text(json.dumps(content))


def faults(checked: Verification) -> dict[str, tuple[str, ...]]:
    return {check.name: check.faults for check in checked.checks if check.faults}


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    home = tmp_path_factory.mktemp("home")
    found, known = walk(home, {"brake-lights": ("defect", "lamp out")}, only=FEW)
    record_of(found, known)
    return Scene(home, found, known)


@pytest.fixture
def scene(original: Scene, tmp_path: Path) -> Scene:
    """A copy to spoil."""
    home = tmp_path / "home"
    shutil.copytree(original.home, home)
    return Scene(home, Session(home / "sessions" / original.found.id), original.known)


def test_nothing_changed_nothing_found(scene: Scene) -> None:
    checked = scene.check()
    assert checked.sound, faults(checked)
    assert [check.name for check in checked.checks] == ["record", "device", "journal", "recordings", "made again"]


def test_a_changed_field_is_named_with_both_values(scene: Scene) -> None:
    content = scene.content()
    entry = next(entry for entry in content["entries"] if entry["step"] == "brake-lights")
    entry["outcome"] = "ok"
    scene.write(content, rehash=False)
    found = faults(scene.check())
    assert set(found) == {"record", "device", "made again"}
    assert "altered" in found["record"][0]
    assert found["made again"] == ("entries[brake-lights].outcome: the record says 'ok', the journal 'defect'.",)


def test_a_forged_record_hashed_again_is_found_three_ways(scene: Scene) -> None:
    content = scene.content()
    content["driver"] = "Somebody Else"
    scene.write(content, rehash=True)
    found = faults(scene.check())
    assert set(found) == {"device", "made again"}
    assert found["made again"] == ("driver: the record says 'Somebody Else', the journal 'Rosa Quill'.",)
    # Where no key is known, the journal still tells.
    for name in ("device.key", "device.pub"):
        (scene.home / name).unlink()
    content["device"] = None
    scene.write(content, rehash=True)
    assert set(faults(scene.check())) == {"made again"}


def test_whoever_has_the_key_is_not_found_by_hash_or_signature(scene: Scene) -> None:
    """The limit of it, told in the help: only the journal contradicts, until that is rewritten too."""
    record = scene.check().record
    assert record is not None
    content = record.model_dump(mode="json") | {"driver": "Somebody Else", "device": None}
    content["record_sha256"] = content_sha256(content)
    forged = device_key(scene.home).sign(InspectionRecord.model_validate(content))
    scene.found.record.write_text(forged.model_dump_json())
    assert set(faults(scene.check())) == {"made again"}


def test_every_field_changed_and_hashed_again_is_found_from_the_journal(original: Scene) -> None:
    """Without any help of the device's key."""
    truth = original.rebuild().record.model_dump(mode="json")
    content = original.content()
    fields = [place for place in _places(content) if place[0] not in ("record_sha256", "device", "certifications")]
    assert len(fields) > 200
    for place in fields:
        changed = json.loads(json.dumps(content))
        inner = changed
        for key in place[:-1]:
            inner = inner[key]
        inner[place[-1]] = _change(inner[place[-1]])
        left_out = ("record_sha256", "device", "certifications")
        found = list(
            differences(
                {key: value for key, value in changed.items() if key not in left_out},
                {key: value for key, value in truth.items() if key not in left_out},
            )
        )
        assert found, place
        assert str(found[0]).startswith(str(place[0]))


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_changed_byte_of_the_journal_is_found(scene: Scene, data: st.DataObject) -> None:
    good = scene.found.journal.read_bytes()
    at = data.draw(st.integers(0, len(good) - 1))
    bit = data.draw(st.integers(0, 7))
    scene.found.journal.write_bytes(good[:at] + bytes([good[at] ^ (1 << bit)]) + good[at + 1 :])
    try:
        assert "journal" in faults(scene.check())
    finally:
        scene.found.journal.write_bytes(good)


def test_a_journal_cut_short_is_found(scene: Scene) -> None:
    lines = scene.found.journal.read_bytes().splitlines(keepends=True)
    scene.found.journal.write_bytes(b"".join(lines[:-1]))
    found = faults(scene.check())
    assert f"It has {len(lines) - 2} events; the record was made from {len(lines) - 1}." in found["journal"]
    assert "made again" in found


def test_another_sessions_journal_is_found(scene: Scene) -> None:
    other, _ = walk(scene.home, {"brake-lights": ("defect", "lamp out")}, only=FEW)
    shutil.copy(other.journal, scene.found.journal)
    found = faults(scene.check())
    assert any("not the journal that the record was made from" in fault for fault in found["journal"])
    assert any(other.id in fault for fault in found["journal"])


def test_altered_missing_and_strange_recordings(scene: Scene) -> None:
    clips = sorted(scene.found.clips.iterdir())
    clips[0].write_bytes(clips[0].read_bytes()[:-1] + b"x")
    clips[1].unlink()
    (scene.found.clips / "added.flac").write_bytes(b"x")
    checked = scene.check()
    assert faults(checked) == {
        "recordings": (f"clips/{clips[0].name} was altered.", f"clips/{clips[1].name} is missing.")
    }
    (scene.found.clips / clips[1].name).write_bytes(b"")
    assert f"clips/{clips[1].name} was altered." in faults(scene.check())["recordings"]


def test_a_strange_recording_alone_is_only_mentioned(scene: Scene) -> None:
    (scene.found.clips / "added.flac").write_bytes(b"x")
    checked = scene.check()
    assert checked.sound
    assert any("1 more that no answer names" in check.good for check in checked.checks)


def test_a_recording_outside_the_folder_is_not_read(scene: Scene) -> None:
    content = scene.content()
    content["sign_off"]["clip"] = "../../device.key"
    scene.write(content, rehash=True)
    assert "broken at sign_off.clip" in faults(scene.check())["record"][0]
    assert _clip_fault(scene.found.path, "../../device.key", None) == (
        "'../../device.key' cannot be the name of a recording."
    )


def test_a_clip_hash_changed_in_the_record_is_found_by_the_recordings_too(scene: Scene) -> None:
    content = scene.content()
    content["sign_off"]["clip_sha256"] = "0" * 64
    scene.write(content, rehash=True)
    found = faults(scene.check())
    assert any("different hashes" in fault for fault in found["recordings"])


@pytest.mark.parametrize("name", ["plan.json", "limits.json"])
def test_a_changed_plan_or_limit_is_found(scene: Scene, name: str) -> None:
    path = scene.found.path / name
    text = path.read_text()
    old = '"Brake lights"' if name == "plan.json" else '"us-federal"'
    assert old in text
    path.write_text(text.replace(old, '"other"'))
    assert "made again" in faults(scene.check())


def test_a_damaged_plan_is_a_fault_and_no_crash(scene: Scene) -> None:
    (scene.found.path / "plan.json").write_text("{")
    assert "cannot be made from the journal again" in faults(scene.check())["made again"][0]


def test_an_invented_certification_is_found(scene: Scene) -> None:
    content = scene.content()
    content["certifications"] = [
        {"key": "horn#weak", "verdict": "repaired", "name": "Nobody", "at": "2026-03-02T05:00:00Z", "remark": ""}
    ]
    scene.write(content, rehash=True)
    assert faults(scene.check())["repairs"] == ("horn#weak, Nobody: not in repairs.jsonl.",)


def test_no_record_no_journal(scene: Scene) -> None:
    scene.found.journal.unlink()
    assert set(faults(scene.check())) == {"journal"}
    scene.found.record.unlink()
    assert set(faults(scene.check())) == {"record", "journal"}


def test_titles_are_not_held_against_changed_route_files(scene: Scene) -> None:
    def renamed() -> Rebuilt:
        record = scene.rebuild().record
        entries = tuple(entry.model_copy(update={"title": f"{entry.title}!"}) for entry in record.entries)
        return Rebuilt(record.model_copy(update={"entries": entries}), same_files=False)

    checked = verify_session(scene.found.path, scene.home, trusted_keys(scene.home), renamed)
    assert checked.sound
    assert any("titles were not compared" in check.good for check in checked.checks)


def test_another_version_of_the_program_may_differ(scene: Scene) -> None:
    def newer() -> Rebuilt:
        return Rebuilt(scene.rebuild().record.model_copy(update={"route_title": "new"}), program="gladhand 9")

    checked = verify_session(scene.found.path, scene.home, trusted_keys(scene.home), newer)
    assert checked.sound
    assert any("gladhand 9, another version: 1 fields differ, first route_title" in c.good for c in checked.checks)


def test_many_differences_are_counted(scene: Scene) -> None:
    def other() -> Rebuilt:
        record = scene.rebuild().record
        wrong = {"title": "x", "reason": "y", "seconds": 1.5, "corrected": 9}
        entries = tuple(entry.model_copy(update=wrong) for entry in record.entries)
        return Rebuilt(record.model_copy(update={"entries": entries}))

    found = faults(verify_session(scene.found.path, scene.home, {}, other))["made again"]
    assert re.fullmatch(r"and \d+ more differences\.", found[-1])


def test_a_record_alone(scene: Scene) -> None:
    checked = verify_record(scene.found.record, trusted_keys(scene.home))
    assert checked.sound
    assert [check.name for check in checked.checks] == ["record", "device"]


def test_fields_that_came_after_a_record_are_no_difference(scene: Scene) -> None:
    content = scene.content()
    del content["vehicle"]["parking_valve_psi"], content["vehicle"]["axles"][0]["brake"]["arm_in"]
    scene.write(content, rehash=True)
    assert set(faults(scene.check())) == {"device"}


def test_a_failing_rebuild_is_told(scene: Scene) -> None:
    def fails() -> Rebuilt:
        raise RecordError("no.")

    assert "made again" in faults(verify_session(scene.found.path, scene.home, {}, fails))


@given(st.data())
def test_equal_values_do_not_differ_and_others_do(data: st.DataObject) -> None:
    plain = st.none() | st.booleans() | st.integers(-2, 2) | st.text("ab", max_size=2)
    value = st.recursive(
        plain,
        lambda v: st.lists(v, max_size=3) | st.dictionaries(st.text("ab", max_size=2), v, max_size=3),
        max_leaves=6,
    )
    one, two = data.draw(value), data.draw(value)
    assert list(differences(one, one)) == []
    same = json.dumps(one, sort_keys=True) == json.dumps(two, sort_keys=True)
    empty = {"{}", "[]"}
    assert (list(differences(one, two)) == []) == same or {json.dumps(one), json.dumps(two)} <= empty
