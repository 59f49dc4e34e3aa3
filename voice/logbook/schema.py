"""The logbook's tables. One set for SQLite and PostgreSQL; what only PostgreSQL can do is in roles.py.

What is written down once and never changed: record, document, reading, fact, certification. What is made from that and
can always be made again: vehicle (its latest profile), record_unit, series, defect. A record's full text is kept apart
(document), so that the tables asked every day stay narrow.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import (
    ForeignKey,
    Index,
    SmallInteger,
    UniqueConstraint,
    func,
    text,
)
from sqlalchemy.orm import Mapped, mapped_column

from voice.logbook.kinds import Base, Key


class Identity(Base):
    """One row: which logbook this is. A device remembers by it what it has sent where."""

    __tablename__ = "identity"
    id: Mapped[str] = mapped_column(primary_key=True)
    made: Mapped[datetime] = mapped_column(server_default=func.now())


class VehicleRow(Base):
    """A unit (a truck, a bus, a tractor, a trailer), as the latest of its records describes it."""

    __tablename__ = "vehicle"
    key: Mapped[int] = mapped_column(Key, primary_key=True)
    id: Mapped[str] = mapped_column(unique=True)
    name: Mapped[str]
    profile: Mapped[dict[str, Any]]
    profile_at: Mapped[datetime]


class CombinationRow(Base):
    """An older profile that describes a tractor and a trailer in one, as the latest of its records has it.

    What was certified, and granted to devices, under its id is its units' (voice.route.units).
    """

    __tablename__ = "combination"
    id: Mapped[str] = mapped_column(primary_key=True)
    profile: Mapped[dict[str, Any]]
    profile_at: Mapped[datetime]


class RecordRow(Base):
    """One inspection.

    vehicle: the unit at its head, whose odometer it is.
    kind, kind_title: which kind of inspection it was; None where the record does not say, as none did before there were
        kinds.
    level: worst finding (voice.judge.model.Level).
    odometer: miles.
    sections: [section id, title, seconds, entries] of each section.
    pruned: when its text and names were removed; the row stays, so that a device that sends it once more does not bring
        it back.
    """

    __tablename__ = "record"
    key: Mapped[int] = mapped_column(Key, primary_key=True)
    id: Mapped[str] = mapped_column(unique=True)
    sha256: Mapped[str] = mapped_column(unique=True)
    vehicle: Mapped[int] = mapped_column(ForeignKey("vehicle.key"))
    route: Mapped[str]
    kind: Mapped[str | None]
    kind_title: Mapped[str | None]
    driver: Mapped[str | None]
    device: Mapped[str]
    started: Mapped[datetime]
    ended: Mapped[datetime | None]
    odometer: Mapped[float | None]
    level: Mapped[int] = mapped_column(SmallInteger)
    defects: Mapped[int] = mapped_column(SmallInteger)
    sections: Mapped[list[Any]]
    imported: Mapped[datetime] = mapped_column(server_default=func.now())
    pruned: Mapped[datetime | None]

    __table_args__ = (
        Index(None, "vehicle", "started"),
        Index(None, "started"),
        Index(None, "driver", "started"),
        Index(None, "kind", "started"),
    )


class RecordUnitRow(Base):
    """A unit that a record is about, with the worst finding and the number of defects on this unit alone."""

    __tablename__ = "record_unit"
    record: Mapped[int] = mapped_column(ForeignKey("record.key"), primary_key=True, autoincrement=False)
    vehicle: Mapped[int] = mapped_column(ForeignKey("vehicle.key"), primary_key=True, autoincrement=False)
    level: Mapped[int] = mapped_column(SmallInteger)
    defects: Mapped[int] = mapped_column(SmallInteger)

    __table_args__ = (Index(None, "vehicle", "record"),)


class DocumentRow(Base):
    """A record's own text as it came, compressed by zlib."""

    __tablename__ = "document"
    record: Mapped[int] = mapped_column(ForeignKey("record.key"), primary_key=True, autoincrement=False)
    body: Mapped[bytes]


class SeriesRow(Base):
    """One quantity at one position of one vehicle, with the numbers of its own axles.

    unit: the unit its readings are kept in.
    spoken: the position.
    """

    __tablename__ = "series"
    key: Mapped[int] = mapped_column(Key, primary_key=True)
    vehicle: Mapped[int] = mapped_column(ForeignKey("vehicle.key"))
    item: Mapped[str]
    place: Mapped[str]
    quantity: Mapped[str]
    name: Mapped[str]
    unit: Mapped[str]
    title: Mapped[str]
    spoken: Mapped[str]
    position: Mapped[dict[str, Any]]

    __table_args__ = (UniqueConstraint("vehicle", "item", "place", "quantity", "name"),)


class ReadingRow(Base):
    """One measured value in its series' unit.

    nth: counts those of one series in one record.
    odometer: the unit's own, miles: a trailer's is its hubodometer.
    """

    __tablename__ = "reading"
    series: Mapped[int] = mapped_column(ForeignKey("series.key"), primary_key=True, autoincrement=False)
    record: Mapped[int] = mapped_column(ForeignKey("record.key"), primary_key=True, autoincrement=False)
    nth: Mapped[int] = mapped_column(SmallInteger, primary_key=True, autoincrement=False)
    at: Mapped[datetime]
    odometer: Mapped[float | None]
    value: Mapped[float]


class CertificationRow(Base):
    """A mechanic's or carrier's certification (49 CFR 396.11(a)(3)).

    sha256: over its content, so it counts once.
    """

    __tablename__ = "certification"
    key: Mapped[int] = mapped_column(Key, primary_key=True)
    sha256: Mapped[str] = mapped_column(unique=True)
    vehicle: Mapped[int] = mapped_column(ForeignKey("vehicle.key"))
    defect: Mapped[str]
    verdict: Mapped[str]
    name: Mapped[str]
    at: Mapped[datetime]
    remark: Mapped[str]
    device: Mapped[str]

    __table_args__ = (Index(None, "vehicle", "defect"),)


class FactRow(Base):
    """Something said of one defect of one unit at one time.

    source: "record:ID" or "certification:SHA256".
    """

    __tablename__ = "fact"
    vehicle: Mapped[int] = mapped_column(ForeignKey("vehicle.key"), primary_key=True, autoincrement=False)
    defect: Mapped[str] = mapped_column(primary_key=True)
    source: Mapped[str] = mapped_column(primary_key=True)
    kind: Mapped[str] = mapped_column(primary_key=True)
    at: Mapped[datetime]
    level: Mapped[int | None] = mapped_column(SmallInteger)
    title: Mapped[str]
    by: Mapped[str | None]


class DefectRow(Base):
    """One life of a defect, from found to certified; number counts its lives from 1. Made from the facts.

    closed is None while it is open.
    first, last: ids of the records that found it and that saw it last.
    """

    __tablename__ = "defect"
    vehicle: Mapped[int] = mapped_column(ForeignKey("vehicle.key"), primary_key=True, autoincrement=False)
    defect: Mapped[str] = mapped_column(primary_key=True)
    number: Mapped[int] = mapped_column(SmallInteger, primary_key=True, autoincrement=False)
    title: Mapped[str]
    level: Mapped[int] = mapped_column(SmallInteger)
    opened: Mapped[datetime]
    seen: Mapped[datetime]
    times: Mapped[int]
    first: Mapped[str]
    last: Mapped[str]
    said_repaired: Mapped[datetime | None]
    closed: Mapped[datetime | None]
    verdict: Mapped[str | None]
    by: Mapped[str | None]

    __table_args__ = (
        Index(
            "ix_defect_open", "vehicle", postgresql_where=text("closed IS NULL"), sqlite_where=text("closed IS NULL")
        ),
    )


class InboxRow(Base):
    """What a device handed in, until the depot has looked at it.

    sha256: of body as sent.
    body: JSON compressed by zlib; emptied once it is in the logbook, kept if it was set aside.
    verdict: "imported", "known" (was there already) or "set-aside" with the reason.
    """

    __tablename__ = "inbox"
    device: Mapped[str] = mapped_column(
        primary_key=True,
        server_default=text("'local'"),  # PostgreSQL: the role's name; see the migration
    )
    sha256: Mapped[str] = mapped_column(primary_key=True)
    kind: Mapped[str]
    body: Mapped[bytes]
    received: Mapped[datetime] = mapped_column(server_default=func.now())
    done: Mapped[datetime | None]
    verdict: Mapped[str | None]
    reason: Mapped[str | None]

    __table_args__ = (
        Index("ix_inbox_waiting", "received", postgresql_where=text("done IS NULL"), sqlite_where=text("done IS NULL")),
        Index(
            "ix_inbox_held",
            "device",
            postgresql_where=text("done IS NULL OR verdict = 'set-aside'"),
            sqlite_where=text("done IS NULL OR verdict = 'set-aside'"),
        ),
        Index("ix_inbox_device_received", "device", "received"),
    )


class DeviceVehicleRow(Base):
    """Depot: which vehicles' open defects a device may read.

    vehicle: its id, which need not have records yet.
    """

    __tablename__ = "device_vehicle"
    device: Mapped[str] = mapped_column(primary_key=True)
    vehicle: Mapped[str] = mapped_column(primary_key=True)


class SentRow(Base):
    """Device: what a depot has safely received.

    outcome: "sent", then the depot's verdict.
    """

    __tablename__ = "sent"
    depot: Mapped[str] = mapped_column(primary_key=True)
    sha256: Mapped[str] = mapped_column(primary_key=True)
    what: Mapped[str] = mapped_column(index=True)
    at: Mapped[datetime]
    outcome: Mapped[str]
    reason: Mapped[str | None]


class PulledVehicleRow(Base):
    """Device: a vehicle the depot lets this device read, and when it last did."""

    __tablename__ = "pulled_vehicle"
    vehicle: Mapped[str] = mapped_column(primary_key=True)
    at: Mapped[datetime]


class PulledDefectRow(Base):
    """Device: an open defect as the depot had it at the last sync."""

    __tablename__ = "pulled_defect"
    vehicle: Mapped[str] = mapped_column(primary_key=True)
    defect: Mapped[str] = mapped_column(primary_key=True)
    title: Mapped[str]
    level: Mapped[int] = mapped_column(SmallInteger)
    opened: Mapped[datetime]
    seen: Mapped[datetime]
    record: Mapped[str]
