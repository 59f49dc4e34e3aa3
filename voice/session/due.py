"""What earlier walks settle of this one: on a walk by place a reading that was taken lately and was well within its
limits is not due, and "same" may stand for what was read last."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction

from voice.measure.cardinal import cardinal
from voice.record.model import ReadingRecord
from voice.record.past import Past
from voice.route.answer import Measurement
from voice.route.files import Due
from voice.route.model import LastReading, NotDue, Plan, Step
from voice.route.units import in_unit
from voice.walk.pacetalk import PaceTalk

UnitKey = tuple[str, str]  # the unit's id, and a step as the unit has it


@dataclass(frozen=True, slots=True)
class Today:
    """miles: by unit, its own odometer, if it was given."""

    at: datetime
    miles: Mapping[str, float] = field(default_factory=dict)


def with_due(plan: Plan, due: Mapping[str, Due], pasts: Iterable[Past], today: Today, talk: PaceTalk) -> Plan:
    """The plan with what is not due marked so; before what is due again, the reason.

    pasts: of its units, oldest first.
    """
    last: dict[UnitKey, Past] = {}
    for walk in pasts:
        last.update({(walk.vehicle, name): walk for name in walk.measured})
        for name in walk.beyond:  # it was not well within: it is due
            last.pop((walk.vehicle, name), None)
    left: list[NotDue] = []
    reasons: dict[str, str] = {}
    told: set[str] = set()
    for step in plan.steps:
        rule, past = due.get(step.item.id), last.get(in_unit(plan.vehicle, step.id, step.place))
        if rule is not None and past is not None and not _over(rule, past, today):
            title = f"{step.item.title}, {step.spoken_place}" if step.spoken_place else step.item.title
            at = past.at.isoformat()
            left.append(NotDue(step=step.id, title=title, last=at, days=rule.days, miles=rule.miles))
        elif rule is not None and past is not None and step.item.id not in told:
            told.add(step.item.id)
            reasons[step.id] = _reason(step, past, today, talk)
    return plan.model_copy(update={"not_due": tuple(left), "reasons": reasons})


def with_last(plan: Plan, pasts: Iterable[Past]) -> Plan:
    """The plan with what was read last, where "same" may stand for it.

    pasts: as above.
    """
    wanted = {in_unit(plan.vehicle, step.id, step.place): step for step in plan.steps if "last" in step.item.same}
    last: dict[str, LastReading] = {}
    for walk in pasts:
        for name, read in walk.readings.items():
            step = wanted.get((walk.vehicle, name))
            asked = None if step is None else step.item.answer
            if step is not None and isinstance(asked, Measurement) and _is_of(read, asked):
                last[step.id] = LastReading(at=walk.at.isoformat(), value=Fraction(read.value), unit=read.unit)
    return plan.model_copy(update={"last": last})


def _is_of(read: ReadingRecord, asked: Measurement) -> bool:
    return (read.quantity, read.name) == (asked.quantity, "")


def _days(past: Past, today: Today) -> int:
    """Between the dates, so that a walk at seven and one at six a week later are seven days apart. A clock that was set
    back gives none, and what is in the future is due."""
    return (today.at.astimezone().date() - past.at.astimezone().date()).days


def _over(rule: Due, past: Past, today: Today) -> bool:
    days = _days(past, today)
    if days < 0 or (rule.days is not None and days >= rule.days):
        return True
    if rule.miles is None:
        return False
    # The same odometer, then and now. Behind another tractor, a trailer without its own has none.
    miles = today.miles.get(past.lead or past.vehicle)
    if miles is None or past.miles is None:
        return rule.days is None  # by miles alone, and they are not known
    return not 0 <= miles - past.miles < rule.miles


def _reason(step: Step, past: Past, today: Today, talk: PaceTalk) -> str:
    days = _days(past, today)
    name = step.item.call[0].capitalize()
    return (talk.due_one if days == 1 else talk.due).format(name=name, days=cardinal(max(days, 0)))
