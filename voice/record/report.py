"""The printable report: one HTML file without scripts, and without anything to fetch.

The page is prompts/report/report.html.j2, its words are prompts/report/report.yaml. Everything that came from a driver
or a profile is escaped by Jinja2.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from functools import cache
from typing import Any, Literal, get_args

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from voice.judge.wording import verdicts
from voice.measure import Measure, fits
from voice.measure.book import unit_book
from voice.measure.level import LevelName, level_of, worst
from voice.measure.telling import printed, quantity_name
from voice.record.diagram import HEIGHT, WIDTH, diagram
from voice.record.model import (
    Certification,
    DefectRecord,
    EntryRecord,
    FindingRecord,
    InspectionRecord,
    ReadingRecord,
    Standing,
)
from voice.record.review import SECTION as REVIEW
from voice.record.table import entry_level
from voice.record.wording import report_dir, words
from voice.route.model import Part

Paper = Literal["auto", "a4", "letter"]
_GAUGES = ("gauge-start", "gauge-end", "hold-time")
_FREE = "described"  # the follow-up that is free speech: what defect "other" is
_INSPECTED = ("ok", "defect", "reading", "choice", "done")


@dataclass(frozen=True, slots=True)
class Row:
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
class Group:
    """Readings of one quantity."""

    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class PartLine:
    """One of the parts the rule names, and what was found on it. numbers: of its defects."""

    part: Part
    items: int
    found: str
    level: LevelName | None


@dataclass(frozen=True)
class _Page:
    """What the template asks for."""

    record: InspectionRecord
    certifications: Mapping[str, Certification]
    text: Mapping[str, Any]

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
        levels = {finding.step: finding.level for finding in self.record.summary.against}
        reviewed = [entry.step for entry in self.record.entries if entry.section == REVIEW]
        pairs = zip(self.record.carried, reviewed, strict=False)
        return {carried.key: levels[step] for carried, step in pairs if step in levels}

    @property
    def groups(self) -> list[Group]:
        rows: dict[str, list[Row]] = {}
        for entry in self.record.entries:
            for reading in self.judged(entry):
                rows.setdefault(self.quantity(reading.quantity), []).extend(self._rows(entry, reading))
        several = [Group(title, tuple(lines)) for title, lines in rows.items() if len(lines) > 1]
        single = [line for lines in rows.values() if len(lines) == 1 for line in lines]
        return [*several, *([Group(self.text["measurements"]["single"], tuple(single))] if single else [])]

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

    def _rows(self, entry: EntryRecord, reading: ReadingRecord) -> list[Row]:
        name = ", ".join(part for part in (self.label(reading.name), self._held(entry, reading)) if part)
        shown = self.measure(reading.value, reading.unit, reading.quantity)
        where = entry.spoken_place or entry.title
        found = [
            finding
            for finding in dict.fromkeys(entry.findings)
            if finding.quantity == reading.quantity
            and finding.reading is not None
            and finding.unit is not None
            and _converts(finding.unit, reading.unit)
            and Measure(Fraction(finding.reading), finding.unit).to(reading.unit).value == Fraction(reading.value)
        ]
        if not found:
            return [Row(where, name, shown, None)]
        # Every limit that is not simply met is told; of those that are, the nearest.
        told = [finding for finding in found if finding.level != "within"] or [min(found, key=_distance)]
        more = len(found) - len(told)
        return [
            Row(where, name, shown, finding, self.margin(finding), more if finding is told[-1] else 0)
            for finding in told
        ]

    def margin(self, finding: FindingRecord) -> str:
        if finding.margin is None or finding.unit is None:
            return ""
        value = Fraction(finding.margin)
        sign = "−" if value < 0 else "+" if value > 0 else ""
        return sign + self.measure(str(abs(value)), finding.unit, finding.quantity)

    def measure(self, value: str, unit: str, quantity: str) -> str:
        """As it is printed; as it stands where its unit is unknown or not one of the quantity."""
        kept = unit_book().quantities.get(quantity)
        if kept is not None and not _converts(unit, kept.unit):
            return f"{value} {unit}"
        system = self.record.vehicle.display_units
        return printed(Measure(Fraction(value), unit), quantity=quantity, system=system)

    def quantity(self, quantity: str) -> str:
        name = quantity_name(quantity)
        return name[:1].upper() + name[1:]

    def found(self, defect: DefectRecord) -> str:
        """The reading that a defect rests on, against its limit."""
        finding = defect.finding
        if finding is None or finding.reading is None or finding.unit is None:
            return ""
        return self.measure(finding.reading, finding.unit, finding.quantity)

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
            return ", ".join(self.measure(r.value, r.unit, r.quantity) for r in self.judged(entry))
        if entry.choice is not None:
            known = self.text["carried"]["answers"]
            return (
                str(known[entry.choice])
                if entry.section == REVIEW and entry.choice in known
                else entry.choice.replace("-", " ")
            )
        details = ", ".join(f"{label}: {value}" for label, value, _ in self.details(entry, entry.details))
        return f"{self.text['outcomes'][entry.outcome]}{', ' if details else ''}{details}"

    def label(self, name: str) -> str:
        """What a follow-up question asks for, in plain words; a gauge's name is plain already."""
        return str(self.text["details"].get(name, name.replace("-", " ")))

    def details(self, entry: EntryRecord, details: Mapping[str, str]) -> list[tuple[str, str, str]]:
        """(what was asked, the answer, and for free speech where it can be heard) of each follow-up question."""
        return [
            (self.label(name), value, self.as_heard(self.clip_of(entry, value)) if name == _FREE else "")
            for name, value in details.items()
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
        reading = self.record.odometer
        if reading is None:
            return str(self.text["fact"]["none"])
        if reading.unit not in ("mi", "km"):
            return f"{reading.value} {reading.unit}"
        number, _, unit = self.measure(reading.value, reading.unit, "odometer").partition(" ")
        whole, point, part = number.partition(".")
        return f"{int(whole):,}{point}{part} {unit}"

    def date(self, moment: datetime) -> str:
        month = self.text["months"][moment.month - 1]
        return str(self.text["date"].format(month=month, day=moment.day, year=moment.year))


def _converts(unit: str, other: str) -> bool:
    """Whether one unit converts into the other. One that is not in units.yaml is never given to the unit reader."""
    known = unit_book().units
    return unit == other or (unit in known and other in known and fits(unit, other))


def _distance(finding: FindingRecord) -> Fraction:
    """How near a limit is that was met: its margin in its own unit, against the reading."""
    if finding.margin is None or finding.reading is None:
        return Fraction(10**9)
    return abs(Fraction(finding.margin)) / (abs(Fraction(finding.reading)) or 1)


def clock(moment: datetime) -> str:
    return f"{moment:%H:%M}"


def offset(moment: datetime) -> str:
    """The clock's distance from UTC: "UTC-06:00"."""
    text = f"{moment:%z}"
    return f"UTC{text[:3]}:{text[3:]}".replace("-", "−") if text else ""


def duration(seconds: float) -> str:
    """ "41 min", "2 min 5 s", "48 s", "1 h 3 min"."""
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    if hours:
        return f"{hours} h {minutes} min"
    if minutes >= 10 or (minutes and not rest):
        return f"{minutes} min"
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def grouped(digest: str) -> str:
    """A hash in groups of eight, so that two can be compared by eye."""
    return " ".join(digest[at : at + 8] for at in range(0, len(digest), 8))


def css(text: str) -> Markup:
    """Text for a quoted CSS string: everything but plain letters and digits as an escape, so nothing can end it."""
    return Markup("".join(c if c.isascii() and (c.isalnum() or c in " -.,") else f"\\{ord(c):x} " for c in text))  # noqa: S704


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(report_dir()),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(capital=capital, css=css, clock=clock, offset=offset, duration=duration, grouped=grouped)
    return environment


def render_html(
    record: InspectionRecord,
    certifications: Iterable[Certification] = (),
    *,
    paper: Paper = "auto",
    annex: bool = True,
) -> str:
    """The report as one HTML page.

    certifications: of the record's defects, given since; they fill its block.

    paper: "auto" leaves the size of the sheet to the printer. annex: also what follows the signatures (parts,
    measurements, every item, hashes); without it, only the sheet that is signed.
    """
    text = words("report")
    page = _Page(record, {c.key: c for c in certifications}, text)
    return (
        _environment()
        .get_template("report.html.j2")
        .render(
            page=page,
            record=record,
            text=text,
            levels={name: said[:1].upper() + said[1:] for name, said in verdicts().levels.items()},
            drawing=diagram(record, page.numbers),
            width=WIDTH,
            height=HEIGHT,
            annex=annex,
            size={"auto": "", "a4": "size: A4;", "letter": "size: letter;"}[paper],
        )
    )
