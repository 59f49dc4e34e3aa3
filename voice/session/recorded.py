"""Inspections of a home by name, and their records: as they were written, or made again from the journal."""

from __future__ import annotations

from pathlib import Path

from voice.errors import SetupError
from voice.journal import folder as session
from voice.journal.folder import Session
from voice.record.files import make_record
from voice.record.load import load_record
from voice.record.model import InspectionRecord
from voice.record.verify import Rebuilt
from voice.session.resources import load, open_resources


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


def record_of(home: Path, found: Session) -> InspectionRecord:
    """A signed session's record as it was written; an open one's as a draft from its journal."""
    return load_record(found.record) if found.signed else rebuild(home, found).record


def rebuild(home: Path, found: Session) -> Rebuilt:
    """The record made from the journal, by the plan and the limits that the session began with."""
    resources = open_resources(home)
    at = load(resources, found)
    plan = at.context.plan
    record = make_record(plan, at.file, at.state, at.context.limits, at.context.defects)
    program = None if at.file.heading.program == session.PROGRAM else session.PROGRAM
    return Rebuilt(record, resources.library.sha256 == plan.data_sha256, program)
