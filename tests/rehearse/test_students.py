"""Students are kept, found and erased for real on the disk."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from voice.errors import GladhandError, RecordError, SetupError
from voice.rehearse.progress.record import PartRecord, SessionRecord
from voice.rehearse.progress.students import Students

RECORD = SessionRecord(
    id="20260302T080000Z", started=datetime(2026, 3, 2, 8, tzinfo=UTC), form="test", route="r", vehicle="v",
    points=1, of=2, seconds=30,
    parts=(PartRecord(key="horn", section="cab", title="Horn", named=True, right=True),),
    utterances=("Horn. It works.",),
)  # fmt: skip


def test_kept_and_read_back(tmp_path: Path) -> None:
    students = Students(tmp_path)
    ana = students.enroll("  Invented  Ána ")
    students.keep(ana, RECORD)
    students.keep(ana, RECORD.model_copy(update={"id": "later", "points": 2}))
    again = Students(tmp_path)
    assert [each.name for each in again.all()] == ["Invented Ána"]
    assert [each.points for each in again.sessions(again.known("invented ána"))] == [1, 2]
    assert again.sessions(ana)[0] == RECORD


def test_the_same_name_is_the_same_student_and_like_names_are_not(tmp_path: Path) -> None:
    students = Students(tmp_path)
    assert students.enroll("Invented One").id == students.enroll("invented one").id
    assert students.enroll("Invented-One").id != students.enroll("Invented One").id
    assert len(students.all()) == 2


def test_erase_leaves_nothing(tmp_path: Path) -> None:
    students = Students(tmp_path)
    gone, stays = students.enroll("Invented Gone"), students.enroll("Invented Stays")
    for student in (gone, stays):
        students.keep(student, RECORD)
        students.keep_clip(student, RECORD.id, 0, np.zeros(1600, np.float32))
    erased = students.erase(gone)
    assert (erased.sessions, erased.clips) == (1, 1)
    left = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert left
    assert not any(b"Gone" in path.read_bytes() or "gone" in str(path) for path in left)
    assert [each.name for each in students.all()] == ["Invented Stays"]
    assert len(students.sessions(stays)) == 1
    with pytest.raises(SetupError, match="no student"):
        students.known("Invented Gone")


def test_erase_refuses_a_folder_elsewhere(tmp_path: Path) -> None:
    students = Students(tmp_path)
    student = students.enroll("Invented One")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "precious").write_text("x")
    from dataclasses import replace

    with pytest.raises(RecordError):
        students.erase(replace(student, folder=elsewhere))
    assert (elsewhere / "precious").exists()


def test_a_torn_last_line_is_passed_over_and_does_not_spoil_the_next(tmp_path: Path) -> None:
    students = Students(tmp_path)
    student = students.enroll("Invented One")
    students.keep(student, RECORD)
    file = student.folder / "sessions.jsonl"
    file.write_bytes(file.read_bytes() + RECORD.model_dump_json().encode()[:40])
    students.keep(student, RECORD.model_copy(update={"id": "after"}))
    assert [each.id for each in students.sessions(student)] == [RECORD.id, "after"]


def test_a_damaged_line_is_told_with_its_place(tmp_path: Path) -> None:
    students = Students(tmp_path)
    student = students.enroll("Invented One")
    students.keep(student, RECORD)
    (student.folder / "sessions.jsonl").write_text('{"version": 1, "id": "x"}\n')
    with pytest.raises(RecordError, match=r"sessions\.jsonl:1"):
        students.sessions(student)


def test_a_name_is_needed(tmp_path: Path) -> None:
    with pytest.raises(SetupError):
        Students(tmp_path).enroll("   ")


def test_a_kill_while_enrolling_stops_nothing(tmp_path: Path) -> None:
    (tmp_path / "students" / "invented-one").mkdir(parents=True)
    students = Students(tmp_path)
    assert students.all() == []
    (tmp_path / "students" / "invented-one" / "student.json").touch()  # as an earlier version left it
    assert students.all() == []
    assert students.enroll("Invented One").id == "invented-one"
    assert [each.name for each in students.all()] == ["Invented One"]


@pytest.mark.parametrize("content", [b"\xff", b"null", b'{"name":7}', b'{"name":"' + b"x" * 500 + b'"}', b"[" * 9999])
def test_a_damaged_student_is_told_and_left_aside(tmp_path: Path, content: bytes) -> None:
    Students(tmp_path).enroll("Invented One")
    bad = Students(tmp_path).enroll("Invented Two")
    (bad.folder / "student.json").write_bytes(content)
    told: list[RecordError] = []
    students = Students(tmp_path, told.append)
    assert [each.name for each in students.all()] == ["Invented One"]
    assert "invented-two" in str(told[0])
    assert students.enroll("Invented Two").id == "invented-two-2"


def test_a_damaged_rehearsal_is_told_and_the_others_count(tmp_path: Path) -> None:
    told: list[RecordError] = []
    students = Students(tmp_path, told.append)
    student = students.enroll("Invented One")
    students.keep(student, RECORD)
    students.keep(student, RECORD.model_copy(update={"id": "later"}))
    file = student.folder / "sessions.jsonl"
    data = bytearray(file.read_bytes())
    data[40] = 0
    file.write_bytes(bytes(data))
    assert [each.id for each in students.sessions(student)] == ["later"]
    assert "sessions.jsonl:1" in str(told[0])


def test_a_name_does_not_match_the_id_of_another(tmp_path: Path) -> None:
    students = Students(tmp_path)
    students.enroll("Invented One")
    assert students.find("invented-one") is None
    assert students.enroll("invented-one").id == "invented-one-2"
    assert students.known("invented-one").name == "invented-one"


@pytest.mark.parametrize("name", ["x" * 101, "a\x1bb", "\udcff", "<b>A</b>"])
def test_a_name_must_be_one_that_can_be_shown(tmp_path: Path, name: str) -> None:
    with pytest.raises(SetupError, match="person's name"):
        Students(tmp_path).enroll(name)
    assert not (tmp_path / "students").exists()


def test_a_refused_rehearsal_leaves_nothing(tmp_path: Path) -> None:
    from voice.rehearse.lesson.course import open_course
    from voice.rehearse.lesson.rehearsal import RehearsalOptions, rehearse
    from voice.session.equipment import EquipmentWanted

    course, wanted = open_course(tmp_path, None, None), EquipmentWanted(wav=tmp_path / "nosuch.wav")

    with pytest.raises(GladhandError, match="cannot be read"):
        rehearse(tmp_path, course, RehearsalOptions("Invented One", form="test"), wanted, print)
    assert not (tmp_path / "students").exists()
