"""What the logbook knows of one vehicle or record."""

from __future__ import annotations

from sqlalchemy import ColumnElement, and_, func, select
from sqlalchemy.orm import Session

from voice.errors import SetupError
from voice.logbook.schema import CertificationRow, DefectRow, FactRow, VehicleRow
from voice.measure.level import Level
from voice.measure.telling import System
from voice.record.lives import Life


def vehicle_row(session: Session, vehicle: str) -> VehicleRow:
    """The vehicle. Raises SetupError if the logbook does not know it."""
    row = session.scalar(select(VehicleRow).where(VehicleRow.id == vehicle))
    if row is None:
        known = session.scalars(select(VehicleRow.id).order_by(VehicleRow.id).limit(8)).all()
        hint = f"Known are: {', '.join(known)}." if known else "Import inspections first: gladhand logbook import."
        raise SetupError(f"The logbook knows no vehicle '{vehicle}'.", hint)
    return row


def open_lives(session: Session, vehicle: str) -> list[Life]:
    """Open defects of a vehicle, the worst and oldest first."""
    query = (
        select(DefectRow)
        .join(VehicleRow, VehicleRow.key == DefectRow.vehicle)
        .where(VehicleRow.id == vehicle, DefectRow.closed.is_(None))
    )
    found = [to_life(row) for row in session.scalars(query)]
    return sorted(found, key=lambda life: (-life.level, life.opened, life.defect))


def all_lives(session: Session, vehicle: str) -> list[Life]:
    """Every life of every defect of a vehicle, oldest first."""
    query = (
        select(DefectRow)
        .join(VehicleRow, VehicleRow.key == DefectRow.vehicle)
        .where(VehicleRow.id == vehicle)
        .order_by(DefectRow.opened, DefectRow.defect)
    )
    return [to_life(row) for row in session.scalars(query)]


def stands(vehicle: int) -> ColumnElement[bool]:
    """The condition on CertificationRow that it is a certification, and not withdrawn.

    vehicle: its key.
    """
    back = select(func.substr(FactRow.source, len("certification:") + 1)).where(
        FactRow.vehicle == vehicle, FactRow.kind == "withdrawn"
    )
    return and_(CertificationRow.verdict != "withdrawn", CertificationRow.sha256.not_in(back))


def to_life(row: DefectRow) -> Life:
    return Life(
        row.defect, row.number, row.title, Level(row.level), row.opened, row.seen, row.times, row.first, row.last,
        row.said_repaired, row.closed, row.verdict, row.by,
    )  # fmt: skip


def display_systems(session: Session) -> dict[str, System]:
    """The units that each vehicle's readings are shown in, by its id."""
    found = session.execute(select(VehicleRow.id, VehicleRow.profile))
    return {id: "si" if profile.get("display_units") == "si" else "us" for id, profile in found}
