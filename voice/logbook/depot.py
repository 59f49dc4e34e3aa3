"""The depot's side: takes what devices handed in from the inbox into the logbook.

A device may only put things into the inbox. They are looked at here, with the owner's rights: what is good enters the
logbook, what is broken, altered or forged stays in the inbox with its reason. Each row is a transaction of its own, and
is looked at behind a savepoint: whatever is wrong with one, it is set aside and the next has its turn. A crash leaves
the rest waiting; several programs may do this at once and take different rows. No more than one row is in memory.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Engine, func, select, update
from sqlalchemy.orm import Session

from voice.errors import RecordError, SetupError
from voice.logbook.columns import RECORD_BYTES
from voice.logbook.database import collided, of_the_database, plain, writing
from voice.logbook.rows import check_record, fitting_repair
from voice.logbook.schema import InboxRow
from voice.logbook.store import Outcome, import_records, import_repairs
from voice.record.device import trusted_keys
from voice.record.repairs import read_line

TRIES = 3  # when other programs bring in the same at the same moment


@dataclass(frozen=True, slots=True)
class Waiting:
    """What is in the inbox.

    refused: set aside with a reason.
    """

    waiting: int
    refused: int


def depot_keys(home: Path) -> dict[str, bytes]:
    """The public keys of the fleet's devices. Raises SetupError if there are none.

    Without keys anyone with a device's password could make up inspections and certify repairs. What was handed in
    waits, so that nothing is lost by insisting on them.
    """
    keys = trusted_keys(home)
    if not keys:
        raise SetupError(
            "This depot trusts no device yet, so it takes nothing in.",
            f"Put the device.pub of each device into {home / 'trusted'}; what they handed in waits.",
        )
    return keys


def absorb(engine: Engine, trusted: Mapping[str, bytes]) -> list[Outcome]:
    """Everything that waits in the inbox.

    trusted: devices' public keys (depot_keys).

    Raises SetupError if the database is gone, full or damaged; what was taken in until then stays.
    """
    outcomes: list[Outcome] = []
    while (outcome := _absorb_next(engine, trusted)) is not None:
        outcomes.append(outcome)
    return outcomes


def look_again(engine: Engine) -> int:
    """Let what was set aside wait once more, as after a device's key was put into trusted/. Returns how many."""
    left_out = InboxRow.verdict == "set-aside"
    with writing(engine) as session:
        count = session.scalar(select(func.count()).select_from(InboxRow).where(left_out)) or 0
        session.execute(update(InboxRow).where(left_out).values(done=None, verdict=None, reason=None))
    return count


def _absorb_next(engine: Engine, trusted: Mapping[str, bytes]) -> Outcome | None:
    with writing(engine) as session:
        row = session.scalar(
            select(InboxRow)
            .where(InboxRow.done.is_(None))
            .order_by(InboxRow.received, InboxRow.sha256)
            .limit(1)
            .with_for_update(skip_locked=True)
        )
        return None if row is None else _done(row, _looked_at(session, row, trusted))


def _looked_at(session: Session, row: InboxRow, trusted: Mapping[str, bytes]) -> Outcome:
    name = f"{row.kind} {row.sha256[:12]} of {row.device}"
    tries = 0
    while True:
        tries += 1
        try:
            with session.begin_nested():
                return _taken_in(session, row, name, trusted)
        except Exception as error:
            # The one place where anything may be wrong with a row: all of it is the row's, but for the database's own.
            if of_the_database(error):
                raise
            if not collided(error) or tries == TRIES:
                reason = str(error) if isinstance(error, RecordError) else plain(error)
                return Outcome(name, "set-aside", reason, "inspection" if row.kind == "record" else "certification")


def _taken_in(session: Session, row: InboxRow, name: str, trusted: Mapping[str, bytes]) -> Outcome:
    body = unpack(row.body, name)
    if row.kind == "record":
        (outcome,) = import_records(session, [check_record(body, name, trusted)], [row.device])
    else:
        (outcome,) = import_repairs(session, [fitting_repair(read_line(body, name, trusted))], [row.device])
    return outcome


def _done(row: InboxRow, outcome: Outcome) -> Outcome:
    row.done, row.verdict, row.reason = datetime.now(UTC), outcome.verdict, outcome.reason or None
    if outcome.verdict != "set-aside":
        row.body = b""  # the record's text is in the logbook now
    return outcome


def unpack(body: bytes, name: str) -> bytes:
    """The JSON of something handed in. Raises RecordError if it is damaged or unreasonably large."""
    unpacker = zlib.decompressobj()
    try:
        text = unpacker.decompress(body, RECORD_BYTES)
    except zlib.error as error:
        raise RecordError(f"{name} cannot be unpacked: it was damaged on its way.", "Send it again.") from error
    if not unpacker.eof:
        raise RecordError(f"{name} is cut short, or too large to be a record.", "Send it again.")
    return text


def waiting(session: Session) -> Waiting:
    left = session.scalar(select(func.count()).select_from(InboxRow).where(InboxRow.done.is_(None)))
    refused = session.scalar(select(func.count()).select_from(InboxRow).where(InboxRow.verdict == "set-aside"))
    return Waiting(left or 0, refused or 0)
