"""A reading held against all limits that apply to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from voice.errors import DataError
from voice.judge.facts import facts, figures
from voice.judge.limit import Figure, Limit, LimitSet
from voice.judge.model import KNOWN, Finding, Known, Subject
from voice.judge.wording import verdicts
from voice.measure import Measure, fits
from voice.measure.level import Level, level_of
from voice.measure.telling import System, printed, spoken
from voice.route.facts import Fact

PI = Fraction(355, 113)  # too large by less than one part in ten million: no gauge tells the difference


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a reading must be between, in `unit`. open: the bound itself does not meet it.

    known, source: of the table's row or the vehicle's own figure, where they differ from those of the limit.
    stated: made from the figure that the entry states, neither from a table nor from the vehicle.
    """

    unit: str
    low: Fraction | None = None
    high: Fraction | None = None
    low_open: bool = False
    high_open: bool = False
    known: Known | None = None
    source: str = ""
    stated: bool = True

    def distance(self, value: Fraction) -> Fraction:
        """To the nearer bound, in the unit; negative outside."""
        sides = [value - self.low] if self.low is not None else []
        if self.high is not None:
            sides.append(self.high - value)
        return min(sides)

    def met(self, value: Fraction) -> bool:
        low_met = self.low is None or value > self.low or (value == self.low and not self.low_open)
        high_met = self.high is None or value < self.high or (value == self.high and not self.high_open)
        return low_met and high_met


def bounds_of(
    limits: LimitSet, limit: Limit, subject: Subject, known_facts: Mapping[str, Fact] | None = None
) -> Bounds | None:
    """The limit's figures for this subject; None where it does not apply or nothing is known to hold against.

    known_facts: the subject's, where they were worked out for another limit already.
    """
    known_facts = facts(subject) if known_facts is None else known_facts
    if not limit.holds(known_facts):
        return None
    if limit.must == "between":
        return _range(limit, subject)
    value, source, stated = limit.value, "", True
    known: Known | None = None
    row = limits.tables[limit.table].row(known_facts) if limit.table is not None else None
    if row is not None:
        value, known, stated = row.value, row.known, False
    elif limit.figure is not None and (own := _own(limit.figure, limit.unit, subject)) is not None:
        slack = limit.figure.tolerance if limit.must in ("at-most", "less-than") else -limit.figure.tolerance
        if limit.figure.pick == "first" or value is None or own + slack < value:
            value, stated = own + slack, False
            source = limit.figure.source
            known = limit.figure.known if source else known
    if value is None:
        return None
    if limit.must in ("at-least", "more-than"):
        made = Bounds(limit.unit, low=value, low_open=limit.must == "more-than")
    else:
        made = Bounds(limit.unit, high=value, high_open=limit.must == "less-than")
    return replace(made, known=known, source=source, stated=stated)


def _range(limit: Limit, subject: Subject) -> Bounds | None:
    if limit.figure is not None and (own := _own(limit.figure, limit.unit, subject)) is not None:
        known = limit.figure.known if limit.figure.source else None
        low, high = own - limit.figure.tolerance, own + limit.figure.tolerance
        return Bounds(limit.unit, low=low, high=high, known=known, source=limit.figure.source, stated=False)
    if limit.low is None or limit.high is None:
        return None
    return Bounds(limit.unit, low=limit.low, high=limit.high)


def _own(figure: Figure, unit: str, subject: Subject) -> Fraction | None:
    """What the limit makes of the vehicle's own figure, in the limit's unit; None if it is not known."""
    measure = figures(subject).get(figure.name)
    if measure is None:
        return None
    share = figure.share if figure.degrees is None else PI * figure.degrees / 360
    return share * measure.to(unit).value


def limit_text(limit: Limit, bounds: Bounds, system: System = "us") -> str:
    """The limit in print: "at least 4/32 in"."""
    return _text(limit, bounds, system, aloud=False)


def limit_speech(limit: Limit, bounds: Bounds, system: System = "us") -> str:
    """The limit aloud: "at least four thirty seconds of an inch"."""
    return _text(limit, bounds, system, aloud=True)


def _text(limit: Limit, bounds: Bounds, system: System, *, aloud: bool) -> str:
    words = verdicts().limit
    tell = spoken if aloud else printed

    def told(value: Fraction | None) -> str:
        return "" if value is None else tell(Measure(value, bounds.unit), quantity=limit.quantity, system=system)

    template = (words.spoken if aloud else words.printed)[limit.must]
    value = bounds.low if bounds.low is not None else bounds.high
    text = template.format(value=told(value), low=told(bounds.low), high=told(bounds.high))
    return words.condition.format(limit=text, condition=limit.condition) if limit.condition else text


def judge_reading(limits: LimitSet, subject: Subject, quantity: str, measure: Measure) -> tuple[Finding, ...]:
    """One finding for every limit of the quantity that applies, worst first; of equals those not met, best known first.

    Empty if there is no limit for it here (a reading that is only kept). A limit met with no more than its near
    margin gives WATCH; exactly at a limit always does, where the limit itself still meets it. Raises DataError if the
    measure's unit is not one of the quantity.
    """
    found, asked = [], limits.of_quantity(quantity)
    known_facts = facts(subject) if asked else {}
    for limit in asked:
        if not fits(measure.unit, limit.unit):
            raise DataError(f"A reading in '{measure.unit}' does not fit {quantity}.", "Correct the item's unit.")
        bounds = bounds_of(limits, limit, subject, known_facts)
        if bounds is not None:
            found.append(_finding(limits, limit, bounds, subject, measure))
    return tuple(sorted(found, key=_rank))


def _rank(finding: Finding) -> tuple[int, bool, int, str]:
    met = finding.margin is not None and finding.margin.value > 0
    return (-finding.level, met, KNOWN.index(finding.known), finding.limit)


def _finding(limits: LimitSet, limit: Limit, bounds: Bounds, subject: Subject, measure: Measure) -> Finding:
    value = measure.to(limit.unit).value
    distance = bounds.distance(value)
    level = Level.WITHIN
    if not bounds.met(value):
        close = bounds.stated and limit.leeway is not None and -distance <= limit.leeway
        level = min(level_of(limit.level), Level.WATCH) if close else level_of(limit.level)
    elif level_of(limit.level) >= Level.REPAIR and (near := limits.near_of(limit)) is not None and distance <= near:
        level = Level.WATCH
    system = subject.vehicle.display_units
    return Finding(
        level=level,
        quantity=limit.quantity,
        limit=limit.id,
        limit_text=limit_text(limit, bounds, system),
        limit_spoken=limit_speech(limit, bounds, system),
        source=bounds.source or limit.source.section,
        known=bounds.known or limit.source.known,
        layer=limit.file,
        reading=measure,
        margin=Measure(distance, limit.unit),
        condition=limit.condition,
    )
