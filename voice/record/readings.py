"""The readings on the report's page: in groups by what is measured, each beside the limit that tells most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from voice.measure import Measure
from voice.measure.telling import converts, quantity_name, told
from voice.record.model import EntryRecord, FindingRecord, InspectionRecord, ReadingRecord

_GAUGES = ("gauge-start", "gauge-end", "hold-time")


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """A reading on the page and the limit that tells most.

    more: how many others it meets.
    """

    where: str
    name: str
    reading: str
    finding: FindingRecord | None
    margin: str = ""
    more: int = 0


@dataclass(frozen=True, slots=True)
class QuantityLines:
    """Readings of one quantity."""

    title: str
    rows: tuple[ReadingLine, ...]


@dataclass(frozen=True)
class Readings:
    """Readings and margins of a record as they are printed.

    text: of prompts/report/report.yaml.
    """

    record: InspectionRecord
    text: Mapping[str, Any]

    @property
    def groups(self) -> list[QuantityLines]:
        rows: dict[str, list[ReadingLine]] = {}
        for entry in self.record.entries:
            for reading in self.judged(entry):
                rows.setdefault(self.quantity(reading.quantity), []).extend(self.rows(entry, reading))
        several = [QuantityLines(title, tuple(lines)) for title, lines in rows.items() if len(lines) > 1]
        single = [line for lines in rows.values() if len(lines) == 1 for line in lines]
        return [*several, *([QuantityLines(self.text["measurements"]["single"], tuple(single))] if single else [])]

    @staticmethod
    def judged(entry: EntryRecord) -> list[ReadingRecord]:
        """An entry's readings without the gauges that a rate was worked out from, if there are others."""
        return [reading for reading in entry.readings if reading.quantity not in _GAUGES] or list(entry.readings)

    def _held(self, entry: EntryRecord, reading: ReadingRecord) -> str:
        """What a rate was worked out from: "118 psi to 115 psi in 64.3 s"."""
        gauges = {r.quantity: r for r in entry.readings if r.quantity in _GAUGES and r.name in ("", reading.name)}
        if len(gauges) < len(_GAUGES) or reading.quantity in _GAUGES:
            return ""
        shown = {name: self.measure(r.value, r.unit, r.quantity) for name, r in gauges.items()}
        return str(self.text["measurements"]["held"].format(**{name.replace("-", "_"): s for name, s in shown.items()}))

    def rows(self, entry: EntryRecord, reading: ReadingRecord) -> list[ReadingLine]:
        """A reading, once for each limit that is told with it."""
        name = ", ".join(part for part in (self.label(reading.name), self._held(entry, reading)) if part)
        shown = self.measure(reading.value, reading.unit, reading.quantity)
        where = entry.spoken_place or entry.title
        found = [
            finding
            for finding in dict.fromkeys(entry.findings)
            if finding.quantity == reading.quantity
            and finding.reading is not None
            and finding.unit is not None
            and converts(finding.unit, reading.unit)
            and Measure(Fraction(finding.reading), finding.unit).to(reading.unit).value == Fraction(reading.value)
        ]
        if not found:
            return [ReadingLine(where, name, shown, None)]
        kept = telling(found)
        more = len(found) - len(kept)
        return [
            ReadingLine(where, name, shown, finding, self.margin(finding), more if finding is kept[-1] else 0)
            for finding in kept
        ]

    def named(self, entry: EntryRecord) -> dict[str, str]:
        """The measures that follow-up questions took, by what asked; told as all others, not as they were said."""
        return {r.name: self.measure(r.value, r.unit, r.quantity) for r in entry.readings if r.name}

    def margin(self, finding: FindingRecord) -> str:
        if finding.margin is None or finding.unit is None:
            return ""
        value = Fraction(finding.margin)
        sign = "−" if value < 0 else "+" if value > 0 else ""
        return sign + self.measure(str(abs(value)), finding.unit, finding.quantity)

    def measure(self, value: str, unit: str, quantity: str) -> str:
        return told(value, unit, quantity=quantity, system=self.record.vehicle.display_units)

    def quantity(self, quantity: str) -> str:
        name = quantity_name(quantity)
        return name[:1].upper() + name[1:]

    def label(self, name: str) -> str:
        """What a follow-up question asks for, in plain words; a gauge's name is plain already."""
        return str(self.text["details"].get(name, name.replace("-", " ")))


def telling(findings: Sequence[FindingRecord]) -> list[FindingRecord]:
    """Of the limits that one reading was held against, those that are told wherever it is shown.

    Every limit that is not simply met; where all are, the nearest. Never empty where there is a finding.
    """
    return [finding for finding in findings if finding.level != "within"] or sorted(findings, key=_distance)[:1]


def _distance(finding: FindingRecord) -> Fraction:
    """How near a limit is that was met: its margin in its own unit, against the reading."""
    if finding.margin is None or finding.reading is None:
        return Fraction(10**9)
    return abs(Fraction(finding.margin)) / (abs(Fraction(finding.reading)) or 1)
