"""The journal: durable, checksumms every line, cut at any byte it resumes; damage in the middle is refused."""

from __future__ import annotations

import resource
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from voice import journal
from voice.errors import JournalError
from voice.journal import DamageError, Heading, Journal
from voice.understand.meaning import Ok
from voice.walk.event import Heard, Silence, Started

HEADING = Heading("test-session", "gladhand test", datetime.now(UTC).astimezone(), "0" * 64, drivers=("Rosa Quill",))
EVENTS = [Started(0.0), Heard(1.5, Ok(), "okay – ça va", 0.93, 1.2), Silence(7.5), Heard(9.0, Ok(), "okay")]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "journal.jsonl"
    log = Journal.create(path, HEADING)
    for number, event in enumerate(EVENTS):
        log.append(event, float(number), {"engine": "test"} if isinstance(event, Heard) else None)
    log.close()
    return path


def test_what_was_written_is_read(path: Path) -> None:
    file = journal.read(path)
    assert [line.event for line in file.lines] == EVENTS
    assert file.heading == HEADING
    assert file.lines[1].hearing == {"engine": "test"}
    assert file.lines[1].utc.utcoffset() is not None
    assert file.torn == 0


def test_cut_at_every_byte_no_whole_line_is_lost_and_it_can_be_gone_on_with(path: Path) -> None:
    data = path.read_bytes()
    ends = [i + 1 for i, byte in enumerate(data) if byte == 0x0A]
    for cut in range(len(data) + 1):
        path.write_bytes(data[:cut])
        whole = sum(1 for end in ends if end <= cut)
        if whole == 0:
            with pytest.raises(JournalError, match="no complete line"):
                journal.read(path)
            continue
        file = journal.read(path)
        assert [line.event for line in file.lines] == EVENTS[: whole - 1]
        assert file.torn == cut - ends[whole - 1]
        log = Journal.reopen(file)
        log.append(Silence(99.0), 1.0)
        log.close()
        again = journal.read(path)
        assert [line.event for line in again.lines] == [*EVENTS[: whole - 1], Silence(99.0)]
        assert again.torn == 0


def test_any_changed_byte_in_the_middle_is_noticed(path: Path) -> None:
    data = path.read_bytes()
    last = data[:-1].rfind(b"\n")
    for at in range(0, last, 7):
        if data[at] == 0x0A:
            continue
        path.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
        with pytest.raises(JournalError):
            journal.read(path)


def test_a_lost_line_in_the_middle_is_noticed(path: Path) -> None:
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:2] + lines[3:]))
    with pytest.raises(DamageError) as damage:
        journal.read(path)
    assert (damage.value.good, damage.value.lost) == (1, 2)


def test_damage_says_what_is_lost_and_salvage_goes_on_before_it(path: Path) -> None:
    lines = path.read_bytes().splitlines(keepends=True)
    broken = b"".join([*lines[:3], lines[3].replace(b"7.5", b"7.6"), *lines[4:]])
    path.write_bytes(broken)
    with pytest.raises(
        DamageError, match=r"line 4 is damaged.*2 events before it are good, 2 from it on are lost"
    ) as e:
        journal.read(path)
    kept = journal.salvage(e.value)
    assert kept.read_bytes() == broken
    assert [line.event for line in journal.read(path).lines] == EVENTS[:2]


def test_a_later_version_is_refused(path: Path) -> None:
    text = path.read_bytes().splitlines(keepends=True)[0].decode().rpartition("\t")[0]
    body = text.replace('"version":1', '"version":2')
    path.write_text(f"{body}\t{journal._digest('0' * 16, body)}\n")
    with pytest.raises(JournalError, match="version 2"):
        journal.read(path)


def test_a_full_disk_stores_nothing_by_halves(path: Path) -> None:
    """A process that may not write one more block: the line is refused whole, and everything before is kept."""
    size = path.stat().st_size
    code = f"""
import resource, signal, sys
from pathlib import Path
from voice import journal
from voice.errors import JournalError
from voice.journal import Journal
from voice.walk.event import Silence
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
path = Path({str(path)!r})
log = Journal.reopen(journal.read(path))
resource.setrlimit(resource.RLIMIT_FSIZE, ({size + 40}, {size + 40}))
try:
    log.append(Silence(99.0), 1.0)
except JournalError as error:
    print(error)
    sys.exit(7)
"""
    assert resource  # POSIX only; the test is skipped with its import elsewhere
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 7, done.stderr
    assert "could not be stored" in done.stdout
    assert path.stat().st_size == size
    assert [line.event for line in journal.read(path).lines] == EVENTS


def test_a_journal_is_not_begun_twice(path: Path) -> None:
    with pytest.raises(JournalError, match="cannot be created"):
        Journal.create(path, HEADING)
