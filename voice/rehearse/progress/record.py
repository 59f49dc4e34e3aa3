"""What is kept of a rehearsal: one line of JSON in the student's own folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from pydantic import AwareDatetime, Field

from voice.data.strict import Strict
from voice.rehearse.listen.part import RecitedPart, Syllabus
from voice.rehearse.listen.score import Score
from voice.rehearse.recite.coach import Rehearsal, prompted

VERSION = 1


class PartRecord(Strict):
    """One part of a rehearsal; the lists hold ids of its key points."""

    key: str
    section: str
    title: str
    named: bool
    right: bool
    said: tuple[str, ...] = ()
    short: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()
    strays: int = 0
    slipped: bool = False
    prompted: bool = False


class SessionRecord(Strict):
    """One rehearsal.

    utterances: what the recognizer made of it.
    weakest: the parts were chosen by memory.
    """

    version: Literal[1] = 1
    id: str = Field(pattern=r"^[0-9A-Za-z-]+$")
    started: AwareDatetime
    form: Literal["test", "coached"]
    route: str
    vehicle: str
    section: str | None = None
    weakest: bool = False
    points: float
    of: float
    seconds: float
    failed: tuple[str, ...] = ()
    slips: tuple[str, ...] = ()
    parts: tuple[PartRecord, ...]
    utterances: tuple[str, ...] = ()
    invented: bool = False

    @property
    def share(self) -> float:
        """Points of those that could be had, 0..1."""
        return self.points / self.of if self.of else 0.0


@dataclass(frozen=True, slots=True)
class RehearsalHeading:
    """What is known of a rehearsal before its first word.

    section: only this one was rehearsed, by id.
    weakest: the parts were chosen by memory.
    """

    id: str
    started: datetime
    form: Literal["test", "coached"]
    section: str | None = None
    weakest: bool = False


def make_record(
    heading: RehearsalHeading, syllabus: Syllabus, parts: Mapping[str, RecitedPart], state: Rehearsal, result: Score
) -> SessionRecord:
    """The record of a finished rehearsal.

    parts: by key.
    """
    helped = prompted(state)
    return SessionRecord(
        id=heading.id,
        started=heading.started,
        form=heading.form,
        route=syllabus.route,
        vehicle=syllabus.vehicle,
        section=heading.section,
        weakest=heading.weakest,
        points=result.points,
        of=result.of,
        seconds=round(result.seconds, 1),
        failed=result.failed,
        slips=result.slips,
        parts=tuple(
            PartRecord(
                key=each.key,
                section=parts[each.key].section,
                title=parts[each.key].title,
                named=each.named,
                right=each.right,
                said=each.said,
                short=each.short,
                wrong=each.wrong,
                strays=each.strays,
                slipped=each.slipped,
                prompted=each.key in helped,
            )
            for each in result.parts
        ),
        utterances=tuple(utterance.text for utterance in state.said),
    )
