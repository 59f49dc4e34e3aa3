"""The session's journal: one checksummed line an event, on disk before it is acknowledged aloud.

A line is JSON, a tab, and the first 16 hex digits of the SHA-256 of the previous line's digest and the JSON, so that
a line cannot be changed, lost or moved in the middle without being noticed. The first line is the heading, with the
hashes of the plan and the limits beside the journal.

What is left of a last line when the program is killed while writing it, the beginning of a line and nothing else, is a
torn tail: it is cut off and reported. A last line that is whole but for its line end counts. Anything else that does
not fit is damage: reading refuses to go on and says what is lost.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from voice.data import durable
from voice.errors import JournalError
from voice.journal.line import FIRST, START, Chain, First, Heading, HearingNote, Line, encode, follows
from voice.walk.event import EVENT, Event


@dataclass(frozen=True, slots=True)
class JournalFile:
    """A journal as read.

    sha256, size: of its good bytes.
    digest: of the last good line.
    torn: bytes of an unfinished last line, not part of it.
    ended: whether the last good line has its line end.
    """

    path: Path
    heading: Heading
    lines: tuple[Line, ...]
    sha256: str
    size: int
    digest: str
    torn: int = 0
    ended: bool = True

    @property
    def last_at(self) -> float:
        """Session seconds of the last event; 0 for a new journal."""
        return self.lines[-1].event.at if self.lines else 0.0


class DamageError(JournalError):
    """A line is broken.

    number: of the line, from 1.
    good: how many events before it are good.
    good_bytes: length of the good part.
    lost: how many lines, at least, from it on are not good.
    """

    def __init__(self, path: Path, number: int, why: str, lost: int, reading: Chain) -> None:
        self.path, self.number, self.lost = path, number, lost
        self.good, self.good_bytes = len(reading.lines), reading.size
        super().__init__(
            f"{path}: line {number} is damaged ({why}); {self.good} events before it are good, {lost} or more from it "
            "on are lost.",
            f"Run 'gladhand resume {path.parent.name} --salvage' to go on from the last good event in a new file; "
            "this one is kept.",
        )


# --- reading -----------------------------------------------------------------------------------------------------


def read(path: Path) -> JournalFile:
    """Read and check a journal. Raises DamageError for a broken line, JournalError for anything else."""
    return _read(path, _bytes(path))


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise JournalError(
            f"{path} cannot be read: {durable.why(error)}.", "Restore the file from a copy, or start a new inspection."
        ) from error


def _read(path: Path, data: bytes) -> JournalFile:
    *ended, tail = data.split(b"\n")
    reading = Chain(path)
    number, torn, unended = 0, 0, False
    try:
        for line in ended:
            number += 1
            reading.take(line)
            reading.size += 1
        if tail and reading.is_torn(tail):
            torn = len(tail)
        elif tail:
            number, unended = number + 1, True
            reading.take_unended(tail)
    except ValueError as error:
        if reading.heading is None:
            raise JournalError(
                f"{path}: the first line is damaged, so nothing after it can be trusted.",
                "Keep the file and start a new inspection.",
            ) from error
        lost = len(ended) + bool(tail) - number + 1
        raise DamageError(path, number, str(error), lost, reading) from error
    if reading.heading is None:
        raise JournalError(
            f"{path} has no complete line: the session died before its first event.", "Start a new inspection."
        )
    return JournalFile(
        path,
        reading.heading,
        tuple(reading.lines),
        hashlib.sha256(data[: reading.size]).hexdigest(),
        reading.size,
        reading.digest,
        torn,
        not unended,
    )


def read_heading(path: Path) -> Heading:
    """The heading alone, whatever became of the lines after it. Raises JournalError."""
    return _read(path, _bytes(path).partition(b"\n")[0] + b"\n").heading


def salvage(damage: DamageError) -> Path:
    """Put the good part of a damaged journal in its place; the damaged one is kept beside it. Raises JournalError.

    Killed at any moment, the journal is there: damaged or mended.
    """
    kept = damage.path.with_suffix(f".damaged-{datetime.now(UTC):%Y%m%dT%H%M%S%f}.jsonl")
    try:
        good = damage.path.read_bytes()[: damage.good_bytes]
        durable.keep_copy(damage.path, kept)
        durable.replace(damage.path, good)
    except OSError as error:
        raise JournalError(*durable.trouble(f"{damage.path} cannot be mended", error)) from error
    return kept


def gone(path: Path) -> JournalError:
    """The error for a session of which something was taken away while it ran."""
    return JournalError(
        f"{path} was deleted or moved during the inspection: its answers are no longer there.",
        "Put its folder back if it can still be found; else begin a new inspection.",
    )


# --- writing -----------------------------------------------------------------------------------------------------


class Journal:
    """The open journal of a running session: the only writer."""

    def __init__(self, path: Path, handle: int, previous: str, count: int, at: float = 0.0) -> None:
        self.path = path
        self._handle = handle
        self._previous = previous
        self.count = count
        self._at = at

    @classmethod
    def create(cls, path: Path, heading: Heading) -> Journal:
        """Begin a new journal. Raises JournalError if it exists or cannot be written."""
        try:
            handle = durable.begin(path)
        except OSError as error:
            raise JournalError(*durable.trouble(f"{path} cannot be created", error)) from error
        journal = cls(path, handle, START, 0)
        try:
            journal._write(FIRST.dump_python(First(heading), mode="json"))
        except JournalError:
            journal.close()
            raise
        return journal

    @classmethod
    def reopen(cls, file: JournalFile) -> Journal:
        """Go on with a journal that was read: cuts a torn tail off, and ends an unended last line."""
        handle = -1
        try:
            handle = durable.go_on(file.path, file.size)
            if not file.ended:
                durable.add(handle, b"\n")
        except OSError as error:
            if handle >= 0:
                os.close(handle)
            raise JournalError(*durable.trouble(f"{file.path} cannot be written", error)) from error
        return cls(file.path, handle, file.digest, len(file.lines), file.last_at)

    def append(self, event: Event, mono: float, hearing: HearingNote | None = None) -> None:
        """Write one event and wait until it is on the disk. Raises JournalError; then nothing was added."""
        if not follows(event.at, self._at):
            raise JournalError(
                "The answer could not be stored: its time is not after that of the last one.",
                "Run 'gladhand resume' and say it again.",
            )
        content: dict[str, Any] = {
            "utc": datetime.now(UTC).astimezone().isoformat(),
            "mono": round(mono, 6),
            "event": EVENT.dump_python(event, mode="json"),
        }
        if hearing:
            content["hearing"] = hearing
        self._write(content)
        self._at = event.at
        self.check_there()
        self.count += 1

    def check_there(self) -> None:
        """Raises JournalError if the file was deleted or moved: what is written then is found by nobody."""
        try:
            there = os.path.samestat(os.fstat(self._handle), self.path.stat())
        except OSError:
            there = False
        if not there:
            raise gone(self.path)

    def _write(self, content: dict[str, Any]) -> None:
        try:
            data, digest = encode(self._previous, content)
        except ValueError as error:
            raise JournalError(
                "The answer could not be stored: it is not of the usual form.",
                "Run 'gladhand resume' and say it again.",
            ) from error
        try:
            durable.add(self._handle, data)
        except OSError as error:
            raise JournalError(
                f"The answer could not be stored: {durable.why(error)}.",
                "Free some space, then run 'gladhand resume'. Everything acknowledged before is kept.",
            ) from error
        self._previous = digest

    def close(self) -> None:
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1


__all__ = [
    "DamageError", "Heading", "HearingNote", "Journal", "JournalFile", "Line", "gone", "read", "read_heading",
    "salvage",
]  # fmt: skip
