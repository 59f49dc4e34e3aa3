"""A unit in the logbook: the row of a unit, and the condition on records that are about it."""

from __future__ import annotations

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from voice.desk.page import RefusedError
from voice.logbook.schema import RecordRow, VehicleRow


def key_of(session: Session, unit: str) -> int:
    """The unit's key. Raises RefusedError if the logbook does not know it."""
    key = session.scalar(select(VehicleRow.key).where(VehicleRow.id == unit))
    if key is None:
        raise RefusedError(404, "nothing-here")
    return key


def name_of(session: Session, unit: str) -> str:
    return session.scalar(select(VehicleRow.name).where(VehicleRow.id == unit)) or unit


def about(key: object) -> ColumnElement[bool]:
    """The condition on RecordRow that a record is about the unit of that key (a number, or VehicleRow.key)."""
    return RecordRow.vehicle == key
