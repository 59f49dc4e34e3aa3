"""An answer of the walk with its findings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from voice.judge.cargo import LENGTH, judge_cargo
from voice.judge.defect import judge_defect
from voice.judge.limit import LimitSet
from voice.judge.model import Finding, Result, Subject
from voice.judge.reading import judge_reading
from voice.route.answer import Choice
from voice.route.model import Step
from voice.route.vehicle import Vehicle

if TYPE_CHECKING:  # the walk imports this package
    from voice.judge.answer import Answer

MEASURED = ("reading", "hold", "climb", "call")


def judge_answer(limits: LimitSet, vehicle: Vehicle, step: Step, answer: Answer | None) -> Result:
    """All findings on one step, worst first: on every reading of it, every defect, and defects that a choice means.

    answer: None counts as not inspected.
    """
    subject = Subject(vehicle, step.item.id, step.place)
    wants = step.item.answer.quantity if step.item.answer.kind in MEASURED else None  # type: ignore[union-attr]
    if answer is None:
        return Result(step.id, step.name, subject, step.item.part, "not-inspected", wants=wants)
    findings = [
        finding for taken in answer.taken for finding in judge_reading(limits, subject, taken.quantity, taken.value)
    ]
    if wants == LENGTH:
        findings += judge_cargo(limits, answer.taken, vehicle.display_units)
    for defect, details in _defects(step, answer):
        findings.append(judge_defect(limits, subject, defect, part=step.item.part, details=details))
    return Result(
        step=step.id,
        name=step.name,
        subject=subject,
        part=step.item.part,
        outcome=answer.kind,
        findings=tuple(sorted(findings, key=_worst_first)),
        wants=wants,
        measured=any(taken.quantity == wants for taken in answer.taken),
    )


def _worst_first(finding: Finding) -> tuple[int, str]:
    return (-finding.level, finding.limit)


def _defects(step: Step, answer: Answer) -> Iterator[tuple[str, dict[str, str]]]:
    """Each defect once, with the answers to its follow-up questions."""
    named = {found.defect: option_ids(step, found.details) for found in answer.defects}
    if isinstance(step.item.answer, Choice):
        for option in step.item.answer.options:
            if option.id == answer.choice and option.defect is not None:
                named.setdefault(option.defect, {})
    for follow in step.item.follow_ups:
        if isinstance(follow.answer, Choice):
            given = option_ids(step, answer.details).get(follow.id)
            for option in follow.answer.options:
                if option.id == given and option.defect is not None:
                    named.setdefault(option.defect, {})
    yield from named.items()


def option_ids(step: Step, details: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Follow-up answers with an option's id in place of its title, whichever of the two they were kept as."""
    ids = {
        (follow.id, option.title.lower()): option.id
        for follow in step.item.follow_ups
        if isinstance(follow.answer, Choice)
        for option in follow.answer.options
    }
    return {name: ids.get((name, text.lower()), text) for name, text in details}
