"""What the report that found a defect says of it: figures, limits and rules, who made it and when."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import ValidationError
from sqlalchemy.orm import Session

from voice.desk.data.recordings import document
from voice.record.by_unit import in_print, today_key
from voice.record.lives import Fact, Life
from voice.record.model import FindingRecord, InspectionRecord
from voice.record.readings import Readings
from voice.record.wording import words


@dataclass(frozen=True, slots=True)
class Figure:
    """A reading beside its limits.

    what: the quantity, with the gauge if there are several.
    limits: limit and rule of each that its report tells.
    """

    what: str
    reading: str
    limits: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Reported:
    """A defect as the last record that found it has it.

    record: its id.
    by: its driver, None if it names none.
    kind: the title of the kind of inspection, empty if the record does not say.
    details: what was asked further, and the answer; a measure stands in the figures.
    rule: what makes it a defect, with its section, where that is no limit of a reading.
    """

    record: str
    at: datetime
    by: str | None
    kind: str
    figures: tuple[Figure, ...]
    details: tuple[tuple[str, str], ...]
    rule: str


class Documents:
    """Records of the logbook for one page, each read once."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._contents: dict[str, dict[str, Any] | None] = {}
        self._records: dict[str, InspectionRecord | None] = {}

    def content(self, id: str) -> dict[str, Any] | None:
        """As it stands there; None if it is not there, or was pruned."""
        if id not in self._contents:
            self._contents[id] = document(self._session, id)
        return self._contents[id]

    def record(self, id: str) -> InspectionRecord | None:
        """The same as its report has it."""
        if id not in self._records:
            content = self.content(id)
            try:
                self._records[id] = None if content is None else in_print(InspectionRecord.model_validate(content))
            except ValidationError:  # stored by an earlier version that did not look
                self._records[id] = None
        return self._records[id]


def reported_of(documents: Documents, unit: str, life: Life, facts: Iterable[Fact]) -> Reported | None:
    """None if no record that found it has its text any more.

    facts: all that is known of the defect.
    """
    found = [fact for fact in facts if fact.kind == "found" and life.opened <= fact.at <= life.seen]
    if not found:
        return None
    record = max(found, key=lambda fact: (fact.at, fact.source)).source.partition(":")[2]
    whole = documents.record(record)
    if whole is None:
        return None
    key = today_key(whole.vehicle, unit, life.defect)
    pairs = [(entry, defect) for entry in whole.entries for defect in entry.defects if defect.key == key]
    if not pairs:
        return None
    entry, defect = pairs[0]
    readings = Readings(whole, words("report"))
    figures, measured = [], readings.named(entry)
    for reading in readings.judged(entry):
        rows = readings.rows(entry, reading)
        what = readings.quantity(reading.quantity) + (f", {rows[0].name}" if rows[0].name else "")
        limits = [(row.finding.limit_text, _source(row.finding)) for row in rows if row.finding is not None]
        figures.append(Figure(what, rows[0].reading, tuple(limits)))
    finding = defect.finding
    plain = finding is not None and finding.reading is None
    return Reported(
        record,
        whole.ended or whole.started,
        whole.driver,
        whole.kind_title,
        tuple(figures),
        tuple((readings.label(name), value) for name, value in defect.details.items() if name not in measured),
        f"{finding.limit_text} ({_source(finding)})" if plain and finding is not None else "",
    )


def _source(finding: FindingRecord) -> str:
    """The section, and how the rule is known if it was not read itself."""
    known = str(words("report")["sources"]["short"][finding.known] or "")
    return f"{finding.source}, {known}" if known else finding.source
