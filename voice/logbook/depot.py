"""The depot's side: takes what devices handed in from the inbox into the logbook.

A device may only put things into the inbox. They are looked at here, with the owner's rights: what is good enters the
logbook, what is broken, altered or forged stays in the inbox with its reason. Each batch is one transaction, so a
crash in the middle leaves it waiting; several programs may do this at once and take different rows.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Engine, func, select
from sqlalchemy.orm import Session

from voice.errors import RecordError
from voice.logbook.database import writing
from voice.logbook.importer import twice
from voice.logbook.intake import Checked, check_record
from voice.logbook.schema import InboxRow
from voice.logbook.store import Outcome, import_records, import_repairs, lock_vehicles
from voice.record.repairs import Repair, read_line

BATCH = 100
LARGEST = 64 * 1024 * 1024  # bytes of one record's JSON; a small file that unpacks to more is not one


@dataclass(frozen=True, slots=True)
class Waiting:
    """What is in the inbox. aside: set aside with a reason."""

    waiting: int
    aside: int


def absorb(engine: Engine, trusted: Mapping[str, bytes]) -> list[Outcome]:
    """Everything that waits in the inbox. trusted: devices' public keys (voice.record.device.trusted_keys)."""
    outcomes: list[Outcome] = []
    while found := twice(lambda: _absorb_batch(engine, trusted)):
        outcomes += found
    return outcomes


def _absorb_batch(engine: Engine, trusted: Mapping[str, bytes]) -> list[Outcome]:
    with writing(engine) as session:
        rows = session.scalars(
            select(InboxRow)
            .where(InboxRow.done.is_(None))
            .order_by(InboxRow.received, InboxRow.sha256)
            .limit(BATCH)
            .with_for_update(skip_locked=True)
        ).all()
        checked: list[tuple[InboxRow, Checked]] = []
        repairs: list[tuple[InboxRow, Repair]] = []
        outcomes: list[Outcome] = []
        for row in rows:
            name = f"{row.kind} {row.sha256[:12]} of {row.device}"
            try:
                body = unpack(row.body, name)
                if row.kind == "record":
                    checked.append((row, check_record(body, name, trusted)))
                else:
                    repairs.append((row, read_line(body, name, trusted)))
            except RecordError as error:
                outcomes.append(_done(row, Outcome(name, "set-aside", str(error))))
        good = [record for _, record in checked]
        lock_vehicles(session, [repair.vehicle for _, repair in repairs], good)
        for row, outcome in zip(
            [row for row, _ in checked],
            import_records(session, good, [row.device for row, _ in checked]),
            strict=True,
        ):
            outcomes.append(_done(row, outcome))
        for row, outcome in zip(
            [row for row, _ in repairs],
            import_repairs(session, [repair for _, repair in repairs], [row.device for row, _ in repairs]),
            strict=True,
        ):
            outcomes.append(_done(row, outcome))
        return outcomes


def _done(row: InboxRow, outcome: Outcome) -> Outcome:
    row.done, row.verdict, row.reason = datetime.now(UTC), outcome.verdict, outcome.reason or None
    if outcome.verdict != "set-aside":
        row.body = b""  # the record's text is in the logbook now
    return outcome


def unpack(body: bytes, name: str) -> bytes:
    """The JSON of something handed in. Raises RecordError if it is damaged or unreasonably large."""
    unpacker = zlib.decompressobj()
    try:
        text = unpacker.decompress(body, LARGEST)
    except zlib.error as error:
        raise RecordError(f"{name} cannot be unpacked: it was damaged on its way.", "Send it again.") from error
    if not unpacker.eof:
        raise RecordError(f"{name} is cut short, or too large to be a record.", "Send it again.")
    return text


def waiting(session: Session) -> Waiting:
    left = session.scalar(select(func.count()).select_from(InboxRow).where(InboxRow.done.is_(None)))
    aside = session.scalar(select(func.count()).select_from(InboxRow).where(InboxRow.verdict == "set-aside"))
    return Waiting(left or 0, aside or 0)
