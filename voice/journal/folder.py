"""A session's folder: plan, limits, journal, clips. One writer at a time; resumed by replay through the walk."""

from __future__ import annotations

import hashlib
import secrets
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout

from voice import __version__
from voice.data import durable
from voice.errors import GladhandError, JournalError, SetupError
from voice.journal import journal
from voice.journal.journal import Journal, JournalFile
from voice.journal.line import Heading
from voice.judge import LimitSet
from voice.route.model import Depth, Length, Plan
from voice.walk.context import Context
from voice.walk.machine import begin, step
from voice.walk.state import Stage, State
from voice.walk.turn import IllegalEvent

PROGRAM = f"gladhand {__version__}"
Telling = Callable[[GladhandError], None]


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

    @property
    def plan(self) -> Path:
        return self.path / "plan.json"

    @property
    def limits(self) -> Path:
        return self.path / "limits.json"

    @property
    def signed(self) -> bool:
        return self.record.exists()

    def lock(self) -> FileLock:
        """The single-writer lock, taken. Raises JournalError if another process writes this session, SetupError if
        the folder cannot be written."""
        lock = FileLock(self.path / "lock", mode=durable.PRIVATE)
        try:
            lock.acquire(timeout=0)
        except Timeout as error:
            raise JournalError(
                f"Session {self.id} is in use by another gladhand.", "Finish or stop it there first."
            ) from error
        except OSError as error:
            raise SetupError(*durable.trouble(f"{self.path} cannot be written", error)) from error
        return lock


@dataclass(frozen=True, slots=True)
class Beginning:
    """What is known of an inspection before its first item, besides plan and limits.

    driver: who will sign, if it was said.
    drivers: who may sign; empty: anybody.
    odometer, hubodometer: as they were given.
    length: how much is said with each item.
    depth: how much one question covers.
    """

    driver: str | None = None
    drivers: tuple[str, ...] = ()
    odometer: str | None = None
    hubodometer: str | None = None
    length: Length = "normal"
    depth: Depth = "each-part"


def create(home: Path, plan: Plan, limits: LimitSet, beginning: Beginning) -> tuple[Session, FileLock, Journal]:
    """A new session, locked and with its journal begun."""
    now = datetime.now(UTC).astimezone()
    name = f"{now:%Y%m%d-%H%M%S}-{plan.vehicle.id}-{secrets.token_hex(2)}"
    session = Session(sessions_dir(home) / name)
    kept = {session.plan: _text(plan), session.limits: _text(limits)}
    heading = Heading(
        session=name,
        program=PROGRAM,
        utc=now,
        data_sha256=plan.data_sha256,
        driver=beginning.driver,
        odometer=beginning.odometer,
        hubodometer=beginning.hubodometer,
        drivers=beginning.drivers,
        length=beginning.length,
        depth=beginning.depth,
        plan_sha256=_sha256(kept[session.plan]),
        limits_sha256=_sha256(kept[session.limits]),
    )
    try:
        durable.make_folder(session.clips)
        for path, text in kept.items():
            durable.replace(path, text)
        lock = session.lock()
    except (OSError, GladhandError) as error:
        shutil.rmtree(session.path, ignore_errors=True)  # nothing was said yet
        if isinstance(error, GladhandError):
            raise
        raise SetupError(*durable.trouble(f"{session.path} cannot be made", error)) from error
    try:
        return session, lock, Journal.create(session.journal, heading)
    except JournalError:
        lock.release()
        shutil.rmtree(session.path, ignore_errors=True)
        raise


def _text(kept: Plan | LimitSet) -> bytes:
    return kept.model_dump_json(indent=1).encode()


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def sessions(home: Path) -> Iterator[Session]:
    """All sessions, newest first."""
    folder = sessions_dir(home)
    if folder.is_dir():
        for path in sorted(folder.iterdir(), key=lambda p: p.name, reverse=True):
            if _is_session(path):
                yield Session(path)


def find(home: Path, name: str) -> Session:
    """The session of that id or of a path to its folder. Raises SetupError."""
    for candidate in (Path(name), sessions_dir(home) / name):
        if _is_session(candidate):
            return Session(candidate.resolve())
    raise SetupError(f"There is no session {name}.", "See 'gladhand sessions' for those there are.")


def _is_session(path: Path) -> bool:
    """Whether a folder holds what a session leaves, be it damaged. A name that cannot be one is none."""
    try:
        return any((path / name).is_file() for name in ("journal.jsonl", "plan.json"))
    except OSError:
        return False


def open_sessions(home: Path, leave_out: Telling | None = None) -> Iterator[Session]:
    """Begun, not signed, and worth resuming: the journal has at least one event. Newest first.

    leave_out: is told what is wrong with each one that cannot be read; it is left out.
    """
    for session in sessions(home):
        if session.signed:
            continue
        try:
            if journal.read(session.journal).lines:
                yield session
        except JournalError as error:
            if leave_out is not None:
                leave_out(error)


def replay(context: Context, file: JournalFile) -> State:
    """The state the journal's events lead to, through the same code as live. Raises JournalError if they do not."""
    # Who may sign decides what a sign-off means, so it is taken from the journal and not from today's list.
    context = replace(context, drivers=file.heading.drivers, driver=file.heading.driver)
    state = begin(file.heading.length, file.heading.depth)
    for line in file.lines:
        try:
            state, _ = step(context, state, line.event)
        # Not only IllegalEvent: the walk takes for granted what the questions allow, and a journal that was made up,
        # or is of another plan, may name steps, options and units that there are not.
        except Exception as error:
            why = str(error) if isinstance(error, IllegalEvent) else "it names what this walk does not have"
            raise JournalError(
                f"{file.path}: event {line.n} does not fit what came before ({why}).",
                "Keep the file and start a new inspection.",
            ) from error
    return state


def is_closed(state: State) -> bool:
    return state.stage is Stage.CLOSED


def load_snapshot(session: Session) -> tuple[Plan, LimitSet]:
    """Plan and limits as they were when the session began. Raises JournalError if they are not those of the journal."""
    heading = journal.read_heading(session.journal)
    plan = _checked(session.plan, heading, heading.plan_sha256)
    limits = _checked(session.limits, heading, heading.limits_sha256)
    try:
        return Plan.model_validate_json(plan), LimitSet.model_validate_json(limits)
    except (ValueError, ArithmeticError, RecursionError) as error:
        raise JournalError(f"{session.path}: the stored plan or limits are damaged.", _DAMAGED) from error


_DAMAGED = "Restore the file from a copy, or start a new inspection; the journal is kept."


def _checked(path: Path, heading: Heading, sha256: str | None) -> bytes:
    """The bytes of a file that the heading names. One of version 1 names none: then they are taken as they are."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise JournalError(durable.trouble(f"{path} cannot be read", error)[0], _DAMAGED) from error
    if heading.version > 1 and _sha256(data) != sha256:
        raise JournalError(f"{path} is damaged: it is not the file that the inspection began with.", _DAMAGED)
    return data
