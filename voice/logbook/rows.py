"""What comes in, checked and taken apart: a record or a repair certification, as bytes, into rows. Pure.

Refused, with one sentence: what is broken, altered, forged or of a version this program does not know. The caller sets
it aside; nothing is dropped.
"""

from __future__ import annotations

import base64
import binascii
import zlib
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any, Final, NamedTuple

from voice.errors import RecordError
from voice.logbook import columns
from voice.measure import Measure, fits
from voice.measure.book import kept_with_book, unit_book
from voice.measure.level import Level, level_of
from voice.record.device import signature_fault
from voice.record.lives import Fact, FactKind
from voice.record.load import read_record
from voice.record.model import EntryRecord, InspectionRecord, ReadingRecord
from voice.record.repairs import Repair

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
class Checked:
    """A record that may enter the logbook, taken apart into plain values (they travel cheaply between processes).

    profile: the vehicle as JSON.
    odometer: miles.
    sections: [id, title, seconds, entries] each.
    text: the record's JSON compressed by zlib.
    at: when it was reported, its end.
    """

    id: str
    sha256: str
    vehicle: str
    profile: dict[str, Any]
    route: str
    driver: str | None
    started: datetime
    ended: datetime | None
    at: datetime
    odometer: float | None
    level: Level
    defects: int
    sections: list[list[Any]]
    readings: tuple[StoredReading, ...]
    facts: tuple[Fact, ...]
    repairs: tuple[Repair, ...]
    text: bytes

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
    keys = dict(trusted)
    if not keys and record.device is not None:
        # Nobody is known here: a signature must at least fit the key it names.
        with suppress(binascii.Error):
            keys[record.device.key] = base64.b64decode(record.device.public, validate=True)
    if fault := signature_fault(record, keys):
        raise RecordError(f"{name} may be forged. {fault}", "If you trust that device, put its device.pub in trusted/.")
    return fitting(take_apart(record, body))


def fitting(checked: Checked) -> Checked:
    """The same, if the tables can hold it. Raises RecordError."""
    columns.key(checked.id, "The record's id")
    columns.key(checked.vehicle, "The vehicle's id")
    columns.text(checked.route, "The route's id")
    columns.text(checked.driver or "", "The driver's name")
    columns.tree(checked.profile, "The vehicle's profile")
    columns.tree(checked.sections, "The list of sections")
    columns.moment(checked.started, "The start")
    columns.moment(checked.at, "The end")
    columns.number(checked.odometer or 0.0, "The odometer")
    for values, what in (
        (checked.defects, "Defects"),
        (len(checked.readings), "Readings"),
        (len(checked.facts), "Findings"),
        (len(checked.repairs), "Certifications"),
        (len(checked.sections), "Sections"),
    ):
        columns.count(values, what)
    for taken in checked.readings:
        for part in (taken.item, taken.place, taken.quantity, taken.name):
            columns.key(part, "A reading's key")
        for part in (taken.unit, taken.title, taken.spoken):
            columns.text(part, "A reading's text")
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
    at = record.ended or record.started
    readings: list[StoredReading] = []
    facts: list[Fact] = []
    level = Level.WITHIN
    counts: dict[tuple[str, ...], int] = {}
    source = f"record:{record.id}"
    for entry in record.entries:
        for reading in entry.readings:
            if reading.quantity not in _RAW:
                readings.append(_taken(entry, reading, counts))
        for finding in entry.findings:
            level = max(level, level_of(finding.level))
        for defect in entry.defects:
            found = level_of(defect.level)
            level = max(level, found)
            facts.append(Fact(defect.key, "found", source, at, defect.title, found, record.driver))
    for carried in record.carried:
        if carried.answer in ("still-there", "repaired"):
            kind: FactKind = "still-there" if carried.answer == "still-there" else "said-repaired"
            facts.append(Fact(carried.key, kind, source, at, carried.title, None, record.driver))
    return Checked(
        id=record.id,
        sha256=record.record_sha256,
        vehicle=record.vehicle.id,
        profile=record.vehicle.model_dump(mode="json"),
        route=record.route,
        driver=record.driver,
        started=record.started,
        ended=record.ended,
        at=at,
        odometer=None if record.odometer is None else in_logbook_unit(record.odometer)[0],
        level=level,
        defects=len(record.defects),
        sections=[[section.id, section.title, section.seconds, section.entries] for section in record.sections],
        readings=tuple(readings),
        facts=tuple(dict.fromkeys(facts)),
        repairs=tuple(Repair(record.vehicle.id, record.id, given) for given in record.certifications),
        text=zlib.compress(body, 3),
    )


def _taken(entry: EntryRecord, reading: ReadingRecord, counts: dict[tuple[str, ...], int]) -> StoredReading:
    value, unit = in_logbook_unit(reading)
    place = entry.step.partition("@")[2]
    series = (entry.item, place, reading.quantity, reading.name)
    counts[series] = nth = counts.get(series, -1) + 1
    place_of = entry.place
    axes = {"unit": place_of.unit, "side": place_of.side, "axle": place_of.axle, "tire": place_of.tire}
    position = {axis: where for axis, where in axes.items() if where is not None}
    return StoredReading(*series, nth, unit, value, entry.title, entry.spoken_place, position)


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
