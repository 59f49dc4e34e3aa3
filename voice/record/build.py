"""From a session to its record: the plan, the journal and the final answers in, an InspectionRecord out.

Pure but for the journal's bytes, which are hashed up to the sign-off. The same input gives the same record, byte for
byte; that is what lets voice.record.verify make it again and compare.
"""

from __future__ import annotations

import hashlib
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from pydantic import ValidationError

from voice.errors import RecordError
from voice.journal.journal import JournalFile
from voice.journal.line import Line
from voice.judge.answer import Answer
from voice.judge.assessment import Assessment, Standout, assess
from voice.judge.limit import LimitSet
from voice.record.entry import EntryMaker, finding_record, odometer_record
from voice.record.load import first_fault
from voice.record.model import (
    Certification,
    InspectionRecord,
    JournalRef,
    LayerRecord,
    NotDueRecord,
    NoteRecord,
    SectionRecord,
    SignOff,
    Standing,
    Summary,
)
from voice.record.review import carried_records
from voice.record.seal import seal
from voice.record.timeline import Span, Timeline, section_seconds
from voice.route.model import Plan
from voice.walk.state import Note, Signature, State


def standing(entry: Standout) -> Standing:
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


@dataclass(frozen=True)
class _Builder:
    plan: Plan
    lines: Sequence[Line]
    time: Timeline
    gaps: Sequence[Span]

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
    state: State,
    limits: LimitSet,
    titles: Mapping[str, str],
    *,
    certifications: Iterable[Certification] = (),
) -> InspectionRecord:
    """The sealed record of a session, finished or not.

    plan: as the session walked it.
    state: the final one, of which the answers, the notes and the signature count.
    titles: printed titles of the defects by id.
    certifications: those of earlier defects that the driver could rely on.

    Raises RecordError.
    """
    answers, signature = state.answers, state.signature
    whole, plan = plan, plan.walked(answers)
    lines = journal.lines
    time = Timeline(lines, journal.heading.utc)
    gaps = time.gaps()
    builder = _Builder(plan, lines, time, gaps)
    entries = EntryMaker(whole, lines, titles, time, gaps)
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
            kind=plan.kind,
            kind_title=plan.kind_title,
            data_sha256=plan.data_sha256,
            limits=tuple(LayerRecord(**layer.model_dump()) for layer in limits.layers),
            driver=signature.name if signature is not None else journal.heading.driver,
            started=journal.heading.utc,
            ended=ended,
            odometer=odometer_record(journal.heading.odometer),
            hubodometer=odometer_record(journal.heading.hubodometer),
            remarks=plan.remarks,
            sections=builder.sections(known),
            entries=tuple(entries.entry(step, answers.get(step.id), results.get(step.id)) for step in plan.steps),
            not_due=tuple(NotDueRecord.model_validate(each.model_dump()) for each in plan.not_due),
            carried=carried_records(plan, answers),
            notes=builder.notes(state.notes),
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
