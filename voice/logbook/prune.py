"""Removes what need not be kept any longer: records' text and names, and session folders; never with an open defect.

49 CFR 396.11(a)(4): a report, its repair certification and the driver's review are kept three months from the report.
Others ask for more (an operator in Great Britain keeps defect reports 15 months; Canada's NSC 13 asks for six): the
length is the caller's. What the trends need stays: readings, the lives of defects, and that an inspection took place,
without the driver's name. So does each record's hash, so that a device that hands it in again does not bring it back.
"""

from __future__ import annotations

import calendar
import re
import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Engine, delete, func, select, update
from sqlalchemy.orm import Session

from voice.errors import RecordError, SetupError
from voice.logbook.database import reading, writing
from voice.logbook.schema import DefectRow, DocumentRow, FactRow, RecordRow, RecordUnitRow, SentRow, VehicleRow

LEAST_MONTHS = 3
BATCH = 1000
_AGE = re.compile(r"(\d{1,4})\s*(day|week|month|year)s?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Pruning:
    """What would be removed and what is kept, by record id; the same numbers tell what was done."""

    before: datetime
    remove: tuple[str, ...] = ()
    keep_open: tuple[str, ...] = ()
    keep_unsent: tuple[str, ...] = ()
    keep_unknown: tuple[str, ...] = ()
    folders: tuple[Path, ...] = ()


def cut_off(age: str, now: datetime) -> datetime:
    """The moment that long before now.

    age: "3 months", "90 days" ...

    Raises SetupError, also for less than the rule's.

    Months are the calendar's: three months before 31 May is 28 February.
    """
    match = _AGE.fullmatch(age.strip())
    if match is None:
        raise SetupError(f"'{age}' is not a length of time.", 'Write it like "3 months", "100 days" or "1 year".')
    number, unit = int(match[1]), match[2].lower()
    try:
        if unit in ("day", "week"):
            before = now - timedelta(days=number * (7 if unit == "week" else 1))
        else:
            before = _months_before(now, number * (12 if unit == "year" else 1))
    except (OverflowError, ValueError) as error:
        raise SetupError(f"'{age}' is too long.", "Give a length of time within the calendar.") from error
    if before > _months_before(now, LEAST_MONTHS):
        raise SetupError(
            f"'{age}' is less than the {LEAST_MONTHS} months that reports are kept (49 CFR 396.11(a)(4)).",
            f"Give {LEAST_MONTHS} months or more.",
        )
    return before


def _months_before(now: datetime, months: int) -> datetime:
    year, month = divmod(now.year * 12 + now.month - 1 - months, 12)
    return now.replace(year=year, month=month + 1, day=min(now.day, calendar.monthrange(year, month + 1)[1]))


def plan(session: Session, before: datetime, *, home: Path | None = None, depot_known: bool = False) -> Pruning:
    """What pruning would do.

    home: look after its session folders too.
    depot_known: unsent ones are kept.
    """
    old = func.coalesce(RecordRow.ended, RecordRow.started) < before
    candidates = list(
        session.scalars(
            select(RecordRow.id).where(old, RecordRow.pruned.is_(None)).order_by(RecordRow.started, RecordRow.id)
        )
    )
    open_ids = _held(session)
    unsent = _unsent(session, candidates) if depot_known else set()
    folders: list[Path] = []
    unknown: list[str] = []
    if home is not None:
        ends = func.coalesce(RecordRow.ended, RecordRow.started, type_=RecordRow.started.type)
        everyone = {row.id: row.end for row in session.execute(select(RecordRow.id, ends.label("end")))}
        for record in sorted((home / "sessions").glob("*/record.json")):
            id = record.parent.name
            if id not in everyone:
                unknown.append(id)
            elif everyone[id] < before and id not in open_ids and id not in unsent:
                folders.append(record.parent)
    return Pruning(
        before=before,
        remove=tuple(id for id in candidates if id not in open_ids and id not in unsent),
        keep_open=tuple(id for id in candidates if id in open_ids),
        keep_unsent=tuple(id for id in candidates if id in unsent and id not in open_ids),
        keep_unknown=tuple(unknown),
        folders=tuple(folders),
    )


def _held(session: Session) -> set[str]:
    """Records that say something of a defect's present, open life."""
    sources = session.scalars(
        select(FactRow.source)
        .join(
            DefectRow,
            (DefectRow.vehicle == FactRow.vehicle)
            & (DefectRow.defect == FactRow.defect)
            & (FactRow.at >= DefectRow.opened),
        )
        .where(DefectRow.closed.is_(None), FactRow.source.startswith("record:"))
    )
    return {source.removeprefix("record:") for source in sources}


def _unsent(session: Session, ids: Iterable[str]) -> set[str]:
    arrived = set(session.scalars(select(SentRow.what).where(SentRow.what.startswith("record:"))))
    return {id for id in ids if f"record:{id}" not in arrived}


def carry_out(engine: Engine, wanted: Pruning) -> None:
    """Do it: first the database, in batches, then the folders. Safe to repeat after an interruption.

    A defect that was found open since the plan was made keeps its records: it is looked at again.
    """
    kept: set[str] = set()
    for start in range(0, len(wanted.remove), BATCH):
        ids = wanted.remove[start : start + BATCH]
        with writing(engine) as session:
            vehicles = (
                select(RecordUnitRow.vehicle)
                .join(RecordRow, RecordRow.key == RecordUnitRow.record)
                .where(RecordRow.id.in_(ids))
            )
            session.execute(
                select(VehicleRow.key).where(VehicleRow.key.in_(vehicles)).order_by(VehicleRow.id).with_for_update()
            )
            held = _held(session) & set(ids)
            kept |= held
            keys = select(RecordRow.key).where(RecordRow.id.in_([id for id in ids if id not in held]))
            session.execute(delete(DocumentRow).where(DocumentRow.record.in_(keys)))
            session.execute(
                update(FactRow)
                .where(FactRow.source.in_([f"record:{id}" for id in ids if id not in held]))
                .values(by=None)
            )
            session.execute(
                update(RecordRow)
                .where(RecordRow.key.in_(keys))
                .values(driver=None, sections=[], pruned=datetime.now(UTC))
            )
    for folder in wanted.folders:
        if folder.name not in kept:
            try:
                shutil.rmtree(folder)
            except OSError as error:
                raise RecordError(f"{folder} cannot be removed: {error.strerror}.", "Check its permissions.") from error


def prune(engine: Engine, before: datetime, *, home: Path | None, depot_known: bool, do: bool) -> Pruning:
    """The plan, carried out if `do`."""
    with reading(engine) as session:
        wanted = plan(session, before, home=home, depot_known=depot_known)
    if do:
        carry_out(engine, wanted)
    return wanted
