"""What each layer of limits changes, and where a change is looser than the layer below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from voice.judge.limit import Criterion, Limit, LimitSet
from voice.judge.load import load_limits
from voice.measure import Measure
from voice.measure.level import level_of

Kind = Literal["new", "changed", "looser", "dropped"]


@dataclass(frozen=True, slots=True)
class RuleChange:
    """What `file` does to the rule `id`. looser: it now allows a reading, or lowers a level, that it did not before."""

    file: str
    id: str
    kind: Kind


def changes(files: Sequence[Path]) -> tuple[RuleChange, ...]:
    """Every change that the files after the first one make, in order. Raises DataError."""
    found: list[RuleChange] = []
    before = load_limits(files[:1])
    for count in range(2, len(files) + 1):
        after = load_limits(files[:count])
        found += _between(before, after, files[count - 1].name)
        before = after
    return tuple(found)


def _between(before: LimitSet, after: LimitSet, file: str) -> list[RuleChange]:
    old, new = _by_id(before), _by_id(after)
    found = [RuleChange(file, name, "dropped") for name in old if name not in new]
    for name, rule in new.items():
        if name not in old:
            found.append(RuleChange(file, name, "new"))
        elif rule != old[name]:
            found.append(RuleChange(file, name, "looser" if looser(old[name], rule) else "changed"))
    return found


def _by_id(limits: LimitSet) -> dict[str, Limit | Criterion]:
    rules: list[Limit | Criterion] = [*limits.limits, *limits.criteria]
    return {rule.id: rule for rule in rules}


def looser(before: Limit | Criterion, after: Limit | Criterion) -> bool:
    """Whether `after` lets something through that `before` did not: a lower level, or a figure that allows more.

    Figures are compared where both limits state them outright in the same direction; else only the level is.
    """
    if level_of(after.level) < level_of(before.level):
        return True
    if not isinstance(before, Limit) or not isinstance(after, Limit):
        return False
    old, new = _ends(before), _ends(after)
    if old is None or new is None:
        return False
    return _more(new[0], old[0], -1) or _more(new[1], old[1], +1)


End = tuple[Measure, bool]  # the figure, and whether it meets the limit itself


def _ends(limit: Limit) -> tuple[End | None, End | None] | None:
    """(low, high) of a limit that states its figures outright; None for one made from a table or the vehicle."""
    if limit.table is not None or limit.figure is not None:
        return None
    if limit.must == "between" and limit.low is not None and limit.high is not None:
        return (Measure(limit.low, limit.unit), True), (Measure(limit.high, limit.unit), True)
    if limit.value is None:
        return None
    end = (Measure(limit.value, limit.unit), limit.must in ("at-least", "at-most"))
    return (end, None) if limit.must in ("at-least", "more-than") else (None, end)


def _more(new: End | None, old: End | None, direction: int) -> bool:
    """Whether the new end allows more than the old one.

    direction: -1 for a lower limit, +1 for an upper one.
    """
    if old is None or new is None:
        return new is None and old is not None
    step = (new[0].to(old[0].unit).value - old[0].value) * direction
    return step > 0 or (step == 0 and new[1] and not old[1])
