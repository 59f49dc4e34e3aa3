"""A unit as it was walked last: alone, or in a combination. Limits ask for it, as those of air loss do."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError
from sqlalchemy import select
from sqlalchemy.orm import Session

from voice.errors import DataError
from voice.logbook.schema import RecordRow, RecordUnitRow, VehicleRow
from voice.route.units import combine
from voice.route.vehicle import Vehicle


def profile_of(session: Session, vehicle: str) -> Vehicle | None:
    """The unit as its latest record describes it; None if no record is known."""
    return _read(session.scalar(select(VehicleRow.profile).where(VehicleRow.id == vehicle)))


def _read(content: Any) -> Vehicle | None:
    try:
        return None if content is None else Vehicle.model_validate(content)
    except ValidationError:
        return None  # only certifications of it are here so far


def walked_as(session: Session, unit: str) -> tuple[Vehicle, int] | None:
    """What was walked in the unit's latest record, and how many axles of it are ahead of the unit's first.

    The unit itself where it was walked alone, or where the two cannot be put together any more. None if no record of it
    is known.
    """
    own = profile_of(session, unit)
    if own is None:
        return None
    latest = session.scalar(
        select(RecordUnitRow.record)
        .join(RecordRow, RecordRow.key == RecordUnitRow.record)
        .join(VehicleRow, VehicleRow.key == RecordUnitRow.vehicle)
        .where(VehicleRow.id == unit)
        .order_by(RecordRow.started.desc(), RecordRow.id.desc())
        .limit(1)
    )
    beside = session.scalars(
        select(VehicleRow.profile)
        .join(RecordUnitRow, RecordUnitRow.vehicle == VehicleRow.key)
        .where(RecordUnitRow.record == latest, VehicleRow.id != unit)
    )
    other = next((found for found in map(_read, beside) if found is not None), None)
    if other is None:
        return own, 0
    ahead, behind = (own, other) if own.kind == "tractor" else (other, own)
    try:
        # Its id is of no use here, and might be too long for one: limits ask for what it is.
        whole = combine(ahead.model_copy(update={"id": "ahead"}), behind.model_copy(update={"id": "behind"}))
    except DataError:
        return own, 0
    return whole, 0 if own is ahead else len(ahead.axles)
