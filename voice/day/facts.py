"""What the records of a home say for the day: each signed inspection, and what of it counts on the road."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path

from voice.day.duty import Telling, read_duty
from voice.day.rules import DayRules, Role, day_rules
from voice.day.spans import Duty, Inspection, Span, spans
from voice.errors import DataError, RecordError, tell
from voice.record.cosign import cosignatures
from voice.record.load import load_record
from voice.record.model import InspectionRecord
from voice.record.past import miles_of
from voice.record.repairs import Repair, read_repairs, standing
from voice.route.kinds import own_kinds
from voice.route.units import named_vehicle, units_of

_SESSION = re.compile(r"(\d{8})-\d{6}-")  # as voice.journal.folder makes its id
_EITHER_SIDE = timedelta(days=1)  # a trip that began yesterday still goes on; and clocks have offsets


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a few days.

    records: signed, oldest first.
    duties: changes of duty.
    repairs: certifications.
    seconds: who signed a record too, by its id.
    """

    records: tuple[InspectionRecord, ...]
    duties: tuple[Duty, ...] = ()
    repairs: tuple[Repair, ...] = ()
    seconds: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def read_known(home: Path, day: date, aside: Telling = tell) -> Known:
    """The records of a day and of those beside it. Raises RecordError.

    aside: is told what cannot be read; it is left out.
    """
    records = []
    for file in sorted((home / "sessions").glob("*/record.json")):
        if not _near(file.parent.name, day):
            continue
        try:
            record = load_record(file)
        except RecordError as error:
            aside(RecordError(f"{error.message} The day is told without it.", error.hint))
            continue
        if record.sign_off is not None:
            records.append(record)
    return Known(
        in_order(records),
        tuple(read_duty(home, aside)),
        tuple(standing(read_repairs(home))),
        _seconds(home, records, aside),
    )


def _seconds(home: Path, records: Iterable[InspectionRecord], aside: Telling) -> dict[str, tuple[str, ...]]:
    """Second signatures of these records, of the very text that they have."""
    try:
        signed = {record.id: [(record.record_sha256, c) for c in cosignatures(home, record)] for record in records}
    except RecordError as error:
        aside(error)
        return {}
    return {name: tuple(c.name for sha256, c in each if c.record_sha256 == sha256) for name, each in signed.items()}


def rules_for(home: Path, aside: Telling = tell) -> DayRules:
    """The rules of the day, in which an inspection of the user's own kind with `cargo` is a look at the cargo.

    A shipped kind that is replaced does what it did. aside: is told if kinds.yaml cannot be read.
    """
    rules = day_rules()
    try:
        own = own_kinds(home / "prompts")
    except DataError as error:
        aside(error)
        return rules
    looks: dict[str, Role] = {kind.id: "looks" for kind in own.values() if kind.cargo}
    return rules.model_copy(update={"kinds": {**looks, **rules.kinds}})


def in_order(records: Iterable[InspectionRecord]) -> tuple[InspectionRecord, ...]:
    return tuple(sorted(records, key=lambda record: (ended(record), record.id)))


def _near(session: str, day: date) -> bool:
    """Whether a session may be of these days, by its name. One with another name may be of any."""
    match = _SESSION.match(session)
    if match is None:
        return True
    try:
        began = datetime.strptime(match[1], "%Y%m%d").date()
    except ValueError:
        return True
    return abs(began - day) <= _EITHER_SIDE


def ended(record: InspectionRecord) -> datetime:
    return record.ended or record.started


def units(record: InspectionRecord) -> tuple[str, ...]:
    return tuple(unit.id for unit in units_of(record.vehicle))


def unit_names(record: InspectionRecord) -> tuple[tuple[str, str], ...]:
    """The units of a record, each with how it is called."""
    return tuple((unit.id, unit.name) for unit in units_of(record.vehicle))


def vehicle_units(home: Path, known: Known, name: str) -> tuple[str, ...]:
    """The units of a vehicle that has a profile or a record. Raises SetupError."""
    for record in reversed(known.records):
        if name == record.vehicle.id or same_name(name, record.vehicle.name):
            return units(record)
    for record in reversed(known.records):
        if name in units(record):
            return (name,)
    return tuple(unit.id for unit in units_of(named_vehicle(home, name)))


def kind(record: InspectionRecord) -> str | None:
    return record.kind or None


def miles(record: InspectionRecord) -> float | None:
    return None if record.odometer is None else round(miles_of(record.odometer), 3)


def inspection(record: InspectionRecord, rules: DayRules) -> Inspection:
    """A record as the checks on the road see it."""
    cargo = [entry for entry in record.entries if entry.item in rules.cargo]
    doors = {entry.choice for entry in cargo if entry.item == rules.behind_doors.item}
    vehicle = record.vehicle
    return Inspection(
        id=record.id,
        kind=kind(record),
        at=ended(record),
        driver=record.driver or "",
        units=units(record),
        miles=miles(record),
        carries=(vehicle.trailer is not None or vehicle.body is not None) and rules.behind_doors.empty not in doors,
        looked=bool(cargo) and all(entry.outcome != "not-inspected" for entry in cargo),
        sealed=rules.behind_doors.sealed in doors,
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """Of whom and what the day is asked. None: of everybody, of everything.

    driver: as signed.
    units: ids; the first decides what the trip is.
    alone: nothing is listed but what the driver signed, as the first or the second.
    both: and of that only what is of one of the units.
    """

    driver: str | None = None
    units: tuple[str, ...] | None = None
    alone: bool = False
    both: bool = False

    def takes(self, record: InspectionRecord) -> bool:
        """Whether a record is of one of the units, or by the driver."""
        if self.driver is None and self.units is None:
            return True
        return self._by(record.driver or "") or bool({*(self.units or ())} & {*units(record)})

    def lists(self, record: InspectionRecord, seconds: Iterable[str]) -> bool:
        """Whether a record is shown.

        seconds: who signed it too.
        """
        if not self.alone:
            return self.takes(record)
        of_units = not self.both or bool({*(self.units or ())} & {*units(record)})
        return of_units and self.signed(record.driver or "", seconds)

    def signed(self, first: str, seconds: Iterable[str]) -> bool:
        return any(map(self._by, (first, *seconds)))

    def _by(self, driver: str) -> bool:
        return self.driver is not None and same_name(driver, self.driver)


def same_name(one: str, other: str) -> bool:
    return one.strip().casefold() == other.strip().casefold()


def has(known: Known, driver: str) -> bool:
    """Whether a driver signed one of the records, as the first or the second."""
    by = Asked(driver)
    return any(by.signed(record.driver or "", known.seconds.get(record.id, ())) for record in known.records)


def asked(known: Known, driver: str | None, vehicle: Sequence[str] | None) -> Asked:
    """The driver and the units that are meant. Without a vehicle those that the driver inspected last; without either
    those of the last inspection.

    vehicle: ids of its units; the first decides what the trip is.
    """
    if vehicle is not None:
        return Asked(driver, tuple(vehicle))
    for record in reversed(known.records):
        if driver is None or Asked(driver).signed(record.driver or "", known.seconds.get(record.id, ())):
            return Asked(driver if driver is not None else record.driver, units(record))
    return Asked(driver, None)


def of_trip(known: Known, meant: Asked, rules: DayRules) -> tuple[list[Inspection], list[Duty]]:
    """What counts for the trip: inspections of the leading unit or by the driver, and the duty of who drove it."""
    lead = None if meant.units is None else meant.units[:1]
    trip = Asked(meant.driver, lead)
    found = [inspection(record, rules) for record in known.records if trip.takes(record)]
    return found, duties_of(known.duties, [meant.driver] if meant.driver is not None else [i.driver for i in found])


def spans_of(known: Known, meant: Asked, rules: DayRules) -> tuple[Span, ...]:
    """The spans of the trip. Another driver's look at this cargo counts, but a span of others alone is left out."""
    found = spans(*of_trip(known, meant, rules), rules)
    if not meant.alone:
        return found
    looks = [(span, span.since, *(() if span.look is None else (span.look,))) for span in found]
    return tuple(
        span for span, *ends in looks if any(meant.signed(e.driver, known.seconds.get(e.id, ())) for e in ends)
    )


def duties_of(duties: Iterable[Duty], drivers: Iterable[str]) -> list[Duty]:
    names = list(drivers)
    return [duty for duty in duties if any(same_name(duty.driver, name) for name in names)]


def local_day(moment: datetime) -> date:
    """The date where it happened: records keep their offset."""
    return moment.date()
