"""From a session to its record: the plan, the journal and the final answers in, an InspectionRecord out.

Pure but for the journal's bytes, which are hashed up to the sign-off. The same input gives the same record, byte for
byte; that is what lets voice.record.verify make it again and compare.
"""

from __future__ import annotations

import hashlib
import re
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Protocol

from pydantic import ValidationError

from voice.errors import RecordError
from voice.journal.journal import JournalFile, Line
from voice.judge.answer import Answer, Taken
from voice.judge.assessment import Assessment, Entry, assess
from voice.judge.limit import LimitSet
from voice.judge.model import Finding, Result
from voice.measure.level import Level
from voice.measure.telling import quantity_name
from voice.record.canonical import first_fault, seal
from voice.record.model import (
    Certification,
    DefectRecord,
    EntryRecord,
    Evidence,
    FindingRecord,
    InspectionRecord,
    JournalRef,
    LayerRecord,
    NoteRecord,
    ReadingRecord,
    SectionRecord,
    SignOff,
    Standing,
    Summary,
)
from voice.record.review import carried_records
from voice.record.timeline import Span, Timeline, section_seconds, worked
from voice.record.wording import words
from voice.route.model import Choice, Plan, Step
from voice.walk.event import Doubted, Heard

_ODOMETER = re.compile(r"\s*(\d[\d ,]{0,15}(?:\.\d{1,6})?)\s*(mi|km)?\s*", re.IGNORECASE)


class Note(Protocol):
    """A spoken note, as the walk's state keeps it."""

    @property
    def at(self) -> float: ...
    @property
    def step(self) -> str | None: ...
    @property
    def text(self) -> str: ...
    @property
    def event(self) -> int: ...


class Signature(Protocol):
    """The spoken sign-off, as the walk's state keeps it."""

    @property
    def name(self) -> str: ...
    @property
    def words(self) -> str: ...
    @property
    def at(self) -> float: ...
    @property
    def event(self) -> int: ...


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


def standing(entry: Entry) -> Standing:
    return Standing(**finding_record(entry.finding).model_dump(), step=entry.step, name=entry.name, told=entry.told)


def journal_ref(journal: JournalFile, last: int | None) -> JournalRef:
    """The journal's hash up to and with event number `last`; all of it if None. Raises OSError."""
    if last is None or last + 1 >= len(journal.lines):
        return JournalRef(file=journal.path.name, sha256=journal.sha256, events=len(journal.lines))
    lines = journal.path.read_bytes().splitlines(keepends=True)[: last + 2]  # the heading and events 0..last
    return JournalRef(file=journal.path.name, sha256=hashlib.sha256(b"".join(lines)).hexdigest(), events=last + 1)


def _last_before(lines: Sequence[Line], at: float) -> int:
    """Number of the last event up to a moment."""
    return bisect_right(lines, at, key=lambda line: line.event.at) - 1


def reading_record(taken: Taken) -> ReadingRecord:
    return ReadingRecord(
        quantity=taken.quantity,
        value=str(taken.value.value),
        decimal=float(taken.value.value),
        unit=taken.value.unit,
        name=taken.name,
    )


def odometer_record(text: str | None) -> ReadingRecord | None:
    """From what was given at the start ("412,345", "663000 km"); miles unless it says otherwise; None if no number."""
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
class _Builder:
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
                "details": self._details(step, dict(answer.details)),
                "asked": self.time.utc(answer.asked),
                "answered": self.time.utc(answer.answered),
                "seconds": round(worked(answer.asked, answer.answered, self.gaps), 3),
                "readings": tuple(reading_record(taken) for taken in answer.taken),
                "findings": tuple(finding_record(f) for f in findings if f.defect is None),
                "defects": self._defects(step, answer, findings),
                "evidence": tuple(e for line in lines if (e := _evidence(line)) is not None),
                "corrected": answer.corrected,
                "asked_again": answer.asked_again,
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

    def sections(self, answers: Sequence[Answer]) -> tuple[SectionRecord, ...]:
        of_step = {step.id: step.section for step in self.plan.steps}
        spent = section_seconds(answers, of_step, self.gaps)
        counted = list(of_step.values())
        return tuple(
            SectionRecord(
                id=section.id,
                title=section.title,
                cautions=section.cautions,
                seconds=round(spent.get(section.id, 0.0), 3),
                entries=counted.count(section.id),
            )
            for section in self.plan.sections
        )

    def clip(self, event: int) -> tuple[str | None, str | None]:
        hearing = self.lines[event].hearing if 0 <= event < len(self.lines) else {}
        return hearing.get("clip"), hearing.get("clip_sha256")

    def sign_off(self, signature: Signature | None) -> SignOff | None:
        if signature is None:
            return None
        clip, sha256 = self.clip(signature.event)
        return SignOff(
            name=signature.name, at=self.time.utc(signature.at), words=signature.words, clip=clip, clip_sha256=sha256
        )

    def notes(self, notes: Iterable[Note]) -> tuple[NoteRecord, ...]:
        return tuple(
            NoteRecord(at=self.time.utc(note.at), step=note.step, text=note.text, clip=self.clip(note.event)[0])
            for note in notes
        )


def _summary(found: Assessment) -> Summary:
    return Summary(
        counts={level.word: count for level, count in found.counts.items()},
        against=tuple(standing(entry) for entry in found.against),
        watch=tuple(standing(entry) for entry in found.watch),
        unmeasured=found.unmeasured,
        not_inspected=found.not_inspected,
        unjudged=found.unjudged,
        text=found.text,
    )


def build(
    plan: Plan,
    journal: JournalFile,
    answers: Mapping[str, Answer],
    notes: Iterable[Note],
    signature: Signature | None,
    limits: LimitSet,
    titles: Mapping[str, str],
    *,
    certifications: Iterable[Certification] = (),
) -> InspectionRecord:
    """The sealed record of a session, finished or not.

    plan: as the session walked it. answers, notes, signature: of the final state. titles: printed titles of the
    defects by id. certifications: those of earlier defects that the driver could rely on. Raises RecordError.
    """
    lines = journal.lines
    time = Timeline(lines, journal.heading.utc)
    builder = _Builder(plan, lines, titles, time, time.gaps())
    found = assess(limits, plan, answers, titles)
    results = {result.step: result for result in found.results}
    ended: datetime | None = None if signature is None else time.utc(signature.at)
    known = [answers[step.id] for step in plan.steps if step.id in answers]
    try:
        record = InspectionRecord(
            id=journal.heading.session,
            program=journal.heading.program,
            vehicle=plan.vehicle,
            route=plan.route,
            route_title=plan.title,
            data_sha256=plan.data_sha256,
            limits=tuple(LayerRecord(**layer.model_dump()) for layer in limits.layers),
            driver=signature.name if signature is not None else journal.heading.driver,
            started=journal.heading.utc,
            ended=ended,
            odometer=odometer_record(journal.heading.odometer),
            sections=builder.sections(known),
            entries=tuple(builder.entry(step, answers.get(step.id), results.get(step.id)) for step in plan.steps),
            carried=carried_records(plan, answers),
            notes=builder.notes(notes),
            interruptions=time.interruptions(),
            summary=_summary(found),
            sign_off=builder.sign_off(signature),
            certifications=tuple(certifications),
            journal=journal_ref(journal, None if signature is None else _last_before(lines, signature.at)),
        )
    except ValidationError as error:
        raise RecordError(
            f"No record can be made of {journal.path}: out of bounds is {first_fault(error)}.",
            "The journal is kept as it is.",
        ) from error
    return seal(record)
