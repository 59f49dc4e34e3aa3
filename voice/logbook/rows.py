"""What comes in, checked and taken apart: a record or a repair certification, as bytes, into rows. Pure.

Refused, with one sentence: what is broken, altered, forged or of a version this program does not know. The caller sets
it aside; nothing is dropped.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any, Final, NamedTuple

from voice.errors import RecordError
from voice.logbook import columns
from voice.measure import Measure, fits
from voice.measure.book import kept_with_book, unit_book
from voice.measure.level import Level, level_of
from voice.record.by_unit import OwnEntry, Share, shares, whole_level
from voice.record.device import signature_fault
from voice.record.lives import Fact, FactKind
from voice.record.load import read_record
from voice.record.model import InspectionRecord, ReadingRecord
from voice.record.repairs import Repair
from voice.route.units import split
from voice.route.vehicle import Vehicle

# What a timed check was made from; the judged rate is a series, these are in the record's text.
_RAW: Final = frozenset({"gauge-start", "gauge-end", "hold-time"})


class UnsignedError(RecordError):
    """A walk that is not finished. Nothing is wrong with it; it is just not for the logbook yet."""


class StoredReading(NamedTuple):  # a record has dozens: a tuple is made three times as fast as a dataclass
    """One measured value, in the logbook's unit.

    place: the part of the step's id after "@".
    spoken: the position.
    """

    item: str
    place: str
    quantity: str
    name: str
    nth: int
    unit: str
    value: float
    title: str
    spoken: str
    position: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Part:
    """What a record says of one unit, with the numbers of the unit's own axles.

    profile: the unit as JSON.
    level: the worst finding on it, or open defect of an earlier report that still stands.
    defects: how many were found on it.
    odometer: its own, miles: a trailer's is its hubodometer.
    """

    unit: str
    profile: dict[str, Any]
    level: Level
    defects: int
    readings: tuple[StoredReading, ...]
    facts: tuple[Fact, ...]
    odometer: float | None


@dataclass(frozen=True, slots=True)
class Checked:
    """A record that may enter the logbook, taken apart into plain values (they travel cheaply between processes).

    vehicle: its id as the record has it.
    combination: its profile as JSON, where that describes two units in one.
    parts: one for each unit, the one at the head first.
    kind, kind_title: None where the record does not say.
    odometer: miles.
    sections: [id, title, seconds, entries] each.
    text: the record's JSON compressed by zlib.
    at: when it was reported, its end.
    """

    id: str
    sha256: str
    vehicle: str
    combination: dict[str, Any] | None
    parts: tuple[Part, ...]
    route: str
    kind: str | None
    kind_title: str | None
    driver: str | None
    started: datetime
    ended: datetime | None
    at: datetime
    odometer: float | None
    level: Level
    defects: int
    sections: list[list[Any]]
    repairs: tuple[Repair, ...]
    text: bytes

    @property
    def readings(self) -> tuple[StoredReading, ...]:
        return tuple(reading for part in self.parts for reading in part.readings)

    @property
    def facts(self) -> tuple[Fact, ...]:
        return tuple(fact for part in self.parts for fact in part.facts)

    def json(self) -> bytes:
        return zlib.decompress(self.text)


def check_record(body: bytes, name: str, trusted: Mapping[str, bytes]) -> Checked:
    """A record from the bytes of its file.

    name: how errors call it.
    trusted: public keys by fingerprint (voice.record.device); with any, only records signed by one of them are taken;
        with none, unsigned ones too, and those of unknown devices.
    Raises RecordError.
    """
    record = read_record(body, name)
    if record.sign_off is None:
        raise UnsignedError(f"{name} is not signed off by its driver.", "Finish the walk, or report it as stopped.")
    if fault := signature_fault(record, dict(trusted) or None):
        raise RecordError(f"{name} may be forged. {fault}", "If you trust that device, put its device.pub in trusted/.")
    return fitting(take_apart(record, body))


def fitting(checked: Checked) -> Checked:
    """The same, if the tables can hold it. Raises RecordError."""
    columns.key(checked.id, "The record's id")
    columns.key(checked.vehicle, "The vehicle's id")
    columns.text(checked.route, "The route's id")
    columns.key(checked.kind or "", "The kind of inspection")
    columns.text(checked.kind_title or "", "The kind's title")
    columns.text(checked.driver or "", "The driver's name")
    for part in checked.parts:
        columns.key(part.unit, "The vehicle's id")
        columns.tree(part.profile, "The vehicle's profile")
        columns.number(part.odometer or 0.0, "The odometer")
    if checked.combination is not None:  # the rest of it stands in the parts
        columns.text(checked.combination["name"], "The vehicle's name")
    columns.tree(checked.sections, "The list of sections")
    columns.moment(checked.started, "The start")
    columns.moment(checked.at, "The end")
    for values, what in (
        (checked.defects, "Defects"),
        (len(checked.readings), "Readings"),
        (len(checked.facts), "Findings"),
        (len(checked.repairs), "Certifications"),
        (len(checked.sections), "Sections"),
    ):
        columns.count(values, what)
    for taken in checked.readings:
        for key in (taken.item, taken.place, taken.quantity, taken.name):
            columns.key(key, "A reading's key")
        for text in (taken.unit, taken.title, taken.spoken):
            columns.text(text, "A reading's text")
        columns.number(taken.value, "A reading")
        columns.tree(taken.position, "A reading's place")
    for fact in checked.facts:
        columns.key(fact.defect, "A defect's key")
        columns.text(fact.title, "A defect's title")
    for repair in checked.repairs:
        fitting_repair(repair)
    return checked


def fitting_repair(repair: Repair) -> Repair:
    """The same, if the tables can hold it. Raises RecordError."""
    given = repair.certification
    columns.key(repair.vehicle, "The vehicle's id")
    columns.key(given.key, "The defect's key")
    columns.text(given.name, "The name under the certification")
    columns.text(given.remark, "The certification's remark")
    columns.moment(given.at, "The time of the certification")
    return repair


def take_apart(record: InspectionRecord, body: bytes) -> Checked:
    """The rows of a record that was checked, or made here. Raises RecordError for a value that is no number."""
    parts = tuple(_part(record, share, unit) for share, unit in zip(shares(record), split(record.vehicle), strict=True))
    vehicle = record.vehicle
    return Checked(
        id=record.id,
        sha256=record.record_sha256,
        vehicle=vehicle.id,
        combination=vehicle.model_dump(mode="json") if len(parts) > 1 and not vehicle.units else None,
        parts=parts,
        route=record.route,
        kind=record.kind or None,
        kind_title=record.kind_title or None,
        driver=record.driver,
        started=record.started,
        ended=record.ended,
        at=record.ended or record.started,
        odometer=parts[0].odometer,
        level=max(whole_level(record), *(part.level for part in parts)),
        defects=len(record.defects),
        sections=[[section.id, section.title, section.seconds, section.entries] for section in record.sections],
        repairs=tuple(
            Repair(given.unit or vehicle.id, record.id, given.model_copy(update={"unit": ""}) if given.unit else given)
            for given in record.certifications
        ),
        text=zlib.compress(body, 3),
    )


def _part(record: InspectionRecord, share: Share, unit: Vehicle) -> Part:
    """unit: the profile of the share's unit."""
    at = record.ended or record.started
    source = f"record:{record.id}"
    counts: dict[tuple[str, ...], int] = {}
    readings = [
        _taken(own, reading, counts)
        for own in share.entries
        for reading in own.entry.readings
        if reading.quantity not in _RAW
    ]
    facts = [
        Fact(own.key, "found", source, at, own.title, level_of(found.level), record.driver)
        for found, own in share.found
    ]
    for said, own_defect in share.carried:
        if said.answer in ("still-there", "repaired"):
            kind: FactKind = "still-there" if said.answer == "still-there" else "said-repaired"
            facts.append(Fact(own_defect.key, kind, source, at, own_defect.title, None, record.driver))
    if unit.kind == "tractor" and record.vehicle.trailer is not None:
        # What it drew decides some of its limits, as for the loss of air.
        unit = unit.model_copy(update={"towed_units": max(unit.towed_units, 1)})
    profile = unit.model_dump(mode="json")
    odometer = None if share.odometer is None else in_logbook_unit(share.odometer)[0]
    found = len(share.found)
    return Part(share.part.id, profile, share.level, found, tuple(readings), tuple(dict.fromkeys(facts)), odometer)


def _taken(own: OwnEntry, reading: ReadingRecord, counts: dict[tuple[str, ...], int]) -> StoredReading:
    value, unit = in_logbook_unit(reading)
    entry = own.entry
    place = own.step.partition("@")[2]
    series = (entry.item, place, reading.quantity, reading.name)
    counts[series] = nth = counts.get(series, -1) + 1
    place_of = own.place
    axes = {"unit": place_of.unit, "side": place_of.side, "axle": place_of.axle, "tire": place_of.tire}
    position = {axis: where for axis, where in axes.items() if where is not None}
    return StoredReading(*series, nth, unit, value, entry.title, own.spoken, position)


def in_logbook_unit(reading: ReadingRecord) -> tuple[float, str]:
    """A reading's value in the unit the logbook keeps for its quantity (prompts/units.yaml), and that unit.

    So a series read in millimeters today and in inches tomorrow stays one series.
    """
    factor, unit = _factor(reading.quantity, reading.unit)
    if factor is None:
        columns.exact(reading.value, "A reading")
        return reading.decimal, unit
    return _scaled(reading.value, reading.quantity, reading.unit), unit


@kept_with_book  # gauges have few divisions: the same values come again and again
def _scaled(value: str, quantity: str, unit: str) -> float:
    return float(columns.exact(value, "A reading") * (_factor(quantity, unit)[0] or 1))


@kept_with_book
def _factor(quantity: str, unit: str) -> tuple[Fraction | None, str]:
    """What a value is multiplied by, None if it stays, and the unit it is in then."""
    book = unit_book()
    entry = book.quantities.get(quantity)
    # A unit that is not in the book is kept as it is: what a stranger wrote there is not given to the unit reader.
    if entry is None or entry.unit == unit or unit not in book.units or not fits(unit, entry.unit):
        return None, unit
    factor = Measure(Fraction(1), unit).to(entry.unit).value
    return (None if factor == 1 else factor), entry.unit
