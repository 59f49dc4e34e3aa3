"""What a named defect means."""

from __future__ import annotations

from collections.abc import Mapping

from voice.errors import DataError
from voice.judge.facts import facts
from voice.judge.limit import Criterion, LimitSet
from voice.judge.model import KNOWN, Finding, Subject
from voice.measure.level import level_of
from voice.route.model import Part


def judge_defect(
    limits: LimitSet, subject: Subject, defect: str, *, part: Part, details: Mapping[str, str] | None = None
) -> Finding:
    """The finding of the most specific criterion that fits; of equally specific ones the worst, then the best known.

    part: of 49 CFR 396.11(a)(1), for the general rule.
    details: answers to the defect's follow-up questions (follow-up id -> option id). The shipped set has a rule for
        every part; a set without one raises DataError.
    """
    known, given = facts(subject), details or {}
    fitting = [rule for rule in limits.criteria if _fits(rule, subject.item, defect, part, given) and rule.holds(known)]
    if not fitting:
        raise DataError(
            f"No criterion says what the defect '{defect}' of '{subject.item}' means.",
            "Add a criterion without items and defects to the limits files.",
        )
    rule = max(fitting, key=lambda each: (each.weight, level_of(each.level), -KNOWN.index(each.source.known)))
    return Finding(
        level=level_of(rule.level),
        quantity="condition",
        limit=rule.id,
        limit_text=rule.title,
        source=rule.source.section,
        known=rule.source.known,
        layer=rule.file,
        defect=defect,
        condition=rule.condition,
    )


def _fits(rule: Criterion, item: str, defect: str, part: Part, details: Mapping[str, str]) -> bool:
    return (
        (not rule.items or item in rule.items)
        and (not rule.defects or defect in rule.defects)
        and (not rule.parts or part in rule.parts)
        and all(details.get(name) in wanted for name, wanted in rule.details.items())
    )
