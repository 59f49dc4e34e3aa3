"""What the logbook adds to a walk: the depot's open defects for the review, and the outlook on wear.

Without a logbook (never synced, or the extra not installed) the device's own records answer alone.
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

from voice.measure.level import Level
from voice.record.open_defects import OpenDefect
from voice.record.open_defects import open_defects as own_defects


def _kept(home: Path) -> bool:
    return (home / "logbook.sqlite").exists() and find_spec("sqlalchemy") is not None


def open_defects(home: Path, vehicle: str) -> list[OpenDefect]:
    """Open defects of a vehicle, the worst and oldest first: this device's, and those of the last sync.

    Other drivers' findings on the vehicle come from the depot; what was certified there no longer counts as open.
    Raises RecordError.
    """
    own = own_defects(home, vehicle)
    if not _kept(home):
        return own
    from voice.logbook.database import open_local, reading
    from voice.logbook.importer import import_home
    from voice.logbook.sync import open_defects as merged

    engine = open_local(home)
    try:
        import_home(engine, home)
        with reading(engine) as session:
            lives = merged(session, vehicle)
    finally:
        engine.dispose()
    by_key = {defect.key: defect for defect in own}
    return [
        by_key.get(life.defect)
        or OpenDefect(
            life.defect, life.title, life.opened, life.first, Level(life.level).word, life.times, life.last,
            "repaired" if life.said_repaired else None,
        )
        for life in lives
    ]  # fmt: skip


def outlook(home: Path, vehicle: str) -> tuple[str, ...]:
    """Sentences to say of a vehicle's wear before a walk: limits soon reached, uneven wear. Empty without a logbook."""
    if not _kept(home):
        return ()
    from voice.judge.load import limit_files, load_limits
    from voice.logbook.database import open_local, reading
    from voice.logbook.trends import spoken_outlook

    engine = open_local(home)
    try:
        with reading(engine) as session:
            return spoken_outlook(session, vehicle, load_limits(limit_files(home)))
    finally:
        engine.dispose()
