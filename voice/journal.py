"""The session's journal: one checksummed line an event, on disk before it is acknowledged aloud.

A line is JSON, a tab, and the first 16 hex digits of the SHA-256 of the previous line's digest and the JSON, so that
a line cannot be changed, lost or moved in the middle without being noticed. The first line is the header. A line
without its end (the program was killed while writing) is a torn tail: it is cut off and reported. Anything else that
does not fit is damage: reading refuses to go on and says what is lost.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from voice.errors import JournalError
from voice.walk.event import EVENT, Event, stored

VERSION = 1
_DIGITS = 16
_BINARY = getattr(os, "O_BINARY", 0)  # Windows would turn line ends into two bytes
_START = "0" * _DIGITS


@dataclass(frozen=True, slots=True)
class Heading:
    """What the journal is of. session: its id. utc: when it began, with the local offset."""

    session: str
    program: str
    utc: datetime
    data_sha256: str
    driver: str | None = None
    odometer: str | None = None
    drivers: tuple[str, ...] = ()
    length: str = "normal"
    version: int = VERSION


@dataclass(frozen=True, slots=True)
class Line:
    """One event. n: its number from 0. utc: wall time with local offset. mono: the computer's monotonic seconds.

    hearing: how it was heard (engine, model, words, confidence, noise_db, snr_db, clip, clip_sha256), or empty.
    """

    n: int
    utc: datetime
    mono: float
    event: Event
    hearing: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class JournalFile:
    """A journal as read. sha256: of its good bytes. torn: bytes of an unfinished last line, not part of it."""

    path: Path
    heading: Heading
    lines: tuple[Line, ...]
    sha256: str
    size: int
    torn: int = 0

    @property
    def last_at(self) -> float:
        """Session seconds of the last event; 0 for a new journal."""
        return self.lines[-1].event.at if self.lines else 0.0


class DamageError(JournalError):
    """A line in the middle is broken. good: the events before it; lost: how many lines follow the last good one."""

    def __init__(self, path: Path, number: int, why: str, good: int, lost: int, good_bytes: int) -> None:
        self.path, self.number, self.good, self.lost, self.good_bytes = path, number, good, lost, good_bytes
        super().__init__(
            f"{path}: line {number} is damaged ({why}); {good} events before it are good, {lost} from it on are lost.",
            f"Run 'gladhand resume {path.parent.name} --salvage' to go on from the last good event in a new file; "
            "this one is kept.",
        )


def _digest(previous: str, body: str) -> str:
    return hashlib.sha256(f"{previous}{body}".encode()).hexdigest()[:_DIGITS]


def _encode(previous: str, content: dict[str, Any]) -> tuple[bytes, str]:
    body = json.dumps(content, ensure_ascii=False, separators=(",", ":"))
    digest = _digest(previous, body)
    return f"{body}\t{digest}\n".encode(), digest


def _now() -> datetime:
    return datetime.now(UTC).astimezone()


def _line(number: int, content: dict[str, Any]) -> Line:
    return Line(
        number,
        datetime.fromisoformat(content["utc"]),
        float(content["mono"]),
        stored(content["event"]),
        content.get("hearing", {}),
    )


def read(path: Path) -> JournalFile:
    """Read and check a journal. Raises DamageError for a broken line in the middle, JournalError for anything else."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise JournalError(f"{path} cannot be read: {error.strerror}.", "Check path and permissions.") from error
    end = data.rfind(b"\n") + 1
    if end == 0:
        raise JournalError(
            f"{path} has no complete line: the session died before its first event.", "Start a new inspection."
        )
    raw = data[:end].split(b"\n")[:-1]
    previous = _START
    heading: Heading | None = None
    lines: list[Line] = []
    good = 0
    for index, part in enumerate(raw):
        try:
            body, _, digest = part.decode().rpartition("\t")
            if _digest(previous, body) != digest:
                raise ValueError("its checksum does not fit")
            content = json.loads(body)
            if heading is None:
                heading = _heading(path, content)
            else:
                lines.append(_line(index - 1, content))
        except (ValueError, KeyError, TypeError) as error:
            why = str(error).splitlines()[0] if isinstance(error, ValueError) else "it has not the expected form"
            if heading is None:
                raise JournalError(
                    f"{path}: the first line is damaged, so nothing after it can be trusted.",
                    "Keep the file and start a new inspection.",
                ) from error
            raise DamageError(path, index + 1, why, len(lines), len(raw) - index, good) from error
        previous = digest
        good += len(part) + 1
    if heading is None:  # pragma: no cover - raw has at least one line
        raise JournalError(f"{path} is empty.")
    return JournalFile(path, heading, tuple(lines), hashlib.sha256(data[:end]).hexdigest(), end, len(data) - end)


def _heading(path: Path, content: dict[str, Any]) -> Heading:
    fields = dict(content["journal"])
    version = fields.get("version")
    if version != VERSION:
        raise JournalError(
            f"{path} was written in journal version {version}; this program reads version {VERSION}.",
            "Update the program.",
        )
    return Heading(
        **{
            **fields,
            "utc": datetime.fromisoformat(fields["utc"]),
            "drivers": tuple(fields.get("drivers", ())),
        }
    )


def salvage(damage: DamageError) -> Path:
    """Copy the good part of a damaged journal into a new file in its place; the damaged one is kept beside it."""
    kept = damage.path.with_suffix(f".damaged-{datetime.now(UTC):%Y%m%dT%H%M%S%f}.jsonl")
    good = damage.path.read_bytes()[: damage.good_bytes]
    fresh = damage.path.with_suffix(".new")
    with fresh.open("wb") as file:
        file.write(good)
        file.flush()
        os.fsync(file.fileno())
    damage.path.rename(kept)
    fresh.rename(damage.path)
    _sync_dir(damage.path.parent)
    return kept


class Journal:
    """The open journal of a running session: the only writer."""

    def __init__(self, path: Path, handle: int, previous: str, count: int) -> None:
        self.path = path
        self._handle = handle
        self._previous = previous
        self.count = count

    @classmethod
    def create(cls, path: Path, heading: Heading) -> Journal:
        """Begin a new journal. Raises JournalError if it exists or cannot be written."""
        try:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | _BINARY, 0o600)
        except OSError as error:
            raise JournalError(f"{path} cannot be created: {error.strerror}.", "Check free space.") from error
        journal = cls(path, handle, _START, 0)
        fields = {
            "session": heading.session,
            "program": heading.program,
            "utc": heading.utc.isoformat(),
            "data_sha256": heading.data_sha256,
            "driver": heading.driver,
            "odometer": heading.odometer,
            "drivers": list(heading.drivers),
            "length": heading.length,
            "version": heading.version,
        }
        journal._write({"journal": fields})
        _sync_dir(path.parent)
        return journal

    @classmethod
    def reopen(cls, file: JournalFile) -> Journal:
        """Go on with a journal that was read; cuts a torn tail off first."""
        try:
            handle = os.open(file.path, os.O_WRONLY | os.O_APPEND | _BINARY)
            if file.torn:
                os.ftruncate(handle, file.size)
                os.fsync(handle)
        except OSError as error:
            raise JournalError(f"{file.path} cannot be written: {error.strerror}.", "Check its rights.") from error
        with file.path.open("rb") as source:
            previous = source.read(file.size)[:-1].rpartition(b"\t")[2].decode()
        return cls(file.path, handle, previous, len(file.lines))

    def append(self, event: Event, mono: float, hearing: dict[str, Any] | None = None) -> None:
        """Write one event and wait until it is on the disk. Raises JournalError; then nothing was added."""
        content: dict[str, Any] = {
            "utc": _now().isoformat(),
            "mono": round(mono, 6),
            "event": EVENT.dump_python(event, mode="json"),
        }
        if hearing:
            content["hearing"] = hearing
        self._write(content)
        self.count += 1

    def _write(self, content: dict[str, Any]) -> None:
        data, digest = _encode(self._previous, content)
        before = os.fstat(self._handle).st_size
        try:
            written = 0
            while written < len(data):
                written += os.write(self._handle, data[written:])
            os.fsync(self._handle)
        except OSError as error:
            # A part of the line may be on the disk: take it off again, so that the file ends on a whole line.
            os.ftruncate(self._handle, before)
            full = error.errno in (errno.ENOSPC, errno.EDQUOT)
            raise JournalError(
                f"The answer could not be stored: {'the disk is full' if full else error.strerror}.",
                "Free some space, then run 'gladhand resume'. Everything acknowledged before is kept.",
            ) from error
        self._previous = digest

    def close(self) -> None:
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1


def _sync_dir(path: Path) -> None:
    """Make a new or renamed file's name durable too (a directory can be synced on POSIX only)."""
    if os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
