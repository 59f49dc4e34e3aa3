"""SIGKILL: of a process that walks, at random moments, and of a salvage before each of its steps."""

from __future__ import annotations

import os
import random
import shutil
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from tests.attack.failing import KillingCalls
from tests.attack.forked import Forked
from tests.attack.run import Case
from tests.walk import killed_walk
from voice.data import durable
from voice.errors import JournalError
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.journal import DamageError, Journal, JournalFile
from voice.journal.line import Heading
from voice.walk.event import Event, Silence, Started

ABOUT = "killed at any moment, all that was acknowledged is there, and it goes on"
SHARE = 8

_WALKS = 4  # one case in so many is a walk: it takes seconds, a salvage milliseconds
_BYTES = 90_000  # of a walk's journal, about


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    if os.name != "posix":
        raise AssertionError("SIGKILL is POSIX")
    killed_walk.main(folder / "first", 0.0)  # once here, so that what is read only once is there before a copy is made

    def case(number: int, rng: random.Random) -> str | None:
        home = folder / str(number)
        home.mkdir()
        try:
            return _walk(home, rng) if number % _WALKS == 0 else _salvage(home, rng)
        finally:
            shutil.rmtree(home)

    yield case


# --- a walk ------------------------------------------------------------------------------------------------------


def _walk(home: Path, rng: random.Random) -> str | None:
    """Killed one to three times; each time all that was acknowledged, and was there before, is there."""
    before: list[Event] = []
    for kill in range(rng.randint(1, 3)):
        if fault := _kill_at(home, _size(home) + rng.randrange(200, _BYTES // 3)):
            return f"kill {kill}: {fault}"
        if not _size(home):
            continue
        try:
            events = [line.event for line in _read(home).lines]
        except JournalError as error:
            if (home / "acknowledged").exists() and (home / "acknowledged").read_bytes():
                return f"kill {kill}: {error}"
            continue
        if events[: len(before)] != before:
            return f"kill {kill}: what was there before is there no longer"
        if len(events) < _acknowledged(home):
            return f"kill {kill}: {len(events)} events, {_acknowledged(home)} were acknowledged"
        before = events
    return None


def _kill_at(home: Path, size: int) -> str | None:
    process = Forked(lambda: killed_walk.main(home, 0.0), home / "errors")
    while process.poll() is None and _size(home) < size:
        time.sleep(0.001)
    process.kill()
    code = process.wait()
    return None if code in (0, -signal.SIGKILL) else f"exit {code}: {(home / 'errors').read_text()[-500:]}"


def _journal(home: Path) -> Path | None:
    found = next(session.sessions(home), None)
    return found.journal if found is not None and found.journal.exists() else None


def _size(home: Path) -> int:
    path = _journal(home)
    return path.stat().st_size if path is not None else 0


def _read(home: Path) -> JournalFile:
    path = _journal(home)
    assert path is not None
    return journal.read(path)


def _acknowledged(home: Path) -> int:
    """Events in the journal when the last tone was heard; the kill may have torn the note of it."""
    path = home / "acknowledged"
    notes = path.read_bytes().split(b"\n")[:-1] if path.exists() else []
    return int(notes[-1]) if notes else 0


# --- a salvage ---------------------------------------------------------------------------------------------------


def _salvage(home: Path, rng: random.Random) -> str | None:
    path = home / "journal.jsonl"
    events, broken = _damaged(path, rng)
    try:
        journal.read(path)
    except DamageError as error:
        damage = error
    step = rng.randrange(1, 14)

    def in_child() -> None:
        durable.calls = KillingCalls(step)
        journal.salvage(damage)

    code = Forked(in_child, home / "errors").wait()
    if code not in (0, -signal.SIGKILL):
        return f"step {step}: exit {code}: {(home / 'errors').read_text()[-500:]}"
    if not path.exists():
        return f"step {step}: there is no journal"
    kept = [each.read_bytes() for each in home.glob("*.damaged-*.jsonl")]
    if path.read_bytes() == broken:
        journal.salvage(damage)
    elif broken not in kept:
        return f"step {step}: the damaged journal was not kept"
    read = [line.event for line in journal.read(path).lines]
    return None if read == events[: damage.good] else f"step {step}: {len(read)} events of {damage.good}"


def _damaged(path: Path, rng: random.Random) -> tuple[list[Event], bytes]:
    events: list[Event] = [Started(0.0), *(replace(Silence(0.0), at=float(n)) for n in range(1, 9))]
    log = Journal.create(path, Heading("s", "gladhand", datetime.now(UTC).astimezone(), "0" * 64))
    for event in events:
        log.append(event, event.at)
    log.close()
    lines = path.read_bytes().splitlines(keepends=True)
    at = rng.randrange(1, len(lines))
    lines[at] = lines[at].replace(b'"kind"', b'"kinb"')
    path.write_bytes(b"".join(lines))
    return events, path.read_bytes()
