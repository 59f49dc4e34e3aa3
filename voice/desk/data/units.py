"""A unit in the logbook."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from voice.desk.page import RefusedError
from voice.logbook.schema import VehicleRow


def key_of(session: Session, unit: str) -> int:
    """The unit's key. Raises RefusedError if the logbook does not know it."""
    key = session.scalar(select(VehicleRow.key).where(VehicleRow.id == unit))
    if key is None:
        raise RefusedError(404, "nothing-here")
    return key
