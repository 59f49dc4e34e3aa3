"""Locks what an import will touch: first the combinations, then the units, each in sorted order, so that two programs
that touch the same wait for each other and never in a circle."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import bindparam, select, update
from sqlalchemy.orm import Session

from voice.logbook.insert import insert_new, table_of
from voice.logbook.rows import Checked
from voice.logbook.schema import CombinationRow, VehicleRow
from voice.route.vehicle import Vehicle


def lock_combinations(session: Session, batch: Sequence[Checked], named: Iterable[str]) -> dict[str, Vehicle]:
    """The combinations of these records, and those of these ids that are known, brought to their latest and locked."""
    latest: dict[str, tuple[datetime, dict[str, Any]]] = {}
    for checked in batch:
        if checked.combination is not None:
            known = latest.get(checked.vehicle)
            if known is None or _is_later((checked.at, checked.combination), known):
                latest[checked.vehicle] = (checked.at, checked.combination)
    rows = [{"id": id, "profile": profile, "profile_at": at} for id, (at, profile) in sorted(latest.items())]
    there = set(session.scalars(select(CombinationRow.id).where(CombinationRow.id.in_(latest))))
    insert_new(session, CombinationRow, [row for row in rows if row["id"] not in there])
    found = session.scalars(
        select(CombinationRow)
        .where(CombinationRow.id.in_({*latest, *named}))
        .order_by(CombinationRow.id)
        .with_for_update()
    )
    made = {}
    for row in found:
        if row.id in latest and _is_later(latest[row.id], (row.profile_at, row.profile)):
            row.profile_at, row.profile = latest[row.id]
        made[row.id] = Vehicle.model_validate(row.profile)
    session.flush()
    return made


def lock_vehicles(session: Session, bare: Iterable[str], batch: Sequence[Checked]) -> dict[str, int]:
    """Rows of the vehicles, made if need be, brought to their latest profile, and locked. Keys by id.

    bare: vehicles of which nothing but the id is known.
    """
    never = datetime.fromtimestamp(0, UTC)
    latest: dict[str, tuple[datetime, dict[str, Any]]] = {id: (never, {"id": id, "name": id}) for id in bare}
    for checked in batch:
        for part in checked.parts:
            known = latest.get(part.unit)
            if known is None or _is_later((checked.at, part.profile), known):
                latest[part.unit] = (checked.at, part.profile)
    there = set(session.scalars(select(VehicleRow.id).where(VehicleRow.id.in_(latest))))
    rows = [
        {"id": id, "name": profile["name"], "profile": profile, "profile_at": at}
        for id, (at, profile) in sorted(latest.items(), key=lambda pair: pair[0])
        if id not in there
    ]
    insert_new(session, VehicleRow, rows)
    found = session.execute(
        select(VehicleRow.id, VehicleRow.key, VehicleRow.profile_at, VehicleRow.profile)
        .where(VehicleRow.id.in_(latest))
        .order_by(VehicleRow.id)
        .with_for_update()
    ).all()
    change = update(table_of(VehicleRow)).where(VehicleRow.key == bindparam("row"))
    seen, changed = [], []
    for id, key, at, profile in found:
        if _is_later(latest[id], (at, profile)):
            seen.append({"row": key, "profile_at": latest[id][0]})
            if latest[id][1] != profile:
                changed.append({"row": key, "name": latest[id][1]["name"], "profile": latest[id][1]})
    for names, newer in ((("profile_at",), seen), (("name", "profile"), changed)):
        if newer:
            session.execute(change.values({name: bindparam(name) for name in names}), newer)
    return {row.id: row.key for row in found}


def _is_later(one: tuple[datetime, dict[str, Any]], two: tuple[datetime, dict[str, Any]]) -> bool:
    """Whether a profile is of a later time; of the same moment one must win too, whichever came in first."""
    if one[0] != two[0]:
        return one[0] > two[0]
    return json.dumps(one[1], sort_keys=True) > json.dumps(two[1], sort_keys=True)
