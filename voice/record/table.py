"""The record as CSV (RFC 4180) for spreadsheets: one row an entry, and one row a reading.

UTF-8 with a byte order mark, or spreadsheets take accents for something else. What the driver said or a profile's
author wrote may begin like a formula; such a cell gets an apostrophe in front, so that a spreadsheet shows it and does
not work it out.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import datetime
from fractions import Fraction

from voice.judge.wording import level_words
from voice.measure.level import LevelName, worst
from voice.measure.telling import told
from voice.record.model import EntryRecord, FindingRecord, InspectionRecord

ENTRY_COLUMNS = (
    "record", "vehicle", "section", "part", "step", "item", "place", "outcome", "reason", "choice", "level",
    "level_printed", "defects", "details", "readings", "asked", "answered", "seconds", "asked_again", "corrected",
    "words", "confidence", "clip", "together", "taken_back",
)  # fmt: skip
READING_COLUMNS = (
    "record", "vehicle", "step", "item", "place", "answered", "quantity", "name", "value", "decimal", "unit", "printed",
    "limit", "limit_text", "margin", "level", "level_printed", "source", "known", "layer",
)  # fmt: skip
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?|-?\d+/\d+")


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    text = str(value)
    # Also after blanks: some spreadsheets trim them before they look for a formula.
    if text.lstrip()[:1] in ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20") and not _NUMBER.fullmatch(
        text
    ):
        return "'" + text
    return "'" + text if text[:1] in ("\t", "\r", "\n") else text


def _write(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return "\ufeff" + out.getvalue()


def entry_level(entry: EntryRecord) -> LevelName | None:
    """The worst level of an entry's defects and findings; None if nothing was judged."""
    levels = [defect.level for defect in entry.defects] + [finding.level for finding in entry.findings]
    return worst(levels)


def entries_csv(record: InspectionRecord) -> str:
    """One row an entry, in walking order. Several defects or readings are told apart by "; "."""
    return _write(
        ENTRY_COLUMNS,
        (
            (
                record.id,
                record.vehicle.id,
                entry.section,
                entry.part,
                entry.step,
                entry.title,
                entry.spoken_place,
                entry.outcome,
                entry.reason,
                entry.choice,
                level,
                level and level_words(level),
                "; ".join(defect.title for defect in entry.defects),
                "; ".join(
                    f"{name}: {value}"
                    for details in (entry.details, *(defect.details for defect in entry.defects))
                    for name, value in details.items()
                ),
                "; ".join(
                    f"{r.name or r.quantity} "
                    f"{told(r.value, r.unit, quantity=r.quantity, system=record.vehicle.display_units)}"
                    for r in entry.readings
                ),
                entry.asked,
                entry.answered,
                entry.seconds,
                entry.asked_again,
                entry.corrected,
                " / ".join(evidence.words for evidence in entry.evidence),
                min((evidence.confidence for evidence in entry.evidence), default=None),
                "; ".join(evidence.clip for evidence in entry.evidence if evidence.clip),
                "; ".join(entry.together),
                "; ".join(entry.taken_back),
            )
            for entry in record.entries
            for level in (entry_level(entry),)
        ),
    )


def _matching(entry: EntryRecord, quantity: str, value: str) -> Sequence[FindingRecord | None]:
    found = [
        f for f in entry.findings if f.quantity == quantity and f.reading and Fraction(f.reading) == Fraction(value)
    ]
    return found or [None]


def readings_csv(record: InspectionRecord) -> str:
    """One row a reading and limit it was held against; a reading without a limit has one row."""
    return _write(
        READING_COLUMNS,
        (
            (
                record.id,
                record.vehicle.id,
                entry.step,
                entry.title,
                entry.spoken_place,
                entry.answered,
                reading.quantity,
                reading.name,
                reading.value,
                reading.decimal,
                reading.unit,
                told(reading.value, reading.unit, quantity=reading.quantity, system=record.vehicle.display_units),
                finding and finding.limit,
                finding and finding.limit_text,
                finding and finding.margin,
                finding and finding.level,
                finding and level_words(finding.level),
                finding and finding.source,
                finding and finding.known,
                finding and finding.layer,
            )
            for entry in record.entries
            for reading in entry.readings
            for finding in _matching(entry, reading.quantity, reading.value)
        ),
    )
