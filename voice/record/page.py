"""What the template of the report asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, get_args

from voice.judge.model import UNSURE
from voice.measure.level import LevelName, level_of, worst
from voice.record.by_unit import carried_levels, key_in
from voice.record.model import (
    CarriedRecord,
    Certification,
    DefectRecord,
    EntryRecord,
    FindingRecord,
    InspectionRecord,
    ReadingRecord,
    Standing,
)
from voice.record.readings import Readings
from voice.record.review import SECTION as REVIEW
from voice.record.table import entry_level
from voice.record.wording import defect_titles, words
from voice.route.model import Part

_FREE = "described"  # the follow-up that is free speech: what defect "other" is
_BEYOND = "beyond-"  # and the quantity: a reading beyond its limit (voice.record.entry)
_INSPECTED = ("ok", "defect", "reading", "choice", "done")


@dataclass(frozen=True, slots=True)
class PartLine:
    """One of the parts that the rule names.

    items: how many were asked of it.
    found: what was found, in words.
    level: the worst of its defects.
    """

    part: Part
    items: int
    found: str
    level: LevelName | None


@dataclass(frozen=True)
class Page:
    """What prompts/report/report.html.j2 asks for; much of it is called from there alone.

    certifications: given since, by the key of their defect.
    text: of prompts/report/report.yaml.
    readings: of the record, as they are printed.
    """

    record: InspectionRecord
    certifications: Mapping[str, Certification]
    text: Mapping[str, Any]
    readings: Readings

    @property
    def defects(self) -> list[DefectRecord]:
        """The worst first, else in walking order."""
        return sorted(self.record.defects, key=lambda defect: -level_of(defect.level))

    @property
    def numbers(self) -> dict[str, int]:
        return {defect.key: number for number, defect in enumerate(self.defects, start=1)}

    @property
    def counts(self) -> list[tuple[str, int]]:
        """What stands out, in the order of its weight; whatever is zero is left out, but for the first two."""
        summary = self.record.summary
        listed = {defect.step for defect in self.record.defects}
        levels = [defect.level for defect in self.record.defects]
        levels += [finding.level for finding in summary.against if finding.step not in listed]
        pairs = [
            ("halt", levels.count("halt")),
            ("repair", levels.count("repair")),
            ("watch", len(summary.watch)),
            ("unmeasured", len(summary.unmeasured)),
            ("not-inspected", len(summary.not_inspected)),
        ]
        return [(name, count) for name, count in pairs if count or name in ("halt", "repair")]

    @property
    def overall(self) -> list[Standing]:
        """Findings over the whole vehicle, that belong to no item: the share of defective brakes."""
        summary = self.record.summary
        return [finding for finding in (*summary.against, *summary.watch) if finding.step is None]

    @property
    def near(self) -> list[Standing]:
        """Readings near a limit, or beyond one that is only to be watched."""
        return [finding for finding in self.record.summary.watch if finding.step is not None and finding.reading]

    @property
    def standing(self) -> dict[str, LevelName]:
        """Level of the open defects of earlier reports that still stand, by key."""
        pairs = zip(self.record.carried, carried_levels(self.record), strict=True)
        return {self.key(carried): level.word for carried, level in pairs if level is not None}

    def key(self, said: CarriedRecord | Certification) -> str:
        """The key of a carried or certified defect, as this record's own entries have it."""
        return key_in(self.record.vehicle, said)

    def of_unit(self, said: CarriedRecord) -> str:
        """Whose a carried defect is; empty where the vehicle is one unit, or its profile describes two in one."""
        return next((unit.name for unit in self.record.vehicle.units if unit.id == said.unit), "")

    def found(self, defect: DefectRecord) -> str:
        """The reading that a defect rests on, against its limit."""
        finding = defect.finding
        if finding is None or finding.reading is None or finding.unit is None:
            return ""
        return self.readings.measure(finding.reading, finding.unit, finding.quantity)

    def support(self, finding: FindingRecord) -> str:
        """How the rule is known, if it was not read, and whether to check locally."""
        text = self.text["sources"]
        parts = [text["short"][finding.known]]
        if finding.level == "halt" and finding.known in UNSURE:
            parts.append(text["check_locally"])
        return ", ".join(part for part in parts if part)

    @property
    def parts(self) -> list[PartLine]:
        entries = [entry for entry in self.record.entries if entry.section != REVIEW]
        lines = []
        for part in get_args(Part):
            mine = [entry for entry in entries if entry.part == part]
            level = worst([defect.level for entry in mine for defect in entry.defects])
            lines.append(PartLine(part, len(mine), self._found_on(mine), level))
        return lines

    def _found_on(self, mine: list[EntryRecord]) -> str:
        text = self.text["parts"]
        numbers = sorted(self.numbers[defect.key] for entry in mine for defect in entry.defects)
        left_out = sum(entry.outcome == "not-inspected" for entry in mine)
        if not mine:
            return str(text["not_asked"])
        if all(entry.outcome == "not-applicable" for entry in mine):
            return str(text["not_there"])
        if not any(entry.outcome in _INSPECTED for entry in mine):
            return str(text["all_left_out"])
        said = text["no_defect"]
        if numbers:
            said = text["defect" if len(numbers) == 1 else "defects"].format(numbers=", ".join(map(str, numbers)))
        return f"{said}; {text['left_out'].format(count=left_out)}" if left_out else str(said)

    @property
    def left_out(self) -> list[EntryRecord]:
        return [entry for entry in self.record.entries if entry.outcome in ("not-inspected", "not-applicable")]

    @property
    def unmeasured(self) -> list[EntryRecord]:
        return [entry for entry in self.record.entries if entry.step in self.record.summary.unmeasured]

    @property
    def unjudged(self) -> list[EntryRecord]:
        return [entry for entry in self.record.entries if entry.step in self.record.summary.unjudged]

    @property
    def rules(self) -> list[FindingRecord]:
        """One finding for every rule that decided, in order of first use."""
        seen: dict[tuple[str, str, str], FindingRecord] = {}
        for entry in self.record.entries:
            for finding in (*entry.findings, *(d.finding for d in entry.defects if d.finding is not None)):
                seen.setdefault((finding.source, finding.limit, finding.limit_text), finding)
        for finding in self.overall:
            seen.setdefault((finding.source, finding.limit, finding.limit_text), finding)
        return list(seen.values())

    def by_section(self) -> list[tuple[str, list[EntryRecord]]]:
        return [
            (section.title, [entry for entry in self.record.entries if entry.section == section.id])
            for section in self.record.sections
        ]

    def answer(self, entry: EntryRecord) -> str:
        """An entry's answer in a few words."""
        if entry.readings:
            return ", ".join(self.readings.measure(r.value, r.unit, r.quantity) for r in self.readings.judged(entry))
        if entry.choice is not None:
            known = self.text["carried"]["answers"]
            return (
                str(known[entry.choice])
                if entry.section == REVIEW and entry.choice in known
                else entry.choice.replace("-", " ")
            )
        details = ", ".join(f"{label}: {value}" for label, value, _ in self.details(entry, entry.details))
        return f"{self.text['outcomes'][entry.outcome]}{', ' if details else ''}{details}"

    def details(self, entry: EntryRecord, details: Mapping[str, str]) -> list[tuple[str, str, str]]:
        """(what was asked, the answer, and for free speech where it can be heard) of each follow-up question."""
        taken = self.readings.named(entry)
        heard = {name: self.as_heard(self.clip_of(entry, value)) for name, value in details.items() if name == _FREE}
        return [
            (self.readings.label(name), taken.get(name, value), heard.get(name, "")) for name, value in details.items()
        ]

    def details_of(self, defect: DefectRecord) -> list[tuple[str, str, str]]:
        entry = next((entry for entry in self.record.entries if entry.step == defect.step), None)
        return [] if entry is None else self.details(entry, defect.details)

    @staticmethod
    def clip_of(entry: EntryRecord, said: str) -> str | None:
        """The recording in which free words were said; None if none was kept."""
        found = [evidence for evidence in entry.evidence if evidence.words.casefold() == said.casefold()]
        return found[-1].clip if found else None

    def as_heard(self, clip: str | None) -> str:
        """A remark beside free words: they are what the recognizer made of them, and this is where to listen."""
        text = self.text["as_heard"]
        return str(text["clip"].format(clip=clip) if clip else text["no_clip"])

    def reason_heard(self, entry: EntryRecord) -> str:
        return self.as_heard(self.clip_of(entry, entry.reason)) if entry.reason else ""

    def where(self, finding: Standing) -> str:
        """Where something stands out: the item and its place, as everywhere else on the page."""
        return finding.name if finding.step is None else self.step_title(finding.step)

    @property
    def under(self) -> str:
        """Kind of vehicle and route; once, where they are called the same."""
        kind, route = str(self.text["kinds"][self.record.vehicle.kind]), self.record.route_title
        return route if kind.casefold() == route.casefold() else f"{kind} · {route}"

    def level(self, entry: EntryRecord) -> LevelName | None:
        """The worst of an entry's defects and findings, if it is worse than within."""
        level = entry_level(entry)
        return None if level == "within" else level

    def heard(self, entry: EntryRecord) -> str:
        """What was recognized and how surely, and how often it took."""
        text = self.text["entries"]
        parts = [" / ".join(f"{e.words} {e.confidence:.0%}" for e in entry.evidence)]
        for count, name in ((entry.asked_again, "again"), (entry.corrected, "corrected")):
            if count:
                parts.append(text[f"{name}_one"] if count == 1 else text[name].format(count=count))
        parts.append(text["taken_back"].format(words=", ".join(entry.taken_back)) if entry.taken_back else "")
        parts.append(text["together"].format(count=len(entry.together)) if entry.together else "")
        return "; ".join(part for part in parts if part)

    def step_title(self, step: str) -> str:
        for entry in self.record.entries:
            if entry.step == step:
                return f"{entry.title}, {entry.spoken_place}" if entry.spoken_place else entry.title
        return step

    @property
    def worked(self) -> float:
        return sum(section.seconds for section in self.record.sections)

    @property
    def longest(self) -> float:
        return max((section.seconds for section in self.record.sections), default=0.0) or 1.0

    @property
    def odometer(self) -> str:
        return self._miles(self.record.odometer)

    @property
    def hubodometer(self) -> str:
        return self._miles(self.record.hubodometer)

    def _miles(self, reading: ReadingRecord | None) -> str:
        if reading is None:
            return str(self.text["fact"]["none"])
        return self.readings.measure(reading.value, reading.unit, "odometer")

    def certified(self, given: Certification) -> str:
        """What a defect of an earlier report was called, as far as this record's own words tell it."""
        key = self.key(given)
        titles = {self.key(each): each.title for each in self.record.carried}
        titles |= {each.key: each.title for each in self.record.defects}
        if key in titles:
            return titles[key]
        step, _, defect = key.partition("#")
        where = self.step_title(step)
        if where == step:  # not asked on this walk
            where = self._plain(step)
        if defect.startswith(_BEYOND):
            quantity = self.readings.quantity(defect.removeprefix(_BEYOND))
            return f"{where}: {words('record')['beyond'].format(quantity=quantity.lower())}"
        title = defect_titles().get(defect) or self._plain(defect)
        return f"{where}: {title[:1].lower()}{title[1:]}"

    @staticmethod
    def _plain(id: str) -> str:
        text = id.replace("@", ", ").replace("-", " ")
        return text[:1].upper() + text[1:]

    def date(self, moment: datetime) -> str:
        month = self.text["months"][moment.month - 1]
        return str(self.text["date"].format(month=month, day=moment.day, year=moment.year))
