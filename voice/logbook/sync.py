"""A device and its depot: hands in what the device has, takes back the open defects of its vehicles.

At least once: a record is handed in, the depot's database confirms that it is on its disk, and only then is it noted
here as sent. If either side or the link dies in between it is handed in again, and the depot knows it by its hash. The
session's own folder is never touched: it stays the truth.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, column, delete, func, insert, select, table, update
from sqlalchemy.orm import Session

from voice.errors import RecordError, SetupError
from voice.logbook.columns import BODY_BYTES, RECORD_BYTES
from voice.logbook.database import inbox_is_full, plain, reading, writing
from voice.logbook.importer import import_home, session_records
from voice.logbook.insert import insert_new
from voice.logbook.lookup import open_lives, units_named, vehicle_row
from voice.logbook.rows import UnsignedError, check_record
from voice.logbook.schema import (
    CombinationRow,
    FactRow,
    InboxRow,
    PulledDefectRow,
    PulledVehicleRow,
    SentRow,
    VehicleRow,
)
from voice.logbook.set_aside import set_aside
from voice.measure.level import Level
from voice.record.device import trusted_keys
from voice.record.lives import Life
from voice.record.repairs import repair_lines
from voice.route.called import in_unit_words
from voice.route.model import Place
from voice.route.units import axle_of, in_unit, usual_unit
from voice.route.vehicle import Vehicle

BATCH = 20  # handed in with one confirmation: little to repeat on a bad link

_depot = table("device_depot", column("id"))
_vehicles = table("device_vehicles", column("vehicle"))
_receipts = table("device_receipts", column("sha256"), column("done"), column("verdict"), column("reason"))
_open = table(
    "device_open_defects",
    column("vehicle"),
    column("defect"),
    column("title"),
    column("level"),
    column("opened", PulledDefectRow.opened.type),
    column("seen", PulledDefectRow.seen.type),
    column("record"),
)


@dataclass(slots=True)
class Synced:
    """What a sync did.

    sent: handed in now.
    refused: (what, reason) set aside here or at the depot.
    unsigned: left.
    """

    sent: int = 0
    known: int = 0
    unsigned: int = 0
    waiting: int = 0
    vehicles: tuple[str, ...] = ()
    open_defects: int = 0
    refused: list[tuple[str, str]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Parcel:
    """One thing to hand in.

    what: "record:ID" or "repair:HASH".
    body: compressed JSON.
    sha256: of body.
    """

    what: str
    kind: str
    body: bytes
    sha256: str


def sync(
    home: Path, local: Engine, depot: Engine, *, everything: bool = False, told: Callable[[str], None] = lambda _: None
) -> Synced:
    """Hand in and take back.

    everything: hand in also what was confirmed before (a depot restored from a copy).
    told: is given a line after each confirmed batch. Raises SetupError if the depot cannot be reached or refuses;
    what was confirmed until then stays noted.
    """
    report = Synced()
    import_home(local, home)
    with reading(depot) as session:
        depot_id = str(session.scalars(select(_depot.c.id)).one())
    with reading(local) as session:
        sent = set(session.scalars(select(SentRow.sha256).where(SentRow.depot == depot_id)))
    full: SetupError | None = None
    try:
        parcels = _parcels(home, report, set() if everything else sent)
        while batch := list(islice(parcels, BATCH)):
            _hand_in(local, depot, depot_id, batch, report, told)
    except SetupError as error:
        if not inbox_is_full(error):
            raise
        full = error  # what others found is taken back all the same
    _take_back(local, depot, depot_id, report)
    if full is not None:
        raise full
    return report


def _parcels(home: Path, report: Synced, sent: set[str]) -> Iterator[Parcel]:
    """What there is to hand in, checked; what was confirmed before is only counted."""
    trusted = trusted_keys(home)
    for file in session_records(home):
        name = f"{file.parent.name}/{file.name}"
        try:
            text = file.read_bytes()
        except OSError as error:
            report.refused.append((name, f"It cannot be read: {error.strerror}."))
            continue
        body, sha256 = _packed(text)
        if sha256 in sent:
            report.known += 1
            continue
        try:
            record = check_record(text, name, trusted)
            if len(body) > BODY_BYTES or len(text) > RECORD_BYTES:
                raise RecordError(f"{name} is too large for a depot.", "It is not as the program wrote it.")
        except UnsignedError:
            report.unsigned += 1
        except Exception as error:  # whatever is wrong with one, the others are handed in
            reason = str(error) if isinstance(error, RecordError) else plain(error)
            set_aside(home, name, text, reason)
            report.refused.append((name, reason))
        else:
            yield Parcel(f"record:{record.id}", "record", body, sha256)
    try:
        lines = repair_lines(home)
    except RecordError as error:
        report.refused.append(("repairs.jsonl", str(error)))
        return
    for line in lines:
        body, sha256 = _packed(line)
        if sha256 in sent:
            report.known += 1
        else:
            yield Parcel(f"repair:{hashlib.sha256(line).hexdigest()}", "repair", body, sha256)


def _packed(text: bytes) -> tuple[bytes, str]:
    body = zlib.compress(text, 6)
    return body, hashlib.sha256(body).hexdigest()


def _hand_in(
    local: Engine, depot: Engine, depot_id: str, batch: list[Parcel], report: Synced, told: Callable[[str], None]
) -> None:
    with writing(depot) as session:
        rows = [{"sha256": parcel.sha256, "kind": parcel.kind, "body": parcel.body} for parcel in batch]
        insert_new(session, InboxRow, rows)
    # Only now, after the depot's commit. To die here means to hand it in once more, and the depot knows it already.
    with writing(local) as session:
        now = datetime.now(UTC)
        insert_new(
            session,
            SentRow,
            [
                {"depot": depot_id, "sha256": parcel.sha256, "what": parcel.what, "at": now, "outcome": "sent"}
                for parcel in batch
            ],
        )
    report.sent += len(batch)
    told(f"{report.sent} handed in")


def _take_back(local: Engine, depot: Engine, depot_id: str, report: Synced) -> None:
    # One snapshot: a receipt and the open defects it led to belong together.
    snapshot = depot.execution_options(isolation_level="REPEATABLE READ") if depot.name == "postgresql" else depot
    with reading(snapshot) as session:
        vehicles = sorted(session.scalars(select(_vehicles.c.vehicle)))
        defects = [dict(row) for row in session.execute(select(_open)).mappings()]
        receipts = session.execute(
            select(_receipts.c.sha256, _receipts.c.verdict, _receipts.c.reason).where(_receipts.c.done.is_not(None))
        ).all()
    with writing(local) as session:
        for sha256, verdict, reason in receipts:
            session.execute(
                update(SentRow)
                .where(SentRow.depot == depot_id, SentRow.sha256 == sha256)
                .values(outcome=verdict, reason=reason)
            )
        vehicles, defects = by_unit(session, vehicles, defects)
        session.execute(delete(PulledDefectRow))
        session.execute(delete(PulledVehicleRow))
        if vehicles:
            now = datetime.now(UTC)
            session.execute(insert(PulledVehicleRow), [{"vehicle": vehicle, "at": now} for vehicle in vehicles])
        if defects:
            session.execute(insert(PulledDefectRow), defects)
        mine = session.execute(select(SentRow.what, SentRow.outcome, SentRow.reason).where(SentRow.depot == depot_id))
        for what, outcome, reason in mine:
            report.waiting += outcome == "sent"
            if outcome == "set-aside":
                report.refused.append((what, f"The depot set it aside: {reason}"))
    report.vehicles, report.open_defects = tuple(vehicles), len(defects)


def by_unit(
    session: Session, vehicles: Iterable[str], defects: Iterable[dict[str, Any]]
) -> tuple[list[str], list[dict[str, Any]]]:
    """What a depot of before units tells of combinations, laid to their units, as far as they are known here."""
    names = list(vehicles)
    known = select(CombinationRow.id, CombinationRow.profile).where(CombinationRow.id.in_(names))
    made = {id: Vehicle.model_validate(profile) for id, profile in session.execute(known)}
    found = []
    for row in defects:
        vehicle, key = made.get(row["vehicle"]), row["defect"]
        if vehicle is not None:
            usual = usual_unit(key.partition("#")[0].partition("@")[0])
            unit, own = in_unit(vehicle, key, Place(unit=usual))
            title = in_unit_words(row["title"], axle_of(key), axle_of(own))
            row = {**row, "vehicle": unit, "defect": own, "title": title}
        found.append(row)
    return units_named(session, names), found


def refuse_unknown(session: Session, vehicle: str) -> None:
    """Raises SetupError for a vehicle that neither this logbook nor the depot's last answer knows."""
    if session.get(PulledVehicleRow, vehicle) is None:
        for unit in units_named(session, [vehicle]):
            vehicle_row(session, unit)


def open_defects(session: Session, vehicle: str) -> list[Life]:
    """What is open on a unit, or on those of a combination, as far as this device knows: its own logbook and the
    depot's, the worst first.

    session: of the device's own logbook. Open here but no longer at the depot, which has the record that saw it last:
    closed there. Open at the depot but certified here since: closed, until the depot has that certification and still
    says that it is open, for then it was withdrawn. In doubt it stays open.
    """
    found = [life for unit in units_named(session, [vehicle]) for life in _open_of(session, unit)]
    return sorted(found, key=lambda life: (-life.level, life.opened, life.defect))


def _open_of(session: Session, vehicle: str) -> list[Life]:
    own = {life.defect: life for life in open_lives(session, vehicle)}
    asked = session.get(PulledVehicleRow, vehicle)
    if asked is None:
        return list(own.values())
    unsettled = select(SentRow.what).where(SentRow.what.startswith("repair:"), SentRow.outcome == "sent").limit(1)
    depot_knows_all = session.scalar(unsettled) is None  # of what was certified before it was asked
    pulled = {
        row.defect: Life(
            row.defect, 1, row.title, Level(row.level), row.opened, row.seen, 1, row.record, row.record
        )
        for row in session.scalars(select(PulledDefectRow).where(PulledDefectRow.vehicle == vehicle))
    }  # fmt: skip
    arrived = select(SentRow.what).where(SentRow.outcome.in_(("imported", "known")))
    there = set(session.scalars(arrived.where(SentRow.what.in_([f"record:{life.last}" for life in own.values()]))))
    # The latest certification, also one of a defect that is closed here by an earlier one: the depot may know that the
    # earlier was withdrawn.
    given = (
        select(FactRow.defect, func.max(FactRow.at))
        .join(VehicleRow, VehicleRow.key == FactRow.vehicle)
        .where(VehicleRow.id == vehicle, FactRow.kind.startswith("certified-"))
        .group_by(FactRow.defect)
    )
    closed_at = {defect: at for defect, at in session.execute(given) if defect not in own}
    merged = {key: life for key, life in own.items() if key in pulled or f"record:{life.last}" not in there}
    for key, life in pulled.items():
        closed = closed_at.get(key)
        if key not in merged and (closed is None or closed < life.seen or (closed < asked.at and depot_knows_all)):
            merged[key] = life
    return list(merged.values())
