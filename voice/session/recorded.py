"""Inspections of a home by name, and their records: as they were written, or made again from the journal."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from voice.errors import GladhandError, JournalError, SetupError, tell
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.folder import Session
from voice.record.files import make_record
from voice.record.load import load_record
from voice.record.model import InspectionRecord
from voice.record.verify import Rebuilt, Verification
from voice.route.units import units_of
from voice.session.resources import Resources, load, missing, open_resources, open_sessions


def nothing(home: Path, what: str) -> str:
    """The sentence for a folder in which there is nothing of the kind."""
    return f"{what} in {home}{'' if home.is_dir() else ': that folder does not exist'}."


def find(home: Path, name: str) -> Session:
    """By id, the beginning of one, folder, record file, or "last". Raises SetupError."""
    known = list(session.sessions(home))
    if name == "last":
        if not known:
            raise SetupError(nothing(home, "There are no inspections"), "Begin one with 'gladhand walk'.")
        return known[0]
    hits = [found for found in known if found.id.startswith(name)] if name else []
    if len(hits) == 1 or any(found.id == name for found in hits):
        return next((found for found in hits if found.id == name), hits[0])
    if len(hits) > 1:
        raise SetupError(f"'{name}' is the beginning of {len(hits)} inspections.", "Give more of its id.")
    return session.find(home, name)


def newest(resources: Resources, salvage: bool) -> Session:
    """The newest open inspection; to salvage, the newest that is damaged, if one is. Raises SetupError."""
    if salvage:
        for found in session.sessions(resources.home):
            if not found.signed and damage_of(found) is not None:
                return found
    damaged: list[GladhandError] = []
    hit = next((found for found, _ in open_sessions(resources, damaged.append)), None)
    for fault in damaged:
        tell(fault)
    if hit is None:
        what = "no open inspection that can be gone on with as it is" if damaged else "no open inspection to resume"
        raise SetupError(f"There is {what}.", "Begin one with 'gladhand walk'.")
    return hit


def damage_of(found: Session) -> journal.DamageError | None:
    """What is wrong with its journal, if a line of it is broken."""
    try:
        journal.read(found.journal)
    except journal.DamageError as damage:
        return damage
    except JournalError:
        return None
    return None


def record_of(home: Path, found: Session) -> InspectionRecord:
    """A signed session's record as it was written; an open one's as a draft from its journal."""
    return load_record(found.record) if found.signed else rebuild(home, found).record


def verify_unsigned(home: Path, found: Session) -> Verification:
    """A session without a record: its journal; and whether it was signed, so that the record is missing."""
    checked = Verification()
    try:
        at = load(open_resources(home), found)
    except JournalError as error:
        checked.add("journal", "", [str(error)])
        return checked
    checked.add("journal", f"{len(at.file.lines)} events, every checksum fits; not signed yet")
    if session.is_closed(at.state):
        checked.checks.clear()
        checked.add("record", "", [f"The inspection is {missing(found)}."])
    return checked


def without_record(home: Path) -> Iterator[tuple[Session, set[str]]]:
    """Inspections that were signed and have no record, each with the ids of its vehicle and of that one's units.

    What cannot be read is passed over.

    Raises GladhandError for data of the user's own that cannot be read.
    """
    unsigned = [found for found in session.sessions(home) if not found.signed]
    if not unsigned:
        return
    resources = open_resources(home)
    for found in unsigned:
        with suppress(JournalError):
            at = load(resources, found)
            if session.is_closed(at.state):
                vehicle = at.context.plan.vehicle
                yield found, {vehicle.id, *(unit.id for unit in units_of(vehicle))}


def rebuild(home: Path, found: Session) -> Rebuilt:
    """The record made from the journal, by the plan and the limits that the session began with."""
    resources = open_resources(home)
    at = load(resources, found)
    plan = at.context.plan
    record = make_record(plan, at.file, at.state, at.context.limits, at.context.defects)
    program = None if at.file.heading.program == session.PROGRAM else session.PROGRAM
    return Rebuilt(record, resources.library.sha256 == plan.data_sha256, program)
