"""Puts records and certifications into the logbook. All of a batch, or nothing.

Importing is idempotent (a record counts once, by its hash), does not mind the order, and two programs may import
records of one vehicle at once: each first locks the vehicles it will touch, in the same order as any other.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal

from sqlalchemy import bindparam, delete, select
from sqlalchemy.orm import Session

from voice.logbook.combinations import lay_to_units, target, waiting
from voice.logbook.insert import insert_many, insert_new, table_of
from voice.logbook.locking import lock_combinations, lock_vehicles
from voice.logbook.rows import Checked, Part, StoredReading
from voice.logbook.schema import (
    CertificationRow,
    DefectRow,
    DocumentRow,
    FactRow,
    ReadingRow,
    RecordRow,
    RecordUnitRow,
    SeriesRow,
)
from voice.measure.level import Level
from voice.record.lives import Fact, lives
from voice.record.repairs import Repair, repair_fact, repair_sha256
from voice.route.vehicle import Vehicle

Verdict = Literal["imported", "known", "set-aside"]
_SeriesId = tuple[int, str, str, str, str]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one thing handed in.

    what: the record's or the certified defect's id.
    reason: why it was set aside; else empty.
    kind: what it is.
    """

    what: str
    verdict: Verdict
    reason: str = ""
    kind: Literal["inspection", "certification"] = "inspection"


def import_records(session: Session, batch: Sequence[Checked], devices: Sequence[str]) -> list[Outcome]:
    """Outcomes in the order of the batch.

    devices: who handed in each. Call within database.writing().
    """
    named = {repair.vehicle for checked in batch for repair in checked.repairs}
    combinations = lock_combinations(session, batch, named)
    repairs = [repair for checked in batch for repair in checked.repairs]
    late = waiting(session, combinations)
    vehicles = lock_vehicles(session, _bare(repairs, combinations), batch)
    here = _known(session, batch)
    outcomes: list[Outcome] = []
    fresh: list[Checked] = []
    for checked in batch:
        known = here.get(checked.id)
        if known is None:
            here[checked.id] = checked.sha256
            fresh.append(checked)
            outcomes.append(Outcome(checked.id, "imported"))
        elif known == checked.sha256:
            outcomes.append(Outcome(checked.id, "known"))
        else:
            reason = f"Record {checked.id} is here already with other content; a signed record is never changed."
            outcomes.append(Outcome(checked.id, "set-aside", reason))
    if fresh:
        by = {checked.id: device for checked, device in zip(reversed(batch), reversed(devices), strict=True)}
        _add(session, fresh, vehicles, combinations, by)
    _refold(session, _add_facts(session, lay_to_units(session, late, combinations, vehicles)))
    return outcomes


def _bare(repairs: Iterable[Repair], combinations: Mapping[str, Vehicle]) -> set[str]:
    """The units that certifications are of, and of which nothing else may be known."""
    return {unit for repair in repairs for unit, _ in target(repair, combinations).facts}


def import_repairs(session: Session, repairs: Sequence[Repair], devices: Sequence[str]) -> list[Outcome]:
    """Certifications; each counts once. One of a vehicle that has no records yet waits for them."""
    combinations = lock_combinations(session, (), {repair.vehicle for repair in repairs})
    vehicles = lock_vehicles(session, _bare(repairs, combinations), ())
    hashes = [repair_sha256(repair) for repair in repairs]
    known = set(session.scalars(select(CertificationRow.sha256).where(CertificationRow.sha256.in_(hashes))))
    outcomes: list[Outcome] = []
    for repair, sha256 in zip(repairs, hashes, strict=True):
        verdict: Verdict = "known" if sha256 in known else "imported"
        outcomes.append(Outcome(repair.certification.key, verdict, kind="certification"))
        known.add(sha256)
    _refold(session, _add_repairs(session, list(zip(repairs, devices, strict=True)), vehicles, combinations))
    return outcomes


def _known(session: Session, batch: Sequence[Checked]) -> dict[str, str]:
    ids = [checked.id for checked in batch]
    found = session.execute(select(RecordRow.id, RecordRow.sha256).where(RecordRow.id.in_(ids)))
    return {row.id: row.sha256 for row in found}


def _add(
    session: Session,
    fresh: Sequence[Checked],
    vehicles: Mapping[str, int],
    combinations: Mapping[str, Vehicle],
    devices: Mapping[str, str],
) -> None:
    rows = [
        {
            "id": checked.id,
            "sha256": checked.sha256,
            "vehicle": vehicles[checked.parts[0].unit],
            "route": checked.route,
            "kind": checked.kind,
            "kind_title": checked.kind_title,
            "driver": checked.driver,
            "device": devices[checked.id],
            "started": checked.started,
            "ended": checked.ended,
            "odometer": checked.odometer,
            "level": int(checked.level),
            "defects": checked.defects,
            "sections": json.dumps(checked.sections),
        }
        for checked in fresh
    ]
    insert_many(session, RecordRow, rows)
    ids = [checked.id for checked in fresh]
    found = session.execute(select(RecordRow.id, RecordRow.key).where(RecordRow.id.in_(ids)))
    keys = {row.id: row.key for row in found}
    insert_many(session, DocumentRow, [{"record": keys[checked.id], "body": checked.text} for checked in fresh])
    parts = [(checked, part, vehicles[part.unit]) for checked in fresh for part in checked.parts]
    about = [
        {"record": keys[checked.id], "vehicle": key, "level": int(part.level), "defects": part.defects}
        for checked, part, key in parts
    ]
    insert_many(session, RecordUnitRow, about)
    series = _series(session, parts)
    readings = [
        {
            "series": series[_series_id(key, taken)],
            "record": keys[checked.id],
            "nth": taken.nth,
            "at": checked.at,
            "odometer": part.odometer,
            "value": taken.value,
        }
        for checked, part, key in parts
        for taken in part.readings
    ]
    insert_many(session, ReadingRow, readings)
    touched = _add_facts(session, [(key, fact) for _, part, key in parts for fact in part.facts])
    repairs = [(repair, devices[checked.id]) for checked in fresh for repair in checked.repairs]
    _refold(session, touched | _add_repairs(session, repairs, vehicles, combinations))


def _series_id(vehicle: int, taken: StoredReading) -> _SeriesId:
    return (vehicle, taken.item, taken.place, taken.quantity, taken.name)


def _series(session: Session, parts: Sequence[tuple[Checked, Part, int]]) -> dict[_SeriesId, int]:
    wanted: dict[_SeriesId, StoredReading] = {}
    for _, part, vehicle in parts:
        for taken in part.readings:
            wanted.setdefault(_series_id(vehicle, taken), taken)
    known = _known_series(session, {id[0] for id in wanted})
    missing = [
        {
            "vehicle": id[0],
            "item": taken.item,
            "place": taken.place,
            "quantity": taken.quantity,
            "name": taken.name,
            "unit": taken.unit,
            "title": taken.title,
            "spoken": taken.spoken,
            "position": dict(taken.position),
        }
        for id, taken in wanted.items()
        if id not in known
    ]
    if missing:
        insert_new(session, SeriesRow, missing)
        known = _known_series(session, {id[0] for id in wanted})
    return known


def _known_series(session: Session, vehicles: set[int]) -> dict[_SeriesId, int]:
    query = select(
        SeriesRow.key, SeriesRow.vehicle, SeriesRow.item, SeriesRow.place, SeriesRow.quantity, SeriesRow.name
    ).where(SeriesRow.vehicle.in_(vehicles))
    return {(vehicle, item, place, what, name): key for key, vehicle, item, place, what, name in session.execute(query)}


def _add_facts(session: Session, facts: Iterable[tuple[int, Fact]]) -> set[tuple[int, str]]:
    rows = [
        {"vehicle": vehicle, **asdict(fact), "level": None if fact.level is None else int(fact.level)}
        for vehicle, fact in facts
    ]
    insert_new(session, FactRow, rows)
    return {(row["vehicle"], row["defect"]) for row in rows}


def _add_repairs(
    session: Session,
    repairs: Sequence[tuple[Repair, str]],
    vehicles: Mapping[str, int],
    combinations: Mapping[str, Vehicle],
) -> set[tuple[int, str]]:
    rows = []
    facts = []
    for repair, device in repairs:
        given, sha256 = repair.certification, repair_sha256(repair)
        to = target(repair, combinations)
        rows.append(
            {
                "sha256": sha256,
                "vehicle": vehicles[to.unit],
                "defect": to.key,
                "verdict": given.verdict,
                "name": given.name,
                "at": given.at,
                "remark": given.remark,
                "device": device,
            }
        )
        for unit, key in to.facts:
            own = Repair(unit, repair.record, given.model_copy(update={"key": key}))
            facts.append((vehicles[unit], repair_fact(own, sha256)))
    insert_new(session, CertificationRow, rows)
    return _add_facts(session, facts)


def _refold(session: Session, touched: set[tuple[int, str]]) -> None:
    """Make the lives of these defects again from their facts."""
    if not touched:
        return
    vehicles = {vehicle for vehicle, _ in touched}
    defects = {defect for _, defect in touched}
    facts: dict[tuple[int, str], list[Fact]] = {pair: [] for pair in touched}
    for row in session.scalars(select(FactRow).where(FactRow.vehicle.in_(vehicles), FactRow.defect.in_(defects))):
        if (row.vehicle, row.defect) in facts:
            level = None if row.level is None else Level(row.level)
            fact = Fact(row.defect, row.kind, row.source, row.at, row.title, level, row.by)  # type: ignore[arg-type]
            facts[row.vehicle, row.defect].append(fact)
    session.execute(
        delete(table_of(DefectRow)).where(DefectRow.vehicle == bindparam("of"), DefectRow.defect == bindparam("which")),
        [{"of": vehicle, "which": defect} for vehicle, defect in touched],
    )
    rows = [
        {"vehicle": vehicle, **{name: value for name, value in asdict(life).items() if name != "said"}}
        | {"level": int(life.level)}
        for (vehicle, _), said in facts.items()
        for life in lives(said)
    ]
    if rows:
        insert_many(session, DefectRow, rows)
