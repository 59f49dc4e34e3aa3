"""kill -9 of the running process at random moments: whatever was acknowledged is kept, and it goes on there."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.walk.scripted_walk import DEMO, Quiet
from voice.errors import JournalError
from voice.journal import folder as session
from voice.journal import journal
from voice.record.load import load_record
from voice.session.resources import open_resources
from voice.walk.event import Doubted, Heard

ROOT = DEMO.parent
KILLS = 8

pytestmark = [pytest.mark.slow, pytest.mark.skipif(os.name != "posix", reason="kill -9 is POSIX")]


def start(home: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "tests.walk.killed_walk", str(home), "0.004"]
    return subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE)


def progress(home: Path) -> int:
    """Bytes in the journal of the only session; 0 before there is one."""
    found = next(session.sessions(home), None)
    return found.journal.stat().st_size if found is not None and found.journal.exists() else 0


def answered(home: Path) -> int:
    """Answers on the disk."""
    found = next(session.sessions(home))
    try:
        lines = journal.read(found.journal).lines
    except JournalError:
        return 0
    return sum(isinstance(line.event, Heard | Doubted) for line in lines)


def test_killed_again_and_again_it_ends_with_the_record_that_was_meant(tmp_path: Path) -> None:
    chance = random.Random(20)
    kills = 0
    while True:
        process = start(tmp_path)
        goal = progress(tmp_path) + chance.randint(200, 9000)
        while process.poll() is None and progress(tmp_path) < goal:
            time.sleep(0.001)
        if kills == KILLS:
            assert process.wait() == 0, process.stderr.read() if process.stderr else ""
            break
        process.send_signal(signal.SIGKILL)
        process.wait()
        if process.returncode == 0:
            break
        kills += 1
        # Every acknowledgement that was heard (a tone each) has its answer on the disk.
        acknowledged = (tmp_path / "spoken").read_bytes().count(b"+") if (tmp_path / "spoken").exists() else 0
        assert acknowledged <= answered(tmp_path) + 2 * kills + 1  # tones that follow a start or a resume
    assert kills == KILLS
    (found,) = session.sessions(tmp_path)
    resources = open_resources(tmp_path)
    plan, limits = session.load_snapshot(found)
    context = resources.context(plan, limits, ("Rosa Quill",))
    state = session.replay(context, journal.read(found.journal))
    driver = Quiet()
    driver.meet(context)
    assert {a.step: driver.intended.differs(a) for a in state.answers.values() if driver.intended.differs(a)} == {}
    record = load_record(found.record)
    assert len(record.entries) == len(plan.steps)
    assert sum(gap.kind == "stopped" for gap in record.interruptions) == kills


def test_no_item_is_asked_twice_needlessly(tmp_path: Path) -> None:
    """A kill costs at most the answer that was not yet on the disk."""
    process = start(tmp_path)
    while progress(tmp_path) < 8000 and process.poll() is None:
        time.sleep(0.001)
    process.kill()
    process.wait()
    before = {line.n for line in journal.read(next(session.sessions(tmp_path)).journal).lines}
    assert start(tmp_path).wait() == 0
    (found,) = session.sessions(tmp_path)
    file = journal.read(found.journal)
    assert {line.n for line in file.lines} >= before
    resources = open_resources(tmp_path)
    plan, limits = session.load_snapshot(found)
    state = session.replay(resources.context(plan, limits, ("Rosa Quill",)), file)
    asked_again = [answer.step for answer in state.answers.values() if answer.corrected]
    assert asked_again == ["air-tanks"]  # where the script itself goes back


def test_two_processes_cannot_write_one_session(tmp_path: Path) -> None:
    process = start(tmp_path)
    while progress(tmp_path) < 2000 and process.poll() is None:
        time.sleep(0.001)
    try:
        found = next(session.sessions(tmp_path))
        with pytest.raises(JournalError, match="in use"):
            found.lock()
    finally:
        process.kill()
        process.wait()
