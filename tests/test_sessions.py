"""One bad session, record or student never stops the rest; what is personal is private; errors tell the truth."""

from __future__ import annotations

import errno
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import numpy as np
import orjson
import pytest

from tests.attack.failing import FailingCalls
from tests.record.walks import record_of, walk
from tests.test_begin import Began, begun, vehicle
from tests.walk.talkative import context
from voice.data import durable, folders
from voice.errors import GladhandError, JournalError, SetupError, shown
from voice.journal import folder as session
from voice.journal import journal
from voice.journal import line as journal_line
from voice.journal.clips import Clips
from voice.journal.folder import Session
from voice.record.device import device_key
from voice.record.seal import content_sha256
from voice.rehearse.progress.students import Students
from voice.route import load_vehicle, vehicle_files
from voice.session import preparing
from voice.session.recorded import newest
from voice.session.resources import Resources, load, open_resources, open_sessions, state_of
from voice.walk.event import RULES

FEW = ("chocks", "wipers")


@pytest.fixture
def resources(tmp_path: Path) -> Resources:
    return open_resources(tmp_path / "home")


def two(resources: Resources) -> list[Session]:
    """Two open inspections, the older one first."""
    return sorted((begun(resources, "truck-7"), begun(resources, "truck-7")), key=lambda found: found.id)


def open_now(resources: Resources) -> list[str]:
    return [found.id for found, _ in open_sessions(resources)]


def forged(path: Path, old: bytes, new: bytes) -> None:
    """The journal with something else in it, and checksums that fit."""
    previous, lines = journal_line.START, []
    for line in path.read_bytes().splitlines():
        body = line.rpartition(b"\t")[0].replace(old, new)
        previous = journal_line.chained(previous, body)
        lines.append(b"%s\t%s\n" % (body, previous.encode()))
    assert b"".join(lines) != path.read_bytes()
    path.write_bytes(b"".join(lines))


# --- plan and limits ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["plan.json", "limits.json"])
def test_a_changed_figure_is_refused_wherever_it_is_loaded(resources: Resources, name: str) -> None:
    found = begun(resources, "truck-7")
    path = found.path / name
    path.write_bytes(path.read_bytes().replace(b"8", b"9", 1))
    with pytest.raises(JournalError, match=f"{name} is damaged"):
        session.load_snapshot(found)
    with pytest.raises(JournalError, match="damaged"):
        load(resources, found)
    assert "damaged" in state_of(resources, found)
    assert open_now(resources) == []


@pytest.mark.parametrize("mended", [False, True], ids=["altered", "altered with its hash"])
def test_an_altered_record_is_not_called_signed(resources: Resources, mended: bool) -> None:
    """Whether or not whoever altered it worked the hash out again: this device has signed it."""
    device_key(resources.home)
    made, known = walk(resources.home, only=FEW, clips=False)
    record_of(made, known)
    assert state_of(resources, made) == "signed"
    content = orjson.loads(made.record.read_bytes())
    content["odometer"]["value"] = "1"
    if mended:
        content["record_sha256"] = content_sha256(content)
    made.record.write_bytes(orjson.dumps(content))
    assert state_of(resources, made).startswith("altered since it was signed: 'gladhand verify ")
    made.record.write_bytes(b"{")
    assert state_of(resources, made).startswith("damaged: ")


def test_verify_finds_changed_limits(tmp_path: Path) -> None:
    found, known = walk(tmp_path, only=FEW, clips=False)
    record_of(found, known)
    found.limits.write_bytes(found.limits.read_bytes().replace(b"8", b"9", 1))
    done = gladhand("verify", "last", "--home", str(tmp_path))
    assert done.returncode == 1
    assert "limits.json is damaged" in done.stdout


def test_one_of_version_1_goes_on(resources: Resources) -> None:
    found = begun(resources, "truck-7")
    heading = journal.read_heading(found.journal)
    hashes = f',"plan_sha256":"{heading.plan_sha256}","limits_sha256":"{heading.limits_sha256}"'.encode()
    forged(found.journal, b'"version":2' + hashes, b'"version":1')
    assert open_now(resources) == [found.id]
    forged(found.journal, b'"version":1', b'"version":2')  # and of version 2 nothing may be left out
    assert open_now(resources) == []


# --- one bad session ---------------------------------------------------------------------------------------------


BAD = [
    (b'"at":0.0', b'"at":1' + b"0" * 400),
    (b'"mono":0.0', b'"mono":1' + b"0" * 400),
    (b'"event":{"at":0.0,"rules":%d,"kind":"started"}' % RULES,
     b'"event":{"at":0.0,"meaning":{"id":"nosuch","kind":"chosen"},"words":"x","confidence":1.0,"onset":null,"kind":"heard"}'),
    (b'"drivers":[]', b'"drivers":7'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new"), BAD)
def test_a_session_that_cannot_be_is_said_and_left_aside(
    resources: Resources, old: bytes, new: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    good, bad = two(resources)
    forged(bad.journal, old, new)
    assert preparing.ask_resume(resources, Began(resources, "yes").asker, vehicle("truck-7")) == good
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 1
    assert bad.id in said[0]


@pytest.mark.parametrize("name", ["plan.json", "limits.json", "journal.jsonl"])
@pytest.mark.parametrize("content", [b"\xff\xfe", b"", b"[" * 100_000, b"null", None])
def test_any_file_of_a_session_can_be_ruined(
    resources: Resources, name: str, content: bytes | None, capsys: pytest.CaptureFixture[str]
) -> None:
    good, bad = two(resources)
    if content is None:
        (bad.path / name).unlink()
    else:
        (bad.path / name).write_bytes(content)
    assert open_now(resources) == [good.id]
    told = capsys.readouterr().err
    assert bad.id in told
    assert "Check its name" not in told
    assert "damaged" in state_of(resources, bad)
    assert {found.id for found in session.sessions(resources.home)} == {good.id, bad.id}


def test_resume_without_a_name_passes_over_what_is_damaged(resources: Resources) -> None:
    good, bad = two(resources)
    bad.journal.write_bytes(bad.journal.read_bytes().replace(b"started", b"stopped"))
    assert newest(resources, salvage=False) == good
    assert newest(resources, salvage=True) == bad


def test_a_name_that_no_folder_can_have_is_unknown(resources: Resources) -> None:
    for name in ("x" * 300, "a\0b", "\udcff"):
        with pytest.raises(SetupError, match="no session"):
            session.find(resources.home, name)


# --- earlier records ---------------------------------------------------------------------------------------------


def test_a_damaged_earlier_record_or_logbook_does_not_stop_a_walk(
    resources: Resources, capsys: pytest.CaptureFixture[str]
) -> None:
    found, known = walk(resources.home, only=FEW, clips=False)
    record_of(found, known)
    (resources.home / "logbook.sqlite").write_bytes(b"no database at all" * 100)
    began = Began(resources)
    assert preparing.defects_to_review(resources, began.asker, known.plan.vehicle) == []
    assert "Not all earlier records" in began.transcript.log[-1]
    preparing.tell_outlook(resources, began.asker, known.plan.vehicle)
    found.record.write_bytes(found.record.read_bytes()[:-100])
    assert preparing.defects_to_review(resources, began.asker, known.plan.vehicle) == ()
    said = capsys.readouterr().err
    assert "logbook.sqlite" in said
    assert "record.json" in said


def test_a_logbook_on_a_disk_that_can_only_be_read_is_not_to_be_moved_away(
    resources: Resources, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    resources.home.mkdir(exist_ok=True)
    (resources.home / "logbook.sqlite").touch()

    def refuse(path: Path, mode: int = 0, exist_ok: bool = True) -> None:
        raise OSError(errno.EROFS, "Read-only file system", str(path))

    monkeypatch.setattr(Path, "touch", refuse)
    preparing.tell_outlook(resources, Began(resources).asker, load_vehicle(vehicle_files()["straight-truck-two-axle"]))
    said = capsys.readouterr().err
    assert "logbook.sqlite cannot be used: the disk can only be read." in said
    assert "Move it away" not in said


def test_a_record_that_was_taken_away_is_made_again_without_a_microphone(tmp_path: Path) -> None:
    found, known = walk(tmp_path, only=FEW, clips=False)
    record_of(found, known)
    before = found.record.read_bytes()
    found.record.unlink()
    done = gladhand("resume", found.id, "--input", "no such microphone", "--home", str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert found.record.read_bytes() == before


# --- private -----------------------------------------------------------------------------------------------------


def modes(folder: Path) -> set[str]:
    return {
        str(path.relative_to(folder))
        for path in folder.rglob("*")
        if stat.S_IMODE(path.stat().st_mode) & 0o077 and not path.name.endswith("lock")
    }


def test_what_a_walk_leaves_is_for_its_owner_only(tmp_path: Path) -> None:
    home = tmp_path / "home"
    found, known = walk(home, only=FEW)
    record_of(found, known)
    Students(home).enroll("Invented One")
    assert stat.S_IMODE(home.stat().st_mode) == 0o700
    assert modes(home) == set()


def test_what_an_earlier_version_left_open_is_closed(tmp_path: Path) -> None:
    for name in ("sessions/one/clips/0.flac", "students/a/student.json", "repairs.jsonl", "vehicles/v.yaml"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("")
    (tmp_path / "sessions" / "link").symlink_to(tmp_path / "vehicles" / "v.yaml")
    folders.home(tmp_path)
    (tmp_path / "sessions" / "link").unlink()
    assert modes(tmp_path) == {"vehicles", "vehicles/v.yaml"}  # nothing of a driver is in there


# --- errors ------------------------------------------------------------------------------------------------------


def gladhand(*arguments: str, before: str = "") -> subprocess.CompletedProcess[str]:
    code = f"{before}\nimport sys; sys.argv[0] = 'gladhand'\nfrom voice.cli import main\nmain()"
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=False, errors="replace"
    )
    assert "Traceback" not in done.stderr, done.stderr
    return done


def test_control_characters_are_written_out(tmp_path: Path) -> None:
    assert shown("a\x1b[31m\n\udcffé\u202e") == "a\\x1b[31m\\n\\udcffé\\u202e"
    done = gladhand("resume", "x\x1b[31m", "--home", str(tmp_path))
    assert "\x1b" not in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("option", ["--sheet", "--render"])
@pytest.mark.parametrize("name", ["x" * 300 + ".flac", "/dev/null/x.flac"])
def test_a_file_that_cannot_be_written_is_one_sentence(option: str, name: str) -> None:
    done = gladhand("recite", option, name)
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("limit", [5, 8])
def test_few_file_descriptors_are_one_sentence(tmp_path: Path, limit: int) -> None:
    """Once all is imported: a command that cannot open its files says so."""
    before = (
        "import resource, voice.session.inspection, voice.rehearse.lesson.rehearsal\n"
        f"resource.setrlimit(resource.RLIMIT_NOFILE, ({limit}, {limit}))"
    )
    done = gladhand("sessions", "--home", str(tmp_path), before=before)
    assert done.stderr.count("\n") <= 1


def test_a_driver_must_have_a_name_that_can_be_shown(tmp_path: Path) -> None:
    for name, why in (("x" * 101, "person's name"), ("a\x1bb", "cannot be shown"), ("\udcff", "cannot be shown")):
        done = gladhand("walk", "--driver", name, "--home", str(tmp_path))
        assert done.returncode == 2
        assert why in done.stderr
    done = gladhand("walk", "--odometer", "9" * 400, "--home", str(tmp_path))
    assert "no odometer reading" in done.stderr
    assert not (tmp_path / "sessions").exists()


def test_a_session_deleted_during_the_walk_is_not_called_safe(resources: Resources) -> None:
    found, _ = walk(resources.home, only=FEW, stop_at="wipers")
    log = journal.Journal.reopen(journal.read(found.journal))
    shutil.rmtree(found.path)
    with pytest.raises(JournalError, match="deleted or moved"):
        log.check_there()
    with pytest.raises(JournalError, match="deleted or moved"):
        Clips(found.clips).keep(1, np.zeros(160, np.float32))
    assert not found.path.exists()


def test_a_new_session_on_a_full_disk_leaves_nothing(resources: Resources, monkeypatch: pytest.MonkeyPatch) -> None:
    plan, limits = context(only=FEW).plan, context(only=FEW).limits
    for step in range(1, 40):
        calls = FailingCalls(step, errno.ENOSPC, stuck=True)
        monkeypatch.setattr(durable, "calls", calls)
        error = None
        try:
            _, lock, log = session.create(resources.home, plan, limits, session.Beginning())
        except GladhandError as caught:
            error = caught
        if error is None:
            break
        assert "the disk is full" in str(error)
        assert list(session.sessions(resources.home)) == []
    assert step > 20
    log.close()
    lock.release()


def test_an_error_of_the_system_has_its_own_words() -> None:
    for number, words in ((errno.EROFS, "can only be read"), (errno.EMFILE, "too many files"), (errno.EIO, "failed")):
        message, hint = durable.trouble("X cannot be written", OSError(number, os.strerror(number)))
        assert words in message
        assert hint
