"""An answer of the walk, as an entry of the record."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from voice.journal.line import Line
from voice.judge.answer import LAST, Answer, Taken
from voice.judge.model import Finding, Result
from voice.measure.level import Level
from voice.measure.telling import quantity_name
from voice.record.model import DefectRecord, EntryRecord, Evidence, FindingRecord, ReadingRecord
from voice.record.timeline import Span, Timeline, worked
from voice.record.wording import words
from voice.route.answer import Choice
from voice.route.model import Plan, Step
from voice.walk.event import Doubted, Heard

_ODOMETER = re.compile(r"\s*(\d[\d ,]{0,15}(?:\.\d{1,6})?)\s*(mi|km)?\s*", re.IGNORECASE)


def finding_record(finding: Finding) -> FindingRecord:
    unit = finding.reading.unit if finding.reading else finding.margin.unit if finding.margin else None
    return FindingRecord(
        level=finding.level.word,
        quantity=finding.quantity,
        limit=finding.limit,
        limit_text=finding.limit_text,
        source=finding.source,
        known=finding.known,
        layer=finding.layer,
        reading=None if finding.reading is None else str(finding.reading.value),
        margin=None if finding.margin is None or unit is None else str(finding.margin.to(unit).value),
        unit=unit,
        defect=finding.defect,
        condition=finding.condition,
    )


def reading_record(taken: Taken) -> ReadingRecord:
    return ReadingRecord(
        quantity=taken.quantity,
        value=str(taken.value.value),
        decimal=float(taken.value.value),
        unit=taken.value.unit,
        name=taken.name,
    )


def odometer_record(text: str | None) -> ReadingRecord | None:
    """An odometer or hubodometer, from what was given at the start ("412,345", "663000 km"); miles unless it says
    otherwise; None if it is no number."""
    if text is None or (match := _ODOMETER.fullmatch(text)) is None:
        return None
    value = Fraction(re.sub(r"[ ,]", "", match[1]))
    return ReadingRecord(quantity="odometer", value=str(value), decimal=float(value), unit=(match[2] or "mi").lower())


def _evidence(line: Line) -> Evidence | None:
    event, hearing = line.event, line.hearing
    if not isinstance(event, Heard | Doubted):
        return None
    return Evidence(
        words=event.words,
        confidence=event.confidence,
        engine=str(hearing.get("engine", "")),
        model=str(hearing.get("model", "")),
        noise_db=hearing.get("noise_db"),
        clip=hearing.get("clip"),
        clip_sha256=hearing.get("clip_sha256"),
    )


@dataclass(frozen=True)
class EntryMaker:
    """Makes the entries of one session.

    plan: as it was begun.
    lines: of its journal.
    titles: printed titles of the defects by id.
    time, gaps: of its clock, and when nobody was walking.
    """

    plan: Plan
    lines: Sequence[Line]
    titles: Mapping[str, str]
    time: Timeline
    gaps: Sequence[Span]

    def entry(self, step: Step, answer: Answer | None, result: Result | None) -> EntryRecord:
        """result: None for a question of the review, which judges nothing."""
        blank = EntryRecord(
            step=step.id,
            item=step.item.id,
            section=step.section,
            part=step.item.part,
            title=step.item.title,
            place=step.place,
            spoken_place=step.spoken_place,
            outcome="not-inspected" if answer is None else answer.kind,
        )
        if answer is None:
            return blank
        findings = () if result is None else result.findings
        lines = [self.lines[index] for index in answer.events if index < len(self.lines)]
        return blank.model_copy(
            update={
                "reason": answer.reason,
                "choice": answer.choice,
                "details": self._details(step, dict(answer.details)) | self._told(answer),
                "asked": self.time.utc(answer.asked),
                "answered": self.time.utc(answer.answered),
                "seconds": round(worked(answer.asked, answer.answered, self.gaps), 3),
                "readings": tuple(reading_record(taken) for taken in answer.taken),
                "findings": tuple(finding_record(f) for f in findings if f.defect is None),
                "defects": self._defects(step, answer, findings),
                "evidence": tuple(e for line in lines if (e := _evidence(line)) is not None),
                "corrected": answer.corrected,
                "taken_back": answer.taken_back,
                "asked_again": answer.asked_again,
                "together": answer.together,
            }
        )

    def _defects(self, step: Step, answer: Answer, findings: Sequence[Finding]) -> tuple[DefectRecord, ...]:
        """Those that were named. A reading beyond its limit is a defect too, even if none was named.

        A defect's level is no lower than that of the reading taken of the same item.
        """
        read = [finding for finding in findings if finding.defect is None]
        named = [finding for finding in findings if finding.defect is not None]
        worst = max((finding.level for finding in read), default=Level.WITHIN)
        details = {found.defect: dict(found.details) for found in answer.defects}
        records = []
        for finding in named:
            defect = finding.defect or ""
            title = self.titles.get(defect, defect.replace("-", " "))
            record = self._defect(step, defect, title, max(worst, finding.level), finding)
            told = self._details(step, details.get(defect, {}))
            records.append(record.model_copy(update={"details": told}))
        if not named:
            for quantity in dict.fromkeys(finding.quantity for finding in read if finding.level >= Level.REPAIR):
                finding = next(f for f in read if f.quantity == quantity)  # worst first
                own = getattr(step.item.answer, "quantity", None) == quantity
                title = words("record")["beyond_own" if own else "beyond"].format(quantity=quantity_name(quantity))
                records.append(self._defect(step, f"beyond-{quantity}", title, finding.level, finding))
        return tuple(records)

    @staticmethod
    def _defect(step: Step, defect: str, title: str, level: Level, finding: Finding) -> DefectRecord:
        place = f", {step.spoken_place}" if step.spoken_place else ""
        return DefectRecord(
            key=f"{step.id}#{defect}",
            step=step.id,
            defect=defect,
            title=f"{step.item.title}{place}: {title[:1].lower()}{title[1:]}",
            level=level.word,
            finding=finding_record(finding),
        )

    def _told(self, answer: Answer) -> dict[str, str]:
        """That a reading was not told by itself: it is the same as another, or was told together with one."""
        text, told = words("record"), []
        if answer.same == LAST:
            told.append(text["same_as_last"].format(day=self.plan.last[answer.step].at[:10]))
        elif answer.same:
            told.append(text["same_as"].format(name=self._name(answer.same)))
        if answer.beside:
            told.append(text["told_with"].format(name=self._name(answer.beside)))
        return {"told": "; ".join(told)} if told else {}

    def _name(self, step: str) -> str:
        return next(each.name for each in self.plan.steps if each.id == step)

    @staticmethod
    def _details(step: Step, details: Mapping[str, str]) -> dict[str, str]:
        """Follow-up answers with an option's title in place of its id."""
        titles = {
            (follow.id, option.id): option.title
            for follow in step.item.follow_ups
            if isinstance(follow.answer, Choice)
            for option in follow.answer.options
        }
        return {name: titles.get((name, value), value) for name, value in details.items()}
