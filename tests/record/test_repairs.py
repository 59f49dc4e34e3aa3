"""Open defects from report to certification, and the file of certifications."""

from __future__ import annotations

import hashlib
import json
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.record.walks import signed, walk
from voice.errors import RecordError, SetupError
from voice.record.canonical import canonical
from voice.record.device import device_key, trusted_keys
from voice.record.model import Certification, InspectionRecord
from voice.record.open_defects import (
    OpenDefect,
    certifications_of,
    certifications_since,
    find_open,
    fold,
    open_defects,
)
from voice.record.past import Past, past_records, pasts_of
from voice.record.repairs import Repair, certify, read_line, read_repairs, repair_lines, repairs_file

VEHICLE = "tractor-trailer-five-axle"
LAMP = {"brake-lights": ("defect", "lamp out")}
FEW = ("chocks", "brake-lights", "glad-hands")


def now() -> datetime:
    return datetime.now(UTC)


def certification(key: str, verdict: str = "repaired", at: datetime | None = None) -> Certification:
    return Certification.model_validate({"key": key, "verdict": verdict, "name": "Bo Lind", "at": at or now()})


def test_the_life_of_a_defect(tmp_path: Path) -> None:
    first = signed(tmp_path, LAMP, only=FEW)
    key = first.defects[0].key
    assert key == "brake-lights#lamp-out"
    (open_,) = open_defects(tmp_path, VEHICLE)
    assert (open_.key, open_.record, open_.times_seen, open_.said) == (key, first.id, 1, None)
    assert open_.found == first.ended

    # The next driver says it is still there, and finds it again on the walk: one sighting.
    again = {**LAMP, "carried@1": ("still there",)}
    second = signed(tmp_path, again, only=FEW, carried=open_defects(tmp_path, VEHICLE))
    assert [(c.key, c.answer) for c in second.carried] == [(key, "still-there")]
    (open_,) = open_defects(tmp_path, VEHICLE)
    assert (open_.record, open_.times_seen, open_.said, open_.last) == (first.id, 2, "still-there", second.id)

    # A driver's "repaired", and an item found in order, close nothing.
    third = signed(tmp_path, {"carried@1": ("repaired",)}, only=FEW, carried=open_defects(tmp_path, VEHICLE))
    assert not third.defects
    (open_,) = open_defects(tmp_path, VEHICLE)
    assert (open_.said, open_.times_seen) == ("repaired", 2)

    # Only the certification does. The next record says which one the driver could rely on.
    certify(tmp_path, Repair(VEHICLE, open_.last, certification(key)), device_key(tmp_path))
    assert open_defects(tmp_path, VEHICLE) == []
    assert [c.key for c in certifications_since(tmp_path, VEHICLE)] == [key]
    assert [c.name for c in certifications_of(tmp_path, first)] == ["Bo Lind"]
    assert certifications_of(tmp_path, first.model_copy(update={"ended": None})) == (), "a draft relies on none"
    fourth = signed(tmp_path, only=FEW)
    assert [(c.key, c.verdict) for c in fourth.certifications] == [(key, "repaired")]
    assert certifications_since(tmp_path, VEHICLE) == ()

    # Found again afterwards, it is a new defect.
    fifth = signed(tmp_path, LAMP, only=FEW)
    (open_,) = open_defects(tmp_path, VEHICLE)
    assert (open_.record, open_.times_seen, open_.said) == (fifth.id, 1, None)


def test_repair_unnecessary_closes_it_too(tmp_path: Path) -> None:
    record = signed(tmp_path, LAMP, only=FEW)
    certify(tmp_path, Repair(VEHICLE, record.id, certification(record.defects[0].key, "repair-unnecessary")))
    assert open_defects(tmp_path, VEHICLE) == []


def test_a_reading_beyond_its_limit_is_carried_as_a_defect(tmp_path: Path) -> None:
    signed(tmp_path, {"tire-tread@right-1": ("three thirty seconds", "yes")}, only=("chocks", "tire-tread"))
    keys = [defect.key for defect in open_defects(tmp_path, VEHICLE)]
    assert "tire-tread@right-1#beyond-tread-depth" in keys


def test_an_unsigned_walk_reports_nothing(tmp_path: Path) -> None:
    walk(tmp_path, {"brake-lights": ("defect", "lamp out")}, only=FEW, stop_at="glad-hands")
    assert open_defects(tmp_path, VEHICLE) == []


def test_other_vehicles_are_kept_apart(tmp_path: Path) -> None:
    one = signed(tmp_path, LAMP, only=FEW)
    signed(tmp_path, LAMP, only=FEW, vehicle="truck-nine")
    key = one.defects[0].key
    with pytest.raises(SetupError, match=r"several vehicles: tractor-trailer-five-axle-trailer, truck-nine-trailer"):
        find_open(tmp_path, key)
    owner, found = find_open(tmp_path, key, "truck-nine")
    certify(tmp_path, Repair(owner, found.record, certification(key)))
    assert open_defects(tmp_path, "truck-nine") == []
    assert [defect.key for defect in open_defects(tmp_path, VEHICLE)] == [key]
    with pytest.raises(SetupError, match="no open defect"):
        find_open(tmp_path, key, "truck-nine")


def test_an_old_record_may_go_its_defect_stays(tmp_path: Path) -> None:
    first = signed(tmp_path, LAMP, only=FEW)
    second = signed(tmp_path, {"carried@1": ("still there",)}, only=FEW, carried=open_defects(tmp_path, VEHICLE))
    shutil.rmtree(tmp_path / "sessions" / first.id)
    (open_,) = open_defects(tmp_path, VEHICLE)
    assert (open_.key, open_.record, open_.found, open_.last) == (KEY, first.id, first.ended, second.id)
    assert open_.said == "still-there"
    certify(tmp_path, Repair(VEHICLE, second.id, certification(KEY)))
    assert open_defects(tmp_path, VEHICLE) == []


def test_certified_while_the_walk_was_going_on(tmp_path: Path) -> None:
    signed(tmp_path, LAMP, only=FEW)
    carried = open_defects(tmp_path, VEHICLE)
    certify(tmp_path, Repair(VEHICLE, "", certification(KEY)))
    signed(tmp_path, {"carried@1": ("repaired",)}, only=FEW, carried=carried)
    assert open_defects(tmp_path, VEHICLE) == []


def test_a_broken_record_is_not_left_out_in_silence(tmp_path: Path) -> None:
    record = signed(tmp_path, LAMP, only=FEW)
    path = tmp_path / "sessions" / record.id / "record.json"
    path.write_text(path.read_text().replace("Lamp out", "Nothing"))
    path.write_text(path.read_text().replace("lamp out", "nothing"))
    with pytest.raises(RecordError, match="cannot be carried on") as caught:
        open_defects(tmp_path, VEHICLE)
    assert "gladhand resume" in caught.value.hint


def test_what_was_read_before_is_not_read_again_but_a_changed_file_is(tmp_path: Path) -> None:
    record = signed(tmp_path, LAMP, only=FEW)
    assert [past.id for past in past_records(tmp_path, f"{VEHICLE}-trailer")] == [record.id]
    cache = tmp_path / "past.json"
    before = cache.stat().st_mtime_ns
    assert [past.id for past in past_records(tmp_path, f"{VEHICLE}-trailer")] == [record.id]
    assert cache.stat().st_mtime_ns == before
    for spoiled in (b"", b"{", b'{"x": {"id": 1}}'):  # a broken cache is made anew
        cache.write_bytes(spoiled)
        assert [defect.key for defect in open_defects(tmp_path, VEHICLE)] == ["brake-lights#lamp-out"]
    path = tmp_path / "sessions" / record.id / "record.json"
    path.write_bytes(path.read_bytes().replace(b"lamp-out", b"lamp-off"))
    with pytest.raises(RecordError, match="altered"):
        list(past_records(tmp_path))


@given(st.lists(st.sampled_from(["found", "repaired?", "still?", "certified"]), max_size=12))
@settings(max_examples=60)
def test_open_means_found_and_not_certified_since(events: list[str]) -> None:
    """Against a one-line model of the rule, over any history."""
    at = datetime(2026, 1, 1, tzinfo=UTC)
    records: list[Past] = []
    repairs: list[Repair] = []
    expected = False
    for number, event in enumerate(events):
        at += timedelta(hours=1)
        if event == "certified":
            repairs.append(Repair(VEHICLE, "", certification(KEY, at=at)))
            expected = False
            continue
        records += pasts_of(_record(number, at, event))
        expected = True  # found, or carried and so still open
    found = fold(records, repairs)
    assert bool(found) == expected
    assert all(isinstance(defect, OpenDefect) and defect.times_seen >= 1 for defect in found)


KEY = "brake-lights#lamp-out"
_TEMPLATE: list[InspectionRecord] = []


@pytest.fixture(scope="module", autouse=True)
def _template(tmp_path_factory: pytest.TempPathFactory) -> None:
    _TEMPLATE.append(signed(tmp_path_factory.mktemp("template"), LAMP, only=FEW))


def _record(number: int, at: datetime, event: str) -> InspectionRecord:
    """The template's record at another time, with the defect, or with an answer about it."""
    template = _TEMPLATE[0]
    said = {"repaired?": "repaired", "still?": "still-there"}.get(event)
    entries = template.entries
    if event != "found":
        entries = tuple(entry.model_copy(update={"defects": ()}) for entry in entries)
    carried = (
        []
        if said is None
        else [{"key": KEY, "title": "Brake lights: lamp out", "found": at, "record": "r", "answer": said}]
    )
    content = template.model_copy(update={"id": f"r{number}", "started": at, "ended": at, "entries": entries})
    return InspectionRecord.model_validate({**content.model_dump(), "carried": carried})


# --- the file ----------------------------------------------------------------------------------------------------


def _three(home: Path, *, sign: bool) -> Path:
    key = device_key(home) if sign else None
    for number in range(3):
        certify(home, Repair(VEHICLE, "r", certification(f"horn#{number}")), key)
    return repairs_file(home)


@pytest.mark.parametrize("sign", [False, True])
def test_every_changed_byte_of_the_file_is_noticed(tmp_path: Path, sign: bool) -> None:
    path = _three(tmp_path, sign=sign)
    good = path.read_bytes()
    assert [repair.certification.key for repair in read_repairs(tmp_path)] == ["horn#0", "horn#1", "horn#2"]
    for at in range(0, len(good) - 1, 3):
        if good[at : at + 1] == b"\n":
            continue
        path.write_bytes(good[:at] + bytes([good[at] ^ 1]) + good[at + 1 :])
        try:
            after = read_repairs(tmp_path)
        except RecordError:
            continue
        # Flipping a bit may give the same JSON by another spelling; then nothing was changed.
        path.write_bytes(good)
        assert after == read_repairs(tmp_path), at


@pytest.mark.parametrize("lost", [0, 1])
def test_a_line_taken_out_of_the_middle_is_noticed(tmp_path: Path, lost: int) -> None:
    path = _three(tmp_path, sign=False)
    lines = path.read_bytes().splitlines(keepends=True)
    del lines[lost]
    path.write_bytes(b"".join(lines))
    with pytest.raises(RecordError, match="missing or was changed"):
        read_repairs(tmp_path)


def test_a_line_that_is_made_up_is_noticed_where_the_device_signs(tmp_path: Path) -> None:
    path = _three(tmp_path, sign=True)
    (tmp_path / "other").mkdir()
    forger = device_key(tmp_path / "other")
    genuine = path.read_bytes()
    certify(tmp_path, Repair(VEHICLE, "r", certification("horn#9")))  # hashed well, not signed
    with pytest.raises(RecordError, match="not signed by the device"):
        read_repairs(tmp_path)
    path.write_bytes(genuine)
    certify(tmp_path, Repair(VEHICLE, "r", certification("horn#9")), forger)
    with pytest.raises(RecordError, match="does not know"):
        read_repairs(tmp_path)


def test_a_torn_tail_was_never_confirmed_and_is_replaced(tmp_path: Path) -> None:
    path = _three(tmp_path, sign=False)
    whole = path.read_bytes()
    for cut in range(1, len(whole.splitlines()[2]) + 1, 7):
        path.write_bytes(whole[:-cut])
        assert len(read_repairs(tmp_path)) == 2
    certify(tmp_path, Repair(VEHICLE, "r", certification("horn#new")))
    assert [repair.certification.key for repair in read_repairs(tmp_path)] == ["horn#0", "horn#1", "horn#new"]
    assert all(json.loads(line) for line in path.read_text().splitlines())


def test_nothing_is_added_to_a_damaged_file(tmp_path: Path) -> None:
    path = _three(tmp_path, sign=False)
    path.write_bytes(path.read_bytes().replace(b"horn#1", b"horn#7"))
    before = path.read_bytes()
    with pytest.raises(RecordError, match="line 2 is damaged"):
        certify(tmp_path, Repair(VEHICLE, "r", certification("horn#3")))
    assert path.read_bytes() == before


def test_one_line_is_read_on_its_own(tmp_path: Path) -> None:
    """As a depot gets it: without the file, from a device it knows or does not know."""
    repairs = [Repair(VEHICLE, "r1", certification(key)) for key in ("horn#not-working", "wipers#worn")]
    certify(tmp_path, repairs[0])
    certify(tmp_path, repairs[1], device_key(tmp_path))
    with repairs_file(tmp_path).open("ab") as file:
        file.write(b'{"torn":')  # by a crash: never confirmed, and not handed on
    plain, sealed = repair_lines(tmp_path)
    assert repair_lines(tmp_path / "nowhere") == []
    assert [read_line(line, "x", {}) for line in (plain, sealed)] == repairs
    assert read_line(sealed, "x", trusted_keys(tmp_path)) == repairs[1]
    stranger = trusted_keys(_home_with_key(tmp_path / "other"))
    spoiled = sealed.replace(b"wipers", b"vipers")
    forged = json.loads(spoiled)
    bare = {name: value for name, value in forged.items() if name not in ("sha256", "device", "signature")}
    forged["sha256"] = hashlib.sha256(canonical(bare)).hexdigest()
    unknown = sealed.replace(trusted_keys(tmp_path).popitem()[0].encode(), b"7" * 3000)
    for line, trusted, why in (
        (unknown, stranger, "does not know"),
        (plain, trusted_keys(tmp_path), "not signed by a device"),
        (sealed, stranger, "does not know"),
        (spoiled, {}, "does not fit its hash"),
        (json.dumps(forged).encode(), trusted_keys(tmp_path), "signature does not fit"),
        (sealed[:-9], {}, "damaged"),
        (b"[]", {}, "does not fit its hash"),
        (b"\xff", {}, "damaged"),
    ):
        with pytest.raises(RecordError, match=why) as refused:
            read_line(line, "the line", trusted)
        assert "\n" not in refused.value.message
        assert len(refused.value.message) < 200


def _home_with_key(home: Path) -> Path:
    device_key(home)
    return home


@pytest.mark.parametrize("end", [b"\x0b", b"\0" * 40, b"\n\0\0"])
def test_a_damaged_end_is_told_and_no_certification_is_cut_off(tmp_path: Path, end: bytes) -> None:
    for name in ("one", "two"):
        certify(tmp_path, Repair(VEHICLE, "r", certification(name)))
    path = repairs_file(tmp_path)
    path.write_bytes(path.read_bytes()[:-1] + end)
    before = path.read_bytes()
    for act in (lambda: read_repairs(tmp_path), lambda: certify(tmp_path, Repair(VEHICLE, "r", certification("x")))):
        with pytest.raises(RecordError, match="damaged or altered"):
            act()
    assert path.read_bytes() == before
