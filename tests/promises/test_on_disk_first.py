"""What is acknowledged is on the disk before: journal, recordings, the session's plan and limits, record, repairs.

Every case asks what a power cut would leave at that very moment (tests/promises/disk.py).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from tests.promises.disk import Disk, watched
from tests.record.walks import walk
from tests.walk.talkative import context
from voice.errors import JournalError
from voice.hear.port import Hearing, Speaking
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.clips import Clips
from voice.journal.folder import Session
from voice.journal.journal import Journal
from voice.journal.line import Heading
from voice.record.device import load_key
from voice.record.files import write_record
from voice.record.model import Certification
from voice.record.repairs import Repair, certify, read_repairs
from voice.rehearse.progress.record import SessionRecord
from voice.rehearse.progress.students import Students
from voice.session.loop import Devices, Loop
from voice.sound.port import RATE
from voice.sound.recording import AudioClock
from voice.understand.meaning import Meaning, Words
from voice.understand.question import Question
from voice.walk.event import CueName, Event, Heard, Silence, Started
from voice.walk.machine import begin

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="needs Linux's /proc")

HEADING = Heading("test-session", "gladhand test", datetime.now(UTC).astimezone(), "0" * 64)
FEW = ("wipers", "glad-hands")


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    with watched(tmp_path) as found:
        yield found


class Witness:
    """Ear and speaker in one: looks at the disk each time something is heard of the assistant, or asked.

    seen: what was sounded or asked, with the number of events that a power cut would have left.
    """

    name = model = "witness"

    def __init__(self, disk: Disk, found: Session, clock: AudioClock) -> None:
        self.disk, self.found, self.clock = disk, found, clock
        self.seen: list[tuple[str, int]] = []
        self.turns: list[Event] = []
        self._after = found.path.parent.parent.parent / "after"

    def turned(self, state: object, event: Event) -> None:
        self.turns.append(event)
        self.look("turned")

    def said(self, text: str) -> None:
        self.look("said")

    def asked(self, state: object, question: Question) -> None:
        self.look("asked")

    def look(self, what: str) -> None:
        """The journal that would be left has every event so far, and every recording that it names."""
        left = self.disk.left(self.found.journal)
        assert left is not None, f"{what}: the journal would be gone"
        self._after.write_bytes(left)
        lines = journal.read(self._after).lines
        assert [line.event for line in lines] == self.turns, f"{what}: not every event would be left"
        for line in lines:
            if (clip := line.hearing.get("clip")) is not None:
                data = self.disk.left(self.found.path / clip)
                assert data is not None, f"{what}: {clip} would be gone"
                assert hashlib.sha256(data).hexdigest() == line.hearing["clip_sha256"]
        self.seen.append((what, len(lines)))

    def say(self, text: str) -> None:
        self.look("say")

    def cue(self, name: CueName) -> None:
        self.look(name)

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        meaning = usual(question)
        self.clock.advance(RATE)
        words = meaning.text if isinstance(meaning, Words) else meaning.kind
        return Hearing(
            "heard", meaning, words, 1.0, started=self.clock.now(), audio=np.full(800, 0.01, np.float32)
        )  # fmt: skip

    def close(self) -> None:
        """Nothing is held."""


def usual(question: Question) -> Meaning:
    if question.free:
        return Words("signed Rosa Quill")
    return next(m for kind in ("ok", "yes", "done") for m in question.meanings.values() if m.kind == kind)


def test_nothing_is_acknowledged_before_it_would_survive_a_power_cut(tmp_path: Path, disk: Disk) -> None:
    """Each tone, each sentence and each question comes after its event, and the event's recording, are durable."""
    known = context(only=FEW)
    found, lock, log = session.create(tmp_path / "home", known.plan, known.limits, session.Beginning())
    clock = AudioClock()
    witness = Witness(disk, found, clock)
    with lock:
        Loop(
            known,
            begin("normal"),
            Devices(witness, witness, clock, recover=lambda: None),
            journal=log,
            clips=Clips(found.clips),
            watchers=(witness,),
        ).run(Started(0.0))
    assert [count for what, count in witness.seen if what == "understood"] == [1, 2, 3, 4, 5]
    assert sum(isinstance(event, Heard) for event in witness.turns) == 4


def test_a_session_is_durable_once_it_is_begun(tmp_path: Path, disk: Disk) -> None:
    """Plan, limits and journal, and the folders in which they stand."""
    known = context(only=FEW)
    _found, lock, log = session.create(
        tmp_path / "home", known.plan, known.limits, session.Beginning(driver="Rosa Quill")
    )
    with lock:
        log.close()
    (left,) = session.sessions(_home(disk, tmp_path))
    assert session.load_snapshot(left) == (known.plan, known.limits)
    assert journal.read(left.journal).heading.driver == "Rosa Quill"
    assert disk.unready == []


def _home(disk: Disk, folder: Path) -> Path:
    """The home folder as a power cut would leave it."""
    return disk.restore(folder / "after") / "home"


def test_a_journal_is_durable_with_its_name_once_it_is_created(tmp_path: Path, disk: Disk) -> None:
    Journal.create(tmp_path / "journal.jsonl", HEADING).close()
    assert disk.left(tmp_path / "journal.jsonl") == (tmp_path / "journal.jsonl").read_bytes()


def test_every_appended_event_is_durable(tmp_path: Path, disk: Disk) -> None:
    path = tmp_path / "journal.jsonl"
    log = Journal.create(path, HEADING)
    for number in range(3):
        log.append(Silence(float(number)), 0.0)
        assert disk.left(path) == path.read_bytes()
    log.close()


def test_a_torn_tail_is_durably_cut_off(tmp_path: Path) -> None:
    path = tmp_path / "journal.jsonl"
    log = Journal.create(path, HEADING)
    whole = path.read_bytes()
    log.append(Silence(1.0), 0.0)
    log.close()
    path.write_bytes(path.read_bytes()[:-40])
    with watched(tmp_path) as disk:
        Journal.reopen(journal.read(path)).close()
        assert disk.left(path) == whole


def test_a_salvaged_journal_and_the_damaged_one_are_both_durable(tmp_path: Path) -> None:
    path = tmp_path / "journal.jsonl"
    log = Journal.create(path, HEADING)
    for number in range(3):
        log.append(Silence(float(number)), 0.0)
    log.close()
    lines = path.read_bytes().splitlines(keepends=True)
    broken = b"".join([*lines[:2], lines[2].replace(b"1.0", b"1.5"), lines[3]])
    path.write_bytes(broken)
    with pytest.raises(journal.DamageError) as damage:
        journal.read(path)
    with watched(tmp_path) as disk:
        kept = journal.salvage(damage.value)
        assert disk.left(path) == b"".join(lines[:2])
        assert disk.left(kept) == broken
        assert disk.unready == []


def test_a_line_that_could_not_be_synced_is_taken_off_and_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not durable means not in the journal: else the next run would count what was never acknowledged."""
    path = tmp_path / "journal.jsonl"
    log = Journal.create(path, HEADING)
    log.append(Silence(1.0), 0.0)
    before = path.read_bytes()

    def fails(handle: int) -> None:
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", fails)
        with pytest.raises(JournalError, match="stored"):
            log.append(Silence(2.0), 0.0)
    assert path.read_bytes() == before
    log.append(Silence(3.0), 0.0)
    log.close()
    assert [line.event for line in journal.read(path).lines] == [Silence(1.0), Silence(3.0)]


def test_a_recording_is_durable_when_it_is_named(tmp_path: Path) -> None:
    (tmp_path / "clips").mkdir()
    clips = Clips(tmp_path / "clips")
    with watched(tmp_path) as disk:
        for number in range(2):
            named = clips.keep(number, np.full(1600, 0.1, np.float32))
            left = disk.left(tmp_path / named["clip"])
            assert left is not None
            assert hashlib.sha256(left).hexdigest() == named["clip_sha256"]


def test_record_report_and_key_are_durable_and_never_half(tmp_path: Path) -> None:
    found, known = walk(tmp_path / "home", only=FEW)
    file = journal.read(found.journal)
    with watched(tmp_path) as disk:
        write_record(found, known.plan, file, session.replay(known, file), known.limits, known.defects)
        assert disk.left(found.record) == found.record.read_bytes()
        assert disk.left(found.report) == found.report.read_bytes()
        assert disk.unready == []
        key = load_key(tmp_path / "home")
        assert key is not None
        assert disk.left(tmp_path / "home/device.key") == (tmp_path / "home/device.key").read_bytes()
        assert disk.left(tmp_path / "home/device.pub") == (tmp_path / "home/device.pub").read_bytes()
        # Whoever meets a record can find the key it was signed with.
        made = [line.rpartition("/")[2] for line in disk.log if line.startswith("rename")]
        assert [name for name in made if name != "report.html"] == ["device.pub", "device.key", "record.json"]


def test_a_record_is_replaced_durably_file_first_and_folder_last(tmp_path: Path) -> None:
    found, known = walk(tmp_path / "home", only=FEW)
    file = journal.read(found.journal)
    state = session.replay(known, file)
    write_record(found, known.plan, file, state, known.limits, known.defects)
    with watched(found.path) as disk:
        write_record(found, known.plan, file, state, known.limits, known.defects)
        steps = [line for line in disk.log if "record" in line or "folder" in line][:3]
        assert steps[0].startswith("sync record.json")
        assert steps[1].endswith("to record.json")
        assert steps[2] == "sync folder ."


def test_a_certification_is_durable_from_the_first_on(tmp_path: Path, disk: Disk) -> None:
    home = tmp_path / "home"
    for number in range(2):
        at = datetime(2026, 3, 2, 8 + number, tzinfo=UTC)
        given = Certification(key="horn#not-working", verdict="repaired", name="Bo Lind", at=at)
        certify(home, Repair("truck-7", "r1", given))
        assert disk.left(home / "repairs.jsonl") == (home / "repairs.jsonl").read_bytes()
    assert len(read_repairs(_home(disk, tmp_path))) == 2


def test_a_rehearsal_is_durable_when_it_is_kept(tmp_path: Path, disk: Disk) -> None:
    students = Students(tmp_path / "home")
    student = students.enroll("Invented One")
    at = datetime(2026, 3, 2, 8, tzinfo=UTC)
    kept = SessionRecord(
        id="one", started=at, form="test", route="r", vehicle="v", points=1, of=2, seconds=30, parts=(), utterances=()
    )
    students.keep(student, kept)
    after = Students(_home(disk, tmp_path))
    (found,) = after.all()
    assert found.name == "Invented One"
    assert after.sessions(found) == [kept]


def test_a_journal_tells_when_its_last_event_was(tmp_path: Path) -> None:
    """From there a resumed session's clock goes on."""
    log = Journal.create(tmp_path / "journal.jsonl", HEADING)
    assert journal.read(tmp_path / "journal.jsonl").last_at == 0.0
    log.append(Silence(12.5), 0.0)
    log.close()
    assert journal.read(tmp_path / "journal.jsonl").last_at == 12.5
