"""The calendar of law: what changed on which day, of the entries of a set of limits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from voice.judge.limit import LimitSet, Rule


@dataclass(frozen=True, slots=True)
class Day:
    """One change of one entry.

    kind: whether the entry begins or ends to hold on that day, or something is only known of it.
    """

    day: date
    id: str
    kind: str
    what: str


def calendar(limits: LimitSet, since: date) -> tuple[Day, ...]:
    """Every change since that day, and with it, the oldest first."""
    days = (day for rule in (*limits.limits, *limits.criteria) for day in _days(rule))
    return tuple(sorted((day for day in days if day.day >= since), key=lambda each: (each.day, each.id)))


def _days(rule: Rule) -> Iterator[Day]:
    for change in rule.changes:
        kind = "noted"
        if change.day == rule.valid_from:
            kind = "begins"
        elif rule.valid_to is not None and change.day == rule.valid_to + timedelta(days=1):
            kind = "ends"
        yield Day(change.day, rule.id, kind, change.what)


def holds(rule: Rule) -> str:
    """On which days the entry holds, in words; empty for always."""
    parts = [f"from {rule.valid_from} on"] if rule.valid_from is not None else []
    parts += [f"until {rule.valid_to}"] if rule.valid_to is not None else []
    return " ".join(parts)
