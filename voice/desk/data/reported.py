"""What the report that found a defect says of it: figures, limits and rules, who made it and when."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from voice.desk.data.recordings import document, entries_of
from voice.record.by_unit import today_key
from voice.record.lives import Fact, Life
from voice.record.model import EntryRecord, FindingRecord, InspectionRecord
from voice.record.readings import Readings
from voice.record.wording import words
from voice.route.vehicle import Vehicle

Find = Callable[[str], dict[str, Any] | None]


@dataclass(frozen=True, slots=True)
class Figure:
    """A reading beside its limit; limit and rule are empty where there is none.

    what: the quantity, with the gauge if there are several.
    """

    what: str
    reading: str
    limit: str
    rule: str


@dataclass(frozen=True, slots=True)
class Reported:
    """A defect as the last record that found it has it.

    record: its id.
    by: its driver, None if it names none.
    kind: the title of the kind of inspection, empty if the record does not say.
    details: what was asked further, and the answer.
    rule: what makes it a defect, with its section, where that is no limit of a reading.
    """

    record: str
    at: datetime
    by: str | None
    kind: str
    figures: tuple[Figure, ...]
    details: tuple[tuple[str, str], ...]
    rule: str


def finder(session: Session) -> Find:
    """Documents of the logbook by their record's id, each read once."""
    kept: dict[str, dict[str, Any] | None] = {}

    def find(record: str) -> dict[str, Any] | None:
        if record not in kept:
            kept[record] = document(session, record)
        return kept[record]

    return find


def reported_of(find: Find, unit: str, life: Life, facts: Iterable[Fact]) -> Reported | None:
    """None if no record that found it has its text any more.

    facts: all that is known of the defect.
    """
    found = [fact for fact in facts if fact.kind == "found" and life.opened <= fact.at <= life.seen]
    if not found:
        return None
    record = max(found, key=lambda fact: (fact.at, fact.source)).source.partition(":")[2]
    content = find(record)
    entry = next(entries_of(content, unit, life.defect), None)
    if content is None or entry is None:
        return None
    vehicle = Vehicle.model_validate(content["vehicle"])
    entry = EntryRecord.model_validate(entry)
    key = today_key(vehicle, unit, life.defect)
    defect = next(each for each in entry.defects if each.key == key)
    # Only what is read off: the record was checked when it came in.
    readings = Readings(InspectionRecord.model_construct(vehicle=vehicle, entries=(entry,)), words("report"))
    figures = []
    for reading in readings.judged(entry):
        for row in readings.rows(entry, reading):
            what = readings.quantity(reading.quantity) + (f", {row.name}" if row.name else "")
            limit = "" if row.finding is None else row.finding.limit_text
            figures.append(Figure(what, row.reading, limit, "" if row.finding is None else _source(row.finding)))
    finding = defect.finding
    plain = finding is not None and finding.reading is None
    return Reported(
        record,
        datetime.fromisoformat(content.get("ended") or content["started"]),
        content.get("driver"),
        str(content.get("kind_title", "")),
        tuple(figures),
        tuple((readings.label(name), value) for name, value in defect.details.items()),
        f"{finding.limit_text} ({_source(finding)})" if plain and finding is not None else "",
    )


def _source(finding: FindingRecord) -> str:
    """The section, and how the rule is known if it was not read itself."""
    known = str(words("report")["sources"]["short"][finding.known] or "")
    return f"{finding.source}, {known}" if known else finding.source
