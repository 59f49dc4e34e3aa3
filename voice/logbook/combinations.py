"""Older profiles that describe a tractor and a trailer in one: what is said under their id belongs to their units.

A certification of before units names the combination. Where the combination's make-up is known it is laid to the unit;
until then it waits under the combination's own id, as one of a vehicle without records always did.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from voice.logbook.insert import table_of
from voice.logbook.schema import CertificationRow, FactRow, VehicleRow
from voice.record.lives import Fact
from voice.record.model import Certification
from voice.record.repairs import Repair, Withdrawal, repair_fact
from voice.route.units import own_key, units_of, usual_unit
from voice.route.vehicle import UnitRef, Vehicle


@dataclass(frozen=True, slots=True)
class Target:
    """Where a certification goes.

    unit, key: of the unit that it is kept with.
    facts: (unit, key) of each unit that it may be said of. A key with neither axle nor unit is asked at one unit only,
        and of a defect that is not there a certification says nothing: so it is laid to each.
    """

    unit: str
    key: str
    facts: tuple[tuple[str, str], ...]


def target(repair: Repair, combinations: Mapping[str, Vehicle]) -> Target:
    """Where a certification goes: to its vehicle, or to a unit of the combination that it names."""
    key = repair.certification.key
    vehicle = combinations.get(repair.vehicle)
    if vehicle is None:
        return Target(repair.vehicle, key, ((repair.vehicle, key),))
    units = units_of(vehicle)
    facts = tuple((unit.id, own) for unit in units if (own := own_key(unit, key)) is not None)
    if not facts:  # an axle that it has not
        return Target(units[0].id, key, ((units[0].id, key),))
    usual = usual_unit(key.partition("#")[0].partition("@")[0]) if len(facts) > 1 else None
    kept = next((fact for fact in facts if _unit(units, fact[0]).unit == usual), facts[0])
    return Target(*kept, facts)


def _unit(units: Sequence[UnitRef], id: str) -> UnitRef:
    return next(unit for unit in units if unit.id == id)


def waiting(session: Session, combinations: Mapping[str, Vehicle]) -> list[tuple[CertificationRow, str]]:
    """Certifications that came before anybody knew what their vehicle is made of, each with that vehicle's id."""
    rows = session.execute(
        select(CertificationRow, VehicleRow.id, VehicleRow.profile)
        .join(VehicleRow, VehicleRow.key == CertificationRow.vehicle)
        .where(VehicleRow.id.in_(combinations))
    )
    return [(row, id) for row, id, profile in rows if "kind" not in profile]


def lay_to_units(
    session: Session,
    rows: Sequence[tuple[CertificationRow, str]],
    combinations: Mapping[str, Vehicle],
    vehicles: Mapping[str, int],
) -> list[tuple[int, Fact]]:
    """Lays what waited to the units, and takes the bare vehicles away. Returns the facts, to be added.

    rows: of `waiting`.
    vehicles: keys of the units by id.
    """
    facts: list[tuple[int, Fact]] = []
    bare = {row.vehicle for row, _ in rows}
    for row, vehicle in rows:
        if row.verdict == "withdrawn":
            # It is said of a certification, which stands in its fact; that one is laid to the units the same way.
            said = select(FactRow.source).where(FactRow.vehicle == row.vehicle, FactRow.kind == "withdrawn")
            source = session.scalar(said.where(FactRow.defect == row.defect, FactRow.at == row.at)) or ""
            back = Withdrawal(key=row.defect, certification=source.partition(":")[2], name=row.name, at=row.at)
            to = target(Repair(vehicle, "", back), combinations)
            for unit, key in to.facts:
                own = Repair(unit, "", back.model_copy(update={"key": key}))
                facts.append((vehicles[unit], repair_fact(own, row.sha256)))
            row.vehicle, row.defect = vehicles[to.unit], to.key
            continue
        verdict = "repaired" if row.verdict == "repaired" else "repair-unnecessary"
        given = Certification(key=row.defect, verdict=verdict, name=row.name, at=row.at, remark=row.remark)
        to = target(Repair(vehicle, "", given), combinations)
        for unit, key in to.facts:
            own = Repair(unit, "", given.model_copy(update={"key": key}))
            facts.append((vehicles[unit], repair_fact(own, row.sha256)))
        row.vehicle, row.defect = vehicles[to.unit], to.key
    if bare:
        session.flush()
        session.execute(delete(table_of(FactRow)).where(FactRow.vehicle.in_(bare)))
        session.execute(delete(table_of(VehicleRow)).where(VehicleRow.key.in_(bare)))
    return facts
