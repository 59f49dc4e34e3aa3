"""What the logbook knows of one vehicle or record."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import ColumnElement, and_, select
from sqlalchemy.orm import Session

from voice.errors import SetupError
from voice.logbook.schema import CertificationRow, CombinationRow, DefectRow, FactRow, VehicleRow
from voice.measure.level import Level
from voice.measure.telling import System
from voice.record.lives import Life
from voice.route.units import units_of
from voice.route.vehicle import Vehicle


class Signed(NamedTuple):
    """A certification, or a withdrawal of one.

    verdict: "repaired", "repair-unnecessary", "withdrawn".
    """

    defect: str
    verdict: str
    name: str
    at: datetime
    remark: str


def vehicle_row(session: Session, vehicle: str) -> VehicleRow:
    """The vehicle. Raises SetupError if the logbook does not know it."""
    row = session.scalar(select(VehicleRow).where(VehicleRow.id == vehicle))
    if row is None:
        known = session.scalars(select(VehicleRow.id).order_by(VehicleRow.id).limit(8)).all()
        hint = f"Known are: {', '.join(known)}." if known else "Import inspections first: gladhand logbook import."
        raise SetupError(f"The logbook knows no vehicle '{vehicle}'.", hint)
    return row


def units_named(session: Session, names: Iterable[str]) -> list[str]:
    """The ids of units that are meant by these: those of a combination for the id of its older profile; else as given.

    An id that is not known here is left as it is.
    """
    wanted = list(names)
    known = select(CombinationRow.id, CombinationRow.profile).where(CombinationRow.id.in_(wanted))
    units = {id: [unit.id for unit in units_of(Vehicle.model_validate(what))] for id, what in session.execute(known)}
    return [unit for name in wanted for unit in units.get(name, [name])]


def known_units(session: Session, names: Iterable[str]) -> bool:
    """Whether each of these is a unit, or a combination, of this logbook."""
    units = set(units_named(session, names))
    return units <= set(session.scalars(select(VehicleRow.id).where(VehicleRow.id.in_(units))))


def open_lives(session: Session, vehicle: str) -> list[Life]:
    """Open defects of a unit, or of the units of a combination, the worst and oldest first."""
    query = (
        select(DefectRow)
        .join(VehicleRow, VehicleRow.key == DefectRow.vehicle)
        .where(VehicleRow.id.in_(units_named(session, [vehicle])), DefectRow.closed.is_(None))
    )
    found = [to_life(row) for row in session.scalars(query)]
    return sorted(found, key=lambda life: (-life.level, life.opened, life.defect))


def all_lives(session: Session, vehicle: str) -> list[Life]:
    """Every life of every defect of a unit, or of the units of a combination, oldest first."""
    query = (
        select(DefectRow)
        .join(VehicleRow, VehicleRow.key == DefectRow.vehicle)
        .where(VehicleRow.id.in_(units_named(session, [vehicle])))
        .order_by(DefectRow.opened, DefectRow.defect)
    )
    return [to_life(row) for row in session.scalars(query)]


def entries_of(session: Session, vehicle: int) -> tuple[Signed, ...]:
    """Every certification and withdrawal of a unit, the newest first.

    vehicle: its key.
    """
    query = select(CertificationRow).where(CertificationRow.vehicle == vehicle).order_by(CertificationRow.at.desc())
    return tuple(Signed(r.defect, r.verdict, r.name, r.at, r.remark) for r in session.scalars(query))


def stands() -> ColumnElement[bool]:
    """The condition on CertificationRow that it is a certification, and not withdrawn."""
    back = (
        select(FactRow.source)
        .where(
            FactRow.vehicle == CertificationRow.vehicle,
            FactRow.kind == "withdrawn",
            FactRow.source == "certification:" + CertificationRow.sha256,
        )
        .exists()
    )
    return and_(CertificationRow.verdict != "withdrawn", ~back)


def to_life(row: DefectRow) -> Life:
    return Life(
        row.defect, row.number, row.title, Level(row.level), row.opened, row.seen, row.times, row.first, row.last,
        row.said_repaired, row.closed, row.verdict, row.by,
    )  # fmt: skip


def display_systems(session: Session) -> dict[str, System]:
    """The units that each vehicle's readings are shown in, by its id."""
    found = session.execute(select(VehicleRow.id, VehicleRow.profile))
    return {id: "si" if profile.get("display_units") == "si" else "us" for id, profile in found}
