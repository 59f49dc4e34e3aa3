"""What `gladhand day` asks for: the day of a driver and of units, out of a home's files."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from voice.day.build import build_day
from voice.day.duty import Telling, note_duty
from voice.day.facts import (
    Asked,
    Known,
    asked,
    duties_of,
    ended,
    has,
    local_day,
    miles,
    read_known,
    rules_for,
    same_name,
    spans_of,
    units,
    vehicle_units,
)
from voice.day.files import sign_day
from voice.day.model import DayRecord
from voice.day.rules import DayRules, Status
from voice.day.spans import Duty, Now, Span, due
from voice.day.told import to_report, told
from voice.errors import GladhandError, SetupError, tell
from voice.measure.telling import mile
from voice.record.device import device_key
from voice.record.model import InspectionRecord
from voice.record.past import past_records
from voice.route.units import units_of
from voice.route.vehicle import Vehicle

_ROUNDED = 0.5  # mile: odometers are rounded, and kilometers do not come out even


@dataclass(frozen=True, slots=True)
class DayAsked:
    """driver: as signed; None is who inspected last.
    vehicle: id; None is what was inspected last.
    day: None is today.
    everything: of all drivers and units.
    drivers: who drives here, by drivers.yaml; empty is not known.
    """

    driver: str | None = None
    vehicle: str | None = None
    day: date | None = None
    everything: bool = False
    drivers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Today:
    """record: of the day, sealed and not signed.
    due: what is told of the next look at the cargo and of the report; empty for another day than today.
    is_due: whether it is due now.
    """

    record: DayRecord
    due: tuple[str, ...]
    is_due: bool


def look(home: Path, wanted: DayAsked, now: Now, known: Known | None = None, *, lower: bool = False) -> Today:
    """The day as it stands. Raises GladhandError.

    known: what a depot knows of it; None is what the home's own files say.
    lower: an odometer below the last known one is taken.
    """
    rules = rules_for(home)
    day = wanted.day or now.at.date()
    known = read_known(home, day) if known is None else known
    meant = _meant(home, known, wanted)
    if not lower:
        _refuse_lower(home, known, meant, now)
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


def change_duty(home: Path, wanted: DayAsked, status: Status, now: Now, *, meant: bool = False) -> Duty:
    """Notes a change of duty; on the disk when this returns. Raises GladhandError.

    wanted: whose.
    meant: an odometer below the last known one is taken.
    """
    known = read_known(home, now.at.date())
    driver = wanted.driver
    if driver is None:
        driver = asked(known, None, None).driver
    else:
        _refuse_unknown(known, wanted, driver)
    if not driver:
        raise SetupError("It is not known whose duty changes.", "Give --driver.")
    if not meant:
        _refuse_lower(home, known, asked(known, driver, None), now)
    duty = Duty(now.at, driver, status, now.miles)
    note_duty(home, duty)
    return duty


def _refuse_lower(home: Path, known: Known, whose: Asked, now: Now) -> None:
    """Raises SetupError for an odometer below the last known one of the leading unit."""
    last = None if now.miles is None else _last_odometer(home, known, whose, now)
    if last is not None and now.miles is not None and now.miles < last[1] - _ROUNDED:
        raise SetupError(
            f"The odometer at {mile(now.miles)} miles is below the {mile(last[1])} miles of {last[0]:%Y-%m-%d %H:%M}.",
            "Read it again; if it is right, add --meant.",
        )


def _last_odometer(home: Path, known: Known, whose: Asked, now: Now) -> tuple[datetime, float] | None:
    """When the odometer of the leading unit was given last, and its miles.

    A change of duty does not say of which unit it is: those since the driver inspected that unit, and none since, are
    taken as of it.
    """
    driver, lead = whose.driver, (whose.units or ())[:1]
    own = [r for r in known.records if lead and units(r)[:1] == lead]
    found = [(ended(r), read) for r in own if (read := miles(r)) is not None]
    with suppress(GladhandError):  # a record that cannot be read was told already
        found += [
            (p.at, p.miles) for unit in lead for p in past_records(home, unit) if p.miles is not None and not p.lead
        ]
    if driver is not None and (asked(known, driver, None).units or ())[:1] == lead:
        found += _told_with_duty(known, driver, own, now)
    return max((each for each in found if each[0] <= now.at), default=None)


def _told_with_duty(
    known: Known, driver: str, own: Sequence[InspectionRecord], now: Now
) -> list[tuple[datetime, float]]:
    """The odometers that a driver gave with changes of duty, since they began with the unit that `own` is of."""
    mine = [ended(r) for r in own if Asked(driver).signed(r.driver or "", known.seconds.get(r.id, ()))]
    begun = _since(known, driver, mine)
    return [
        (d.at, d.miles)
        for d in duties_of(known.duties, [driver])
        if d.miles is not None and (d.at >= begun if begun is not None else local_day(d.at) == now.at.date())
    ]


def _since(known: Known, driver: str, mine: Sequence[datetime]) -> datetime | None:
    """When the driver began with the unit inspected at these moments: the first since another unit, or of all."""
    by = Asked(driver)
    others = [
        ended(r)
        for r in known.records
        if by.signed(r.driver or "", known.seconds.get(r.id, ())) and ended(r) not in mine
    ]
    changed = max(others, default=None)
    return min((at for at in mine if changed is None or at > changed), default=None)


def _refuse_unknown(known: Known, wanted: DayAsked, driver: str) -> None:
    """Raises SetupError for a name that neither drivers.yaml nor a record has."""
    if wanted.drivers and not any(same_name(driver, name) for name in wanted.drivers) and not has(known, driver):
        raise SetupError(f'There is no driver "{driver}".', f"Known are: {', '.join(wanted.drivers)}.")


def _meant(home: Path, known: Known, wanted: DayAsked) -> Asked:
    if wanted.everything:
        return Asked()
    if wanted.driver is not None:
        _refuse_unknown(known, wanted, wanted.driver)
    named = None if wanted.vehicle is None else vehicle_units(home, known, wanted.vehicle)
    found = asked(known, wanted.driver, named)
    return replace(found, alone=wanted.driver is not None, both=named is not None)


def _until(known: Known, meant: Asked, rules: DayRules) -> tuple[Span, ...]:
    return spans_of(known, meant, rules)
