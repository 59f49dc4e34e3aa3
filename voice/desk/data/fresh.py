"""What is new: takes this device's finished walks into its logbook, and tells when a page is out of date."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

from sqlalchemy import func, select

from voice.desk.data.certifying import hand_in
from voice.desk.page import Desk
from voice.errors import GladhandError, tell
from voice.logbook.database import reading
from voice.logbook.importer import import_home
from voice.logbook.schema import CertificationRow, RecordRow
from voice.record.repairs import repairs_file

EACH = 2.0  # seconds between two looks into the home
_one = threading.Lock()
_looked: dict[Path, tuple[float, tuple[object, ...]]] = {}  # when, and what was there


def refresh(desk: Desk) -> None:
    """New walks and certifications of this home into its logbook; at a depot, certifications into its inbox.

    Quick if nothing is new. What fails is told on stderr: the pages show what the logbook has.
    """
    if not _one.acquire(blocking=False):
        return  # another request is at it
    try:
        at, seen = _looked.get(desk.home, (0.0, ()))
        if time.monotonic() - at < EACH:
            return
        found = _there(desk)
        _looked[desk.home] = (time.monotonic(), found)
        if found != seen:
            if desk.depot:
                hand_in(desk)
            else:
                import_home(desk.engine, desk.home)
    except GladhandError as error:
        tell(error)
    finally:
        _one.release()


def forget(desk: Desk) -> None:
    """So that the next refresh looks at once."""
    _looked.pop(desk.home, None)


def _there(desk: Desk) -> tuple[object, ...]:
    """What changes when a walk is finished or a certification is added."""
    try:
        stat = repairs_file(desk.home).stat()
        repairs = (stat.st_mtime_ns, stat.st_size)
    except OSError:
        repairs = (0, 0)
    return *repairs, 0 if desk.depot else _records(desk.home / "sessions")


def _records(folder: Path) -> int:
    try:
        with os.scandir(folder) as found:
            return sum(Path(each.path, "record.json").exists() for each in found)
    except OSError:
        return 0


def version(desk: Desk) -> str:
    """Another text whenever a record or a certification has come in."""
    with reading(desk.engine) as session:
        record, given = session.execute(
            select(
                select(func.max(RecordRow.key)).scalar_subquery(),
                select(func.max(CertificationRow.key)).scalar_subquery(),
            )
        ).one()
    mine = repairs_file(desk.home)
    return f"{record or 0}.{given or 0}.{mine.stat().st_size if mine.exists() else 0}"
