"""Certifications from the desk: signed and added to the home's repairs like the command's, then into the logbook.

At a depot the signed line is handed in through the inbox, as a device hands in its own: the desk's role may not write
anything else. Until the depot has taken it in it is "pending": the pages count it, and say so.

Two people at once do not overwrite each other: each form carries a mark of all that was known of the defect when the
form was made; if more is known by now, the second is told so and nothing is written.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from zlib import compress

from filelock import FileLock, Timeout
from sqlalchemy import select, text
from sqlalchemy.orm import Session

from voice.data import durable
from voice.desk.data.units import key_of
from voice.desk.page import Desk, RefusedError
from voice.errors import RecordError
from voice.logbook.access import take_in
from voice.logbook.database import reading, writing
from voice.logbook.importer import import_repairs_file
from voice.logbook.insert import insert_new
from voice.logbook.schema import CertificationRow, FactRow, InboxRow
from voice.measure.level import Level
from voice.record.device import DeviceKey, device_key, load_key
from voice.record.lives import Fact, Life, lives
from voice.record.model import Certification
from voice.record.repairs import (
    Repair,
    Withdrawal,
    certify,
    read_repairs,
    repair_fact,
    repair_lines,
    repair_sha256,
    repairs_file,
)

_one_at_a_time = threading.Lock()


@dataclass(frozen=True, slots=True)
class Known:
    """All that is known of one defect.

    state: a mark of it, for forms.
    lives: oldest first.
    pending: whether the last word on it waits to be taken in at the depot.
    """

    state: str
    lives: tuple[Life, ...]
    facts: tuple[Fact, ...]
    pending: bool

    @property
    def open(self) -> Life | None:
        return next((life for life in self.lives if life.closed is None), None)

    def stands(self, sha256: str) -> bool:
        """Whether a certification is there, and was not withdrawn."""
        kinds = {fact.kind for fact in self.facts if fact.source == f"certification:{sha256}"}
        return bool(kinds) and "withdrawn" not in kinds


def pending(desk: Desk, session: Session) -> list[Repair]:
    """What this desk has signed and the depot has not taken in yet. On a device nothing: it is taken in at once."""
    if not desk.depot:
        return []
    mine = {repair_sha256(repair): repair for repair in _repairs(desk.home)}
    if not mine:
        return []
    there = set(session.scalars(select(CertificationRow.sha256).where(CertificationRow.sha256.in_(mine))))
    return [repair for sha256, repair in mine.items() if sha256 not in there]


def _repairs(home: Path) -> tuple[Repair, ...]:
    file = repairs_file(home)
    if not file.exists():
        return ()
    stat = file.stat()
    return _read(home, stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=4)
def _read(home: Path, _changed: int, _size: int) -> tuple[Repair, ...]:
    return tuple(read_repairs(home))  # each line's signature is checked, which takes its time


def known(desk: Desk, session: Session, unit: str, defect: str) -> Known:
    """Raises RefusedError for a unit that is not known, or a defect of which nothing was ever said."""
    query = select(FactRow).where(FactRow.vehicle == key_of(session, unit), FactRow.defect == defect)
    facts = [
        Fact(f.defect, f.kind, f.source, f.at, f.title, None if f.level is None else Level(f.level), f.by)  # type: ignore[arg-type]
        for f in session.scalars(query)
    ]
    waiting = [each for each in pending(desk, session) if (each.vehicle, each.certification.key) == (unit, defect)]
    facts += [repair_fact(repair, repair_sha256(repair)) for repair in waiting]
    if not facts:
        raise RefusedError(404, "nothing-here")
    return Known(_mark(facts), tuple(lives(facts)), tuple(facts), bool(waiting))


def _mark(facts: Iterable[Fact]) -> str:
    said = sorted(f"{fact.kind} {fact.source} {fact.at.astimezone(UTC).isoformat()}" for fact in facts)
    return hashlib.sha256("\n".join(said).encode()).hexdigest()[:32]


def add(desk: Desk, unit: str, given: Certification | Withdrawal, state: str) -> Known | None:
    """Certify, or take back. Returns None if done, else what is known now, which is more than the form knew.

    On the disk when this returns. Raises RefusedError if there is nothing of the kind to be done, RecordError if it
    cannot be written, SetupError.
    """
    try:
        # The thread's lock for this process, the file's for a second desk on the same home.
        with _one_at_a_time, FileLock(desk.home / "desk.lock", timeout=10, mode=durable.PRIVATE):
            with reading(desk.engine) as session:
                now = known(desk, session, unit, given.key)
            if now.state != state:
                return now
            certify(desk.home, Repair(unit, _record_of(now, given), given), _key(desk))
            if desk.depot:
                hand_in(desk)
            else:
                import_repairs_file(desk.engine, desk.home)
    except Timeout as error:
        raise RecordError("Another certification is just being written.", "Try again in a moment.") from error
    return None


def _record_of(now: Known, given: Certification | Withdrawal) -> str:
    """Where the defect was last seen. Raises RefusedError."""
    if isinstance(given, Withdrawal):
        if not now.stands(given.certification):
            raise RefusedError(409, "nothing-to-withdraw")
        return now.lives[-1].last
    if now.open is None:
        raise RefusedError(409, "nothing-open")
    return now.open.last


def _key(desk: Desk) -> DeviceKey | None:
    """As the command signs on a device. A depot takes nothing that is not signed, so there one is made."""
    return device_key(desk.home) if desk.depot else load_key(desk.home)


def hand_in(desk: Desk) -> None:
    """At the depot: every line of this home's repairs that is not taken in yet goes into the inbox; a known one stays.

    Where the desk runs with the owner's rights the inbox is taken in at once, else by 'gladhand logbook absorb'.
    """
    with reading(desk.engine) as session:
        waiting = {repair_sha256(repair) for repair in pending(desk, session)}
    if not waiting:
        return
    rows = []
    for repair, line in zip(_repairs(desk.home), repair_lines(desk.home), strict=False):
        if repair_sha256(repair) in waiting:
            body = compress(line, 6)
            rows.append({"sha256": hashlib.sha256(body).hexdigest(), "kind": "repair", "body": body})
    with writing(desk.engine) as session:
        insert_new(session, InboxRow, rows)
        owner = desk.engine.name != "postgresql" or session.scalar(
            text("SELECT has_table_privilege('certification', 'INSERT')")
        )
    if owner:
        take_in(desk.engine, desk.home, lambda _: None)


def now() -> datetime:
    """In local time with its offset, as the command writes it."""
    return datetime.now(UTC).astimezone()
