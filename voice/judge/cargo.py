"""The tie-downs of a load, out of what the driver told: its length and weight, their number and strength.

No single reading decides: how many are needed follows from length and weight, how strong from weight and number.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from voice.judge.answer import Taken
from voice.judge.limit import LimitSet
from voice.judge.model import Finding
from voice.judge.tiedownfigures import Figures
from voice.judge.tiedowns import Cargo, Secured, TieDowns, number_needed, secured, tie_down_rules
from voice.measure import Measure
from voice.measure.level import Level, level_of
from voice.measure.telling import System, printed, spoken

# The quantities that an item has to ask for.
LENGTH, WEIGHT, NUMBER, LIMIT = "cargo-length", "cargo-weight", "tie-downs", "tie-down-limit"
HOLD = "tie-down-hold"  # pounds that they hold together
FILE = "tie-downs.yaml"
_ONE = Fraction(1)
# The reading an item asks for first -> what a finding on it is of, where that is another quantity.
JUDGED_BY = {LENGTH: NUMBER}


@dataclass(frozen=True, slots=True)
class _Load:
    cargo: Cargo
    tie_downs: TieDowns


def _load(taken: Iterable[Taken]) -> _Load | None:
    """None while a figure is missing."""
    told = {each.quantity: each.value for each in taken}
    if not {LENGTH, WEIGHT, NUMBER, LIMIT} <= told.keys():
        return None
    cargo = Cargo(told[LENGTH].to("ft").value, told[WEIGHT].to("lb").value)
    return _Load(cargo, TieDowns(int(told[NUMBER].value), told[LIMIT].to("lb").value))


def _rules(limits: LimitSet) -> Figures:
    """Those that the session began with."""
    return limits.tie_downs or tie_down_rules()


def cargo_told(limits: LimitSet, taken: Iterable[Taken]) -> tuple[str, ...]:
    """What the rules ask for, in sentences; nothing while a figure is missing."""
    load = _load(taken)
    return () if load is None else secured(load.cargo, load.tie_downs, _rules(limits)).told


def judge_cargo(limits: LimitSet, taken: Iterable[Taken], system: System = "us") -> tuple[Finding, ...]:
    """A finding on the number of tie-downs and one on their strength; none while a figure is missing."""
    load = _load(taken)
    if load is None:
        return ()
    rules = _rules(limits)
    found = secured(load.cargo, load.tie_downs, rules)
    return (_number(load, found, rules), _strength(found, rules, system))


def _number(load: _Load, found: Secured, rules: Figures) -> Finding:
    number, (needed, source) = load.tie_downs.number, number_needed(load.cargo, rules)
    enough = number >= needed
    return Finding(
        level=Level.WITHIN if enough else level_of(rules.level),
        quantity=NUMBER,
        limit="tie-down-number",
        limit_text=tie_down_rules().told.at_least.format(value=needed),
        limit_spoken=tie_down_rules().told.at_least.format(value=spoken(Measure(found.by_length * _ONE, "count"))),
        source=source.section,
        known=source.known,
        layer=FILE,
        reading=Measure(number * _ONE, "count"),
        margin=Measure((number - needed) * _ONE, "count"),
        condition="" if enough else tie_down_rules().told.some_need_more,
    )


def _strength(found: Secured, rules: Figures, system: System) -> Finding:
    wanted, holds = Measure(found.wanted, "lb"), Measure(found.holds, "lb")
    source = rules.strength.source
    return Finding(
        level=Level.WITHIN if holds.value >= wanted.value else level_of(rules.level),
        quantity=HOLD,
        limit="tie-down-strength",
        limit_text=tie_down_rules().told.at_least.format(value=printed(wanted, quantity=HOLD, system=system)),
        limit_spoken=tie_down_rules().told.at_least.format(value=spoken(wanted, quantity=HOLD, system=system)),
        source=source.section,
        known=source.known,
        layer=FILE,
        reading=holds,
        margin=Measure(holds.value - wanted.value, "lb"),
    )
