"""What the logbook adds to a walk: the depot's open defects for the review, and the outlook on wear.

Without a logbook (never synced, or the extra not installed) the device's own records answer alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from voice.data import durable
from voice.errors import GladhandError
from voice.measure.level import Level
from voice.record.open_defects import OpenDefect
from voice.record.open_defects import open_defects as own_defects
from voice.route.units import units_of
from voice.route.vehicle import Vehicle

if TYPE_CHECKING:
    from sqlalchemy import Engine
    from sqlalchemy.orm import Session

PATIENCE = 3.0  # seconds to wait for another program that writes: a driver stands beside it


def _kept(home: Path) -> bool:
    return (home / "logbook.sqlite").exists() and find_spec("sqlalchemy") is not None


class LogbookError(GladhandError):
    """The device's logbook cannot be used. Its own records can: a walk goes on with voice.record.open_defects."""


@contextmanager
def _opened(home: Path) -> Iterator[Engine]:
    """The device's logbook. A damaged, locked or unreadable one is a LogbookError, whatever its library calls it."""
    from voice.logbook.database import open_local

    engine: Engine | None = None
    try:
        engine = open_local(home, patience=PATIENCE)
        yield engine
    except GladhandError as error:
        raise LogbookError(error.message, error.hint) from error
    except OSError as error:
        raise LogbookError(*durable.trouble(f"The logbook {home / 'logbook.sqlite'} cannot be used", error)) from error
    except Exception as error:
        raise LogbookError(
            f"The logbook {home / 'logbook.sqlite'} cannot be read: {type(error).__name__}.",
            "Move it away; it is made again from the sessions.",
        ) from error
    finally:
        if engine is not None:
            engine.dispose()


def open_defects(home: Path, vehicle: str | Vehicle) -> list[OpenDefect]:
    """Open defects of a vehicle, unit by unit, the worst and oldest first: this device's, and those of the last sync.

    vehicle: as it is put together now, or the id of a unit or of a combination.

    Other drivers' findings on the vehicle come from the depot; what was certified there no longer counts as open.
    Raises RecordError for the device's own records, LogbookError for the logbook.
    """
    own = own_defects(home, vehicle)
    if not _kept(home):
        return own
    with _opened(home) as engine:
        from voice.logbook.database import reading
        from voice.logbook.importer import import_home
        from voice.logbook.sync import open_defects as merged

        import_home(engine, home)
        with reading(engine) as session:
            lives = [(unit, life) for unit, _ in _units(session, vehicle) for life in merged(session, unit)]
    by_key = {(defect.unit, defect.key): defect for defect in own}
    return [
        by_key.get((unit, life.defect))
        or OpenDefect(
            life.defect, life.title, life.opened, life.first, Level(life.level).word, life.times, life.last,
            "repaired" if life.said_repaired else None, unit,
        )
        for unit, life in lives
    ]  # fmt: skip


def _units(session: Session, vehicle: str | Vehicle) -> list[tuple[str, int]]:
    """Ids of the units, each with how many axles stand before its own."""
    if isinstance(vehicle, Vehicle):
        return [(unit.id, unit.first_axle - 1) for unit in units_of(vehicle)]
    from voice.logbook.lookup import units_named

    return [(unit, 0) for unit in units_named(session, [vehicle])]


def outlook(home: Path, vehicle: str | Vehicle) -> tuple[str, ...]:
    """Sentences to say of a vehicle's wear before a walk: limits soon reached, uneven wear. Empty without a logbook.

    vehicle: as in open_defects. Axles are called by their numbers on it.

    Raises LogbookError, and DataError for a limits file.
    """
    if not _kept(home):
        return ()
    from voice.judge.load import limits_of

    now = datetime.now(UTC)
    limits = limits_of(home, now.astimezone().date())
    with _opened(home) as engine:
        from voice.logbook.database import reading
        from voice.logbook.trends import spoken_outlook

        with reading(engine) as session:
            units = _units(session, vehicle)
            told = [spoken_outlook(session, unit, limits, now, ahead=ahead) for unit, ahead in units]
    return tuple(sentence for sentences in told for sentence in sentences)
