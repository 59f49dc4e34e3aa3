"""Record files into a logbook: read, checked (on several processors if there are many), imported in batches."""

from __future__ import annotations

import gc
import os
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

from sqlalchemy import Engine, select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from voice.errors import RecordError, SetupError
from voice.logbook.database import collided, of_the_database, plain, reading, writing
from voice.logbook.rows import Checked, UnsignedError, check_record, fitting_repair
from voice.logbook.schema import RecordRow
from voice.logbook.set_aside import set_aside
from voice.logbook.store import Outcome, import_records, import_repairs
from voice.record.device import trusted_keys
from voice.record.repairs import Repair, read_repairs

# Records in one transaction: the more, the fewer waits for the disk; some tenths of a second on a busy machine.
BATCH = 250
_HASH = re.compile(rb'"record_sha256"\s*:\s*"([0-9a-f]{64})"')
_Thing = TypeVar("_Thing")
MANY = 4000  # records from which on it pays to start other processes: each takes a second or two


def session_records(home: Path) -> list[Path]:
    """The record of every session of this home that has one, oldest first."""
    return sorted((home / "sessions").glob("*/record.json"))


def record_files(paths: Sequence[Path]) -> list[Path]:
    """Files as they are; of a folder every *.json in it, but of a session's only its record. Each once.

    Raises SetupError.
    """
    found: dict[Path, Path] = {}
    for path in paths:
        if not path.exists():
            raise SetupError(f"There is no {path}.", "Give record files, or folders of them.")
        for file in filter(_may_be_record, sorted(path.rglob("*.json"))) if path.is_dir() else (path,):
            found.setdefault(file.resolve(), file)
    return list(found.values())


def _may_be_record(file: Path) -> bool:
    return file.name == "record.json" or not (file.parent / "journal.jsonl").exists()


def import_files(
    engine: Engine, files: Sequence[Path], home: Path, *, device: str = "local", workers: int | None = None
) -> Iterator[Outcome]:
    """Import record files; what is refused is set aside in home. An outcome for each, as it is done.

    A walk that is not signed off yet is left alone and yields nothing.
    """
    usual = gc.get_threshold()
    # Each record is some thousand objects that are gone at once: looking for cycles among them all the time is a fifth
    # of the work.
    gc.set_threshold(50_000, *usual[1:])
    try:
        yield from _import_files(engine, files, home, device, workers)
    finally:
        gc.set_threshold(*usual)


def _import_files(
    engine: Engine, files: Sequence[Path], home: Path, device: str, workers: int | None
) -> Iterator[Outcome]:
    check = partial(_check_file, trusted=trusted_keys(home))
    # One processor is left to this process, which stores what the others have checked.
    count = (os.cpu_count() or 1) - 1 if workers is None else workers
    if len(files) < MANY or count < 2:
        yield from _import(engine, map(check, files), home, device)
        return
    # A fresh start of each process: a copy of this one would share its database connections.
    with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as pool:
        yield from _import(engine, pool.map(check, files, chunksize=25), home, device)


def _check_file(file: Path, trusted: Mapping[str, bytes]) -> Checked | tuple[str, bytes, str] | None:
    """The checked record, or (name, bytes, reason) of one that is refused, or None for one that is not finished."""
    name = f"{file.parent.name}/{file.name}"
    body = b""
    try:
        body = file.read_bytes()
        return check_record(body, name, trusted)
    except UnsignedError:
        return None
    except OSError as error:
        return name, body, f"It cannot be read: {error.strerror}."
    except Exception as error:  # whatever is wrong with one file, the others go on
        return name, body, str(error) if isinstance(error, RecordError) else plain(error)


def _import(
    engine: Engine, results: Iterator[Checked | tuple[str, bytes, str] | None], home: Path, device: str
) -> Iterator[Outcome]:
    batch: list[Checked] = []
    with ThreadPoolExecutor(1) as other:
        waiting: Future[list[Outcome]] | None = None
        for result in results:
            if isinstance(result, Checked):
                batch.append(result)
            elif result is not None:
                name, body, reason = result
                if body:
                    set_aside(home, name, body, reason)
                yield Outcome(name, "set-aside", reason)
            if len(batch) >= BATCH:
                if engine.name != "postgresql":
                    yield from _import_batch(engine, batch, home, device)
                else:
                    # While the server works here the next ones are checked. Not so with SQLite, which works in this
                    # process: it would wait for the interpreter after each row.
                    if waiting is not None:
                        yield from waiting.result()
                    waiting = other.submit(_import_batch, engine, batch, home, device)
                batch = []
        if waiting is not None:
            yield from waiting.result()
    if batch:
        yield from _import_batch(engine, batch, home, device)


def _import_batch(engine: Engine, batch: Sequence[Checked], home: Path, device: str) -> list[Outcome]:
    outcomes = store_apart(
        engine,
        batch,
        lambda session, part: import_records(session, part, [device] * len(part)),
        lambda checked: checked.id,
    )
    for checked, outcome in zip(batch, outcomes, strict=True):
        if outcome.verdict == "set-aside":
            set_aside(home, checked.id, checked.json(), outcome.reason)
    return outcomes


def store_apart(
    engine: Engine,
    batch: Sequence[_Thing],
    store: Callable[[Session, Sequence[_Thing]], list[Outcome]],
    name: Callable[[_Thing], str],
) -> list[Outcome]:
    """A batch in one transaction. If anything in it cannot be stored, each by itself: only that one is set aside.

    name: how the outcome calls one. Raises SetupError if the database is gone, full or damaged.
    """
    try:
        return _stored(engine, batch, store)
    except Exception as error:
        cause = error.__cause__ if isinstance(error, SetupError) and isinstance(error.__cause__, DBAPIError) else error
        if of_the_database(cause):
            raise
        if len(batch) == 1:
            return [Outcome(name(batch[0]), "set-aside", plain(cause))]
    return [outcome for one in batch for outcome in store_apart(engine, [one], store, name)]


def _stored(
    engine: Engine, batch: Sequence[_Thing], store: Callable[[Session, Sequence[_Thing]], list[Outcome]]
) -> list[Outcome]:
    """Another program may bring in a record of the same id at the same moment: the second time it is seen."""
    try:
        with writing(engine) as session:
            return store(session, batch)
    except SetupError as error:
        if not isinstance(error.__cause__, DBAPIError) or not collided(error.__cause__):
            raise
    with writing(engine) as session:
        return store(session, batch)


def import_repairs_file(engine: Engine, home: Path, *, device: str = "local") -> list[Outcome]:
    """The certifications in home's repairs file. One outcome, with the reason, if the file was damaged or altered."""
    outcomes: list[Outcome] = []
    good: list[Repair] = []
    try:
        found = read_repairs(home)
    except RecordError as error:
        return [Outcome("repairs.jsonl", "set-aside", str(error), "certification")]
    for repair in found:
        try:
            good.append(fitting_repair(repair))
        except RecordError as error:
            outcomes.append(Outcome(repair.certification.key[:80], "set-aside", str(error), "certification"))
    if good:
        outcomes += store_apart(
            engine,
            good,
            lambda session, part: import_repairs(session, part, [device] * len(part)),
            lambda repair: repair.certification.key,
        )
    return outcomes


def import_home(engine: Engine, home: Path) -> list[Outcome]:
    """Everything of this home into its own logbook: finished walks and certifications. Safe to repeat.

    Records whose hash is in the logbook already are not looked at again, so that this is quick at every start.
    """
    with reading(engine) as session:
        known = set(session.scalars(select(RecordRow.sha256)))
    files = [file for file in session_records(home) if _named_hash(file) not in known]
    return list(import_files(engine, files, home)) + import_repairs_file(engine, home)


def _named_hash(file: Path) -> str | None:
    """The hash that a record's text names as its own; None if there is none to be found."""
    try:
        found = _HASH.findall(file.read_bytes())
    except OSError:
        return None
    return found[-1].decode() if len(found) == 1 else None
