"""What `gladhand day` asks for: the day of a driver and of units, out of a home's files."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from voice.day.build import build_day
from voice.day.duty import Telling, note_duty
from voice.day.facts import Asked, Known, asked, of_trip, read_known, rules_for, same_name, vehicle_units
from voice.day.files import sign_day
from voice.day.model import DayRecord
from voice.day.rules import DayRules, Status
from voice.day.spans import Duty, Now, Span, due, spans
from voice.day.told import to_report, told
from voice.errors import SetupError, tell
from voice.record.device import device_key
from voice.route.units import units_of
from voice.route.vehicle import Vehicle


@dataclass(frozen=True, slots=True)
class DayAsked:
    """driver: as signed; None is who inspected last.
    vehicle: id; None is what was inspected last.
    day: None is today.
    everything: of all drivers and units.
    """

    driver: str | None = None
    vehicle: str | None = None
    day: date | None = None
    everything: bool = False


@dataclass(frozen=True, slots=True)
class Today:
    """record: of the day, sealed and not signed.
    due: what is told of the next look at the cargo and of the report; empty for another day than today.
    is_due: whether it is due now.
    """

    record: DayRecord
    due: tuple[str, ...]
    is_due: bool


def look(home: Path, wanted: DayAsked, now: Now, known: Known | None = None) -> Today:
    """The day as it stands. Raises GladhandError.

    known: what a depot knows of it; None is what the home's own files say.
    """
    rules = rules_for(home)
    day = wanted.day or now.at.date()
    known = read_known(home, day) if known is None else known
    meant = _meant(home, known, wanted)
    record = build_day(known, meant, day, now.at, rules)
    if day != now.at.date():
        return Today(record, (), False)
    found = _until(known, meant, rules)
    next_look = due(found, now, rules)
    return Today(
        record, (*told(found, now, rules), *to_report(record, rules)), next_look is not None and next_look.is_due(now)
    )


def signed_day(home: Path, wanted: DayAsked, now: Now, known: Known | None = None) -> DayRecord:
    """The record of the day with this device's signature. Raises SetupError if there is nothing to record.

    known: as above.
    """
    record = look(home, wanted, now, known).record
    if not record.inspections:
        raise SetupError(
            f"There is no signed inspection of {record.date}.", "Give another --date, --driver, --vehicle."
        )
    return sign_day(record, device_key(home))


def spans_now(home: Path, wanted: DayAsked, day: date) -> tuple[Span, ...]:
    """The spans up to now. Raises RecordError."""
    known = read_known(home, day)
    return _until(known, _meant(home, known, wanted), rules_for(home))


def is_due_for(home: Path, vehicle: Vehicle, now: Now, aside: Telling = tell) -> tuple[str, ...]:
    """What is told if a look at the cargo is due for a vehicle; nothing if none is. Raises RecordError.

    aside: is told what cannot be read; it is left out.
    """
    rules = rules_for(home, aside)
    known = read_known(home, now.at.date(), aside)
    found = _until(known, Asked(None, tuple(unit.id for unit in units_of(vehicle))), rules)
    next_look = due(found, now, rules)
    return told(found, now, rules) if next_look is not None and next_look.is_due(now) else ()


def change_duty(home: Path, driver: str | None, status: Status, now: Now) -> Duty:
    """Notes a change of duty; on the disk when this returns. Raises GladhandError.

    driver: None is who inspected last.
    """
    if driver is None:
        driver = asked(read_known(home, now.at.date()), None, None).driver
    if not driver:
        raise SetupError("It is not known whose duty changes.", "Give --driver.")
    duty = Duty(now.at, driver, status, now.miles)
    note_duty(home, duty)
    return duty


def _meant(home: Path, known: Known, wanted: DayAsked) -> Asked:
    if wanted.everything:
        return Asked()
    if wanted.vehicle is None:
        if wanted.driver is not None and not _has(known, wanted.driver):
            return Asked(wanted.driver, None)
        return asked(known, wanted.driver, None)
    return asked(known, wanted.driver, vehicle_units(home, known, wanted.vehicle))


def _has(known: Known, driver: str) -> bool:
    return any(same_name(record.driver or "", driver) for record in known.records)


def _until(known: Known, meant: Asked, rules: DayRules) -> tuple[Span, ...]:
    return spans(*of_trip(known, meant, rules), rules)
