"""A session's record and report on the disk."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from pathlib import Path
from typing import Protocol

from voice.errors import RecordError
from voice.journal.journal import JournalFile
from voice.judge.limit import LimitSet
from voice.record.build import build
from voice.record.device import device_key
from voice.record.model import Certification, InspectionRecord
from voice.record.open_defects import certifications_since
from voice.record.report import render_html
from voice.record.seal import replace_file, save_record
from voice.route.model import Plan
from voice.walk.state import State


class Titled(Protocol):
    """A defect of the route files."""

    @property
    def title(self) -> str: ...


class Folder(Protocol):
    """A session's folder: home/sessions/<id>."""

    @property
    def path(self) -> Path: ...
    @property
    def record(self) -> Path: ...
    @property
    def report(self) -> Path: ...


def home_of(session: Folder) -> Path:
    return session.path.parent.parent


def make_record(
    plan: Plan,
    journal: JournalFile,
    state: State,
    limits: LimitSet,
    defects: Mapping[str, Titled],
    certifications: tuple[Certification, ...] = (),
) -> InspectionRecord:
    """The sealed record of a session as its replayed state has it; not signed by the device."""
    titles = {name: defect.title for name, defect in defects.items()}
    return build(plan, journal, state, limits, titles, certifications=certifications)


def write_record(
    session: Folder,
    plan: Plan,
    journal: JournalFile,
    state: State,
    limits: LimitSet,
    defects: Mapping[str, Titled],
) -> InspectionRecord:
    """Write a session's record and its report, signed by the device's key.

    A walk without a sign-off gets a report marked as a draft, and no record: it can be resumed. Written again, both
    are the same byte for byte. Raises RecordError.
    """
    home = home_of(session)
    certifications: tuple[Certification, ...] = ()
    if state.signature is not None:
        # An earlier record or the repairs file may be broken; that must not keep this record from being written.
        with contextlib.suppress(RecordError):
            certifications = certifications_since(home, plan.vehicle, session=journal.heading.session)
    record = make_record(plan, journal, state, limits, defects, certifications)
    if record.sign_off is not None:
        record = device_key(home).sign(record)
        save_record(record, session.record)
    replace_file(session.report, render_html(record).encode())
    return record
