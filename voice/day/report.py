"""The report of a day: one HTML page that prints on two sheets."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from voice.day.duty import DutyLine
from voice.day.model import DayCheck, DayInspection, DayRecord
from voice.day.rules import DayRules
from voice.judge.wording import level_words
from voice.measure.level import LevelName
from voice.measure.telling import mile
from voice.record.model import Certification
from voice.record.report import Paper, clock, environment, paper_size
from voice.record.wording import words


@dataclass(frozen=True)
class DayPage:
    """What prompts/report/day.html.j2 asks for; most of it is called from there alone.

    text: of prompts/report/day.yaml.
    """

    record: DayRecord
    text: Mapping[str, Any]
    rules: DayRules

    @property
    def date(self) -> str:
        return f"{self.record.date:%Y-%m-%d}"

    def miles(self, miles: float | None) -> str:
        return "" if miles is None else mile(miles)

    def mile(self, miles: float | None) -> str:
        return "" if miles is None else str(self.text["checks"]["mile"]).format(mile=self.miles(miles))

    def signed(self, inspection: DayInspection) -> str:
        """Who signed it."""
        return ", ".join((inspection.driver, *inspection.seconds))

    def found(self, inspection: DayInspection) -> str:
        """What stood against leaving, counted by kind, and what was found besides."""
        texts, against = self.text["inspections"], inspection.against
        parts = []
        if against:
            kinds = Counter(each.kind for each in against)
            number = texts["against_one" if len(against) == 1 else "against_many"].format(count=len(against))
            listed = ", ".join(self._counted(kind, count) for kind, count in kinds.items())
            parts.append(str(texts["against"]).format(count=number, kinds=listed))
        if inspection.watched:
            parts.append(self._counted("watched", inspection.watched))
        return "; ".join(parts) or str(texts["found_none"])

    def left_out(self, inspection: DayInspection) -> str:
        count = inspection.not_inspected
        return str(self.text["inspections"]["left_out"]).format(count=count) if count else ""

    def level(self, name: LevelName) -> str:
        return level_words(name, capital=True)

    def elsewhere(self, inspection: DayInspection) -> str:
        """What stood against leaving and is not in the table of defects, by name."""
        return "; ".join(each.title for each in inspection.against if each.kind != "found")

    def no_defects(self) -> str:
        """Told where the table of defects is empty."""
        against = any(each.against for each in self.record.inspections)
        return str(self.text["defects"]["none_new" if against else "none"])

    def _counted(self, kind: str, count: int) -> str:
        return str(self.text["inspections"]["one" if count == 1 else "many"][kind]).format(count=count)

    def change(self, change: DutyLine) -> str:
        return str(self.text["checks"]["change"]).format(time=clock(change.at), status=self.rules.duty[change.status])

    def check(self, check: DayCheck) -> str:
        """A look at the cargo in one line."""
        texts = self.text["checks"]
        line = texts["line"] if check.look is not None else texts["line_open"]
        return str(line).format(
            at=clock(check.at),
            due=" / ".join(part for part in (clock(check.due), self.mile(check.due_mile)) if part),
            looked=clock(check.looked) if check.looked is not None else "",
            verdict=texts["verdicts"][check.verdict],
        )

    def duty(self, change: DutyLine) -> str:
        at = self.mile(change.miles)
        return f"{clock(change.at)} {self.rules.duty[change.status]}, {change.driver}{f', {at}' if at else ''}"

    def unit(self, unit: str) -> str:
        return next((each.name for each in self.record.units if each.id == unit), unit)

    def certified(self, given: Certification | None) -> str:
        texts = self.text["defects"]
        return str(texts["open"] if given is None else texts[given.verdict]).format(
            name="" if given is None else given.name, time="" if given is None else clock(given.at.astimezone())
        )


def render_day(record: DayRecord, rules: DayRules, *, paper: Paper = "auto") -> str:
    """The report of a day as one HTML page.

    paper: "auto" leaves the size of the sheet to the printer.
    """
    text = words("day")
    page = DayPage(record, text, rules)
    return environment().get_template("day.html.j2").render(page=page, record=record, text=text, size=paper_size(paper))
