"""The journal: durable, checksumms every line, cut at any byte it resumes; damage in the middle is refused."""

from __future__ import annotations

import contextlib
import errno
import resource
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.attack.failing import FailingCalls
from voice.data import durable
from voice.errors import JournalError
from voice.journal import journal
from voice.journal import line as journal_line
from voice.journal.journal import DamageError, Journal
from voice.journal.line import Heading
from voice.understand.meaning import Ok
from voice.walk.event import Event, Heard, Silence, Started

HEADING = Heading("test-session", "gladhand test", datetime.now(UTC).astimezone(), "0" * 64, drivers=("Rosa Quill",))
EVENTS: list[Event] = [
    Started(0.0),
    Heard(1.5, Ok(), "okay – ça va", 0.93, 1.2),
    Silence(7.5),
    Heard(9.0, Ok(), "okay"),
]


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
    ends = [i for i, byte in enumerate(data) if byte == 0x0A]  # a line is whole without its line end too
    for cut in range(len(data) + 1):
        path.write_bytes(data[:cut])
        whole = sum(1 for end in ends if end <= cut)
        if whole == 0:
            with pytest.raises(JournalError, match="no complete line"):
                journal.read(path)
            continue
        file = journal.read(path)
        assert [line.event for line in file.lines] == EVENTS[: whole - 1]
        assert file.torn == max(0, cut - ends[whole - 1] - 1)
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
        DamageError, match=r"line 4 is damaged.*2 events before it are good, 2 or more from it on are lost"
    ) as e:
        journal.read(path)
    kept = journal.salvage(e.value)
    assert kept.read_bytes() == broken
    assert [line.event for line in journal.read(path).lines] == EVENTS[:2]


def test_a_later_version_is_refused(path: Path) -> None:
    written(path, '"version":2', '"version":3')
    with pytest.raises(JournalError, match="version 3"):
        journal.read(path)


def written(path: Path, old: str, new: str) -> None:
    """The journal with something else in it, and checksums that fit."""
    previous, lines = journal_line.START, []
    for line in path.read_bytes().splitlines():
        body = line.rpartition(b"\t")[0].replace(old.encode(), new.encode())
        previous = journal_line.chained(previous, body)
        lines.append(b"%s\t%s\n" % (body, previous.encode()))
    path.write_bytes(b"".join(lines))


def test_one_of_version_1_is_read_as_it_is(path: Path) -> None:
    written(path, '"version":2,"plan_sha256":null,"limits_sha256":null', '"version":1')
    file = journal.read(path)
    assert (file.heading.version, file.heading.plan_sha256) == (1, None)
    assert [line.event for line in file.lines] == EVENTS


@pytest.mark.parametrize("other", [b"\x0b", b"J", b"\x00"])
def test_a_last_line_whose_line_end_was_damaged_counts(path: Path, other: bytes) -> None:
    path.write_bytes(path.read_bytes()[:-1] + other)
    file = journal.read(path)
    assert [line.event for line in file.lines] == EVENTS
    assert file.torn == 0
    log = Journal.reopen(file)
    log.append(Silence(99.0), 1.0)
    log.close()
    assert [line.event for line in journal.read(path).lines] == [*EVENTS, Silence(99.0)]


@pytest.mark.parametrize("lines", [1, 2, 3])
def test_zeros_at_the_end_are_damage_and_no_torn_tail(path: Path, lines: int) -> None:
    data = path.read_bytes()
    kept = data.splitlines(keepends=True)[:-lines]
    path.write_bytes(b"".join(kept).ljust(len(data), b"\0"))
    with pytest.raises(DamageError) as damage:
        journal.read(path)
    assert damage.value.good == len(kept) - 1


@pytest.mark.parametrize("zeros", range(1, 60))
def test_zeros_within_the_last_line_are_damage_wherever_they_begin(path: Path, zeros: int) -> None:
    path.write_bytes(path.read_bytes()[:-zeros] + bytes(zeros))
    if zeros == 1:
        assert [line.event for line in journal.read(path).lines] == EVENTS  # only its line end was hit
        return
    with pytest.raises(DamageError):
        journal.read(path)


BAD = [
    ('"mono":1.0', '"mono":1' + "0" * 400),
    ('"mono":1.0', '"mono":1e999'),
    ('"mono":1.0', '"mono":NaN'),
    ('"mono":1.0', '"mono":true'),
    ('"mono":1.0', '"mono":1.0,"n":7'),
    ('"at":1.5', '"at":Infinity'),
    ('"at":7.5', '"at":0.5'),  # back in time
    ('"engine":"test"', '"engine":["test"]'),
    ('"engine":"test"', '"clip":"../../x"'),
    ("okay – ça va", "\\ud800"),
    ('{"kind":"ok"}', "[" * 50_000),
    ('{"kind":"ok"}', '{"kind":"number","value":{"value":"1e999999999","unit":"in"}}'),
    ('{"kind":"ok"}', '{"kind":"number","value":{"value":"1/0","unit":"in"}}'),
    ('"event":{', '"event":[],"x":{'),
]


@pytest.mark.parametrize(("old", "new"), BAD)
def test_a_line_of_another_form_is_damage_though_its_checksum_fits(path: Path, old: str, new: str) -> None:
    written(path, old, new)
    assert new.encode() in path.read_bytes()
    with pytest.raises(DamageError):
        journal.read(path)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"drivers":["Rosa Quill"]', '"drivers":"Rosa Quill"'),
        ('"driver":null', '"driver":17'),
        ('"length":"normal"', '"length":"long"'),
        ('"version":2', '"version":"2"'),
        ('"data_sha256":"', '"data_sha256":"x'),
        ('{"journal":', '{"j":'),
        ('{"journal":{', "[{"),
    ],
)
def test_a_heading_of_another_form_is_refused(path: Path, old: str, new: str) -> None:
    written(path, old, new)
    with pytest.raises(JournalError, match="first line is damaged"):
        journal.read(path)


def test_a_time_without_its_zone_is_damage(path: Path) -> None:
    zone = journal.read(path).lines[0].utc.isoformat()[-6:]
    written(path, f'{zone}","mono"', '","mono"')
    with pytest.raises(DamageError):
        journal.read(path)


def test_what_could_not_be_read_again_is_not_written(path: Path) -> None:
    log = Journal.reopen(journal.read(path))
    size = path.stat().st_size
    with pytest.raises(JournalError, match="not of the usual form"):
        log.append(Heard(10.0, Ok(), "half of a letter: \ud800"), 1.0)
    with pytest.raises(JournalError, match="not of the usual form"):
        log.append(Heard(10.0, Ok(), "x" * 1_000_000), 1.0)
    for at in (8.9, -1.0, 1e300):
        with pytest.raises(JournalError, match="its time is not after that of the last one"):
            log.append(Silence(at), 1.0)
    log.append(Silence(11.0), 1.0)
    assert path.stat().st_size > size
    assert journal.read(path).lines[-1].event == Silence(11.0)


def test_a_journal_that_was_deleted_takes_no_more_answers(path: Path) -> None:
    log = Journal.reopen(journal.read(path))
    path.unlink()
    with pytest.raises(JournalError, match="deleted or moved"):
        log.append(Silence(99.0), 1.0)


@pytest.mark.parametrize("step", range(1, 12))
def test_salvage_that_fails_at_any_step_leaves_a_journal(
    path: Path, step: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = path.read_bytes()
    broken = data.replace(b"7.5", b"7.6")
    path.write_bytes(broken)
    with pytest.raises(DamageError) as damage:
        journal.read(path)
    monkeypatch.setattr(durable, "calls", FailingCalls(step, errno.EIO))
    with contextlib.suppress(JournalError):
        journal.salvage(damage.value)
    assert path.read_bytes() in (broken, data[: damage.value.good_bytes])
    if path.read_bytes() != broken:
        assert [each.read_bytes() for each in path.parent.glob("*.damaged-*")] == [broken]


def test_a_full_disk_stores_nothing_by_halves(path: Path) -> None:
    """A process that may not write one more block: the line is refused whole, and everything before is kept."""
    size = path.stat().st_size
    code = f"""
import resource, signal, sys
from pathlib import Path
from tests.attack.failing import FailingCalls
from voice.data import durable
from voice.errors import JournalError
from voice.journal import journal, line
from voice.journal.journal import Journal
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
