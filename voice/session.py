"""A session's folder: plan, limits, journal, clips. One writer at a time; resumed by replay through the walk."""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout
from pydantic import ValidationError

from voice import __version__, journal
from voice.errors import JournalError, SetupError
from voice.journal import Heading, Journal, JournalFile
from voice.judge import LimitSet
from voice.route.model import Length, Plan
from voice.walk.context import Context
from voice.walk.machine import begin, step
from voice.walk.state import Stage, State
from voice.walk.turn import IllegalEvent

PROGRAM = f"gladhand {__version__}"


def sessions_dir(home: Path) -> Path:
    return home / "sessions"


@dataclass(frozen=True, slots=True)
class Session:
    """A session on disk. The plan and the limits are those it was begun with, whatever the shipped data say now."""

    path: Path

    @property
    def id(self) -> str:
        return self.path.name

    @property
    def journal(self) -> Path:
        return self.path / "journal.jsonl"

    @property
    def clips(self) -> Path:
        return self.path / "clips"

    @property
    def record(self) -> Path:
        return self.path / "record.json"

    @property
    def report(self) -> Path:
        return self.path / "report.html"

    def plan(self) -> Plan:
        return Plan.model_validate_json(_read(self.path / "plan.json"))

    def limits(self) -> LimitSet:
        return LimitSet.model_validate_json(_read(self.path / "limits.json"))

    @property
    def signed(self) -> bool:
        return self.record.exists()

    def lock(self) -> FileLock:
        """The single-writer lock, taken. Raises JournalError if another process writes this session, SetupError if
        the folder cannot be written."""
        lock = FileLock(self.path / "lock")
        try:
            lock.acquire(timeout=0)
        except Timeout as error:
            raise JournalError(
                f"Session {self.id} is in use by another gladhand.", "Finish or stop it there first."
            ) from error
        except OSError as error:
            raise SetupError(
                f"{self.path} cannot be written: {error.strerror}.", "Check its rights, or copy it to another --home."
            ) from error
        return lock


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise JournalError(f"{path} cannot be read: {error.strerror}.", "Start a new inspection.") from error


def _write(path: Path, text: str) -> None:
    """Whole or not at all, and durable."""
    fresh = path.with_name(path.name + ".new")
    with fresh.open("w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    fresh.replace(path)


def create(
    home: Path,
    plan: Plan,
    limits: LimitSet,
    *,
    driver: str | None,
    drivers: tuple[str, ...],
    odometer: str | None,
    length: str,
) -> tuple[Session, FileLock, Journal]:
    """A new session, locked and with its journal begun."""
    now = datetime.now(UTC).astimezone()
    name = f"{now:%Y%m%d-%H%M%S}-{plan.vehicle.id}-{secrets.token_hex(2)}"
    session = Session(sessions_dir(home) / name)
    try:
        session.clips.mkdir(parents=True)
        _write(session.path / "plan.json", plan.model_dump_json(indent=1))
        _write(session.path / "limits.json", limits.model_dump_json(indent=1))
    except OSError as error:
        raise SetupError(
            f"{session.path} cannot be made: {error.strerror}.", "Check free space and rights, or give another --home."
        ) from error
    lock = session.lock()
    heading = Heading(
        session=name,
        program=PROGRAM,
        utc=now,
        data_sha256=plan.data_sha256,
        driver=driver,
        odometer=odometer,
        drivers=drivers,
        length=length,
    )
    return session, lock, Journal.create(session.journal, heading)


def sessions(home: Path) -> Iterator[Session]:
    """All sessions, newest first."""
    folder = sessions_dir(home)
    if folder.is_dir():
        for path in sorted(folder.iterdir(), key=lambda p: p.name, reverse=True):
            if path.is_dir() and (path / "plan.json").exists():
                yield Session(path)


def find(home: Path, name: str) -> Session:
    """The session of that id or of a path to its folder. Raises SetupError."""
    for candidate in (Path(name), sessions_dir(home) / name):
        if (candidate / "plan.json").exists():
            return Session(candidate.resolve())
    raise SetupError(f"There is no session {name}.", "See 'gladhand sessions' for those there are.")


def open_sessions(home: Path) -> Iterator[Session]:
    """Begun, not signed, and worth resuming: the journal has at least one event."""
    for session in sessions(home):
        if session.signed:
            continue
        try:
            file = journal.read(session.journal)
        except journal.DamageError:
            yield session
            continue
        except JournalError:
            continue
        if file.lines:
            yield session


def replay(context: Context, file: JournalFile) -> State:
    """The state the journal's events lead to, through the same code as live. Raises JournalError if they do not."""
    # Who may sign decides what a sign-off means, so it is taken from the journal and not from today's list.
    context = replace(context, drivers=file.heading.drivers, driver=file.heading.driver)
    state = begin(heading_length(file))
    for line in file.lines:
        try:
            state, _ = step(context, state, line.event)
        except IllegalEvent as error:
            raise JournalError(
                f"{file.path}: event {line.n} does not fit what came before ({error}).",
                "Keep the file and start a new inspection.",
            ) from error
    return state


def heading_length(file: JournalFile) -> Length:
    match file.heading.length:
        case "terse":
            return "terse"
        case "full":
            return "full"
    return "normal"


def is_closed(state: State) -> bool:
    return state.stage is Stage.CLOSED


def load_snapshot(session: Session) -> tuple[Plan, LimitSet]:
    """Plan and limits as they were when the session began. Raises JournalError if they are broken."""
    try:
        return session.plan(), session.limits()
    except ValidationError as error:
        raise JournalError(
            f"{session.path}: the stored plan or limits are damaged.", "Start a new inspection; the journal is kept."
        ) from error


def sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
