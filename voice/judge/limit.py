"""Limits and criteria as data: what the files in prompts/limits/ hold, and the set made of several of them.

A limit holds a measured value against a figure. A criterion says what a named defect means. Both always name their
source. All values are exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from fractions import Fraction
from functools import cached_property
from typing import Any, Literal

from pydantic import Field, model_validator

from voice.data.fields import Id
from voice.data.strict import Strict
from voice.judge.facts import FACTS, FIGURES
from voice.judge.model import Known
from voice.judge.source import Dated, Source
from voice.judge.tiedownfigures import Figures
from voice.measure.level import LevelName
from voice.route.model import Part
from voice.route.vehicle import Number

Comparison = Literal["at-least", "more-than", "at-most", "less-than", "between"]
Applies = dict[str, tuple[str | bool, ...]]


class Figure(Strict):
    """A number of the vehicle itself that a limit is made from: share x figure.

    name: see voice.judge.facts.FIGURES.
    degrees: the arc of so many degrees at a wheel of this diameter, instead of a share.
    pick: "first" takes the figure instead of the limit's own value when it is known (the maker's figure counts);
        "lesser" takes the smaller of the two. tolerance widens a limit made from the figure (what a gauge may be off).
    source: what is cited where the figure decides and the limit's own source does not say so.
    known: how that source is known.
    """

    name: str
    share: Number = Fraction(1)
    tolerance: Number = Fraction(0)
    degrees: Number | None = None
    pick: Literal["first", "lesser"] = "first"
    source: str = ""
    known: Known = "practice"


class TableRow(Strict):
    """One line of a table: the facts it is for, in the order of the table's keys, and the value.

    known: where it differs from the source of the limit.
    """

    of: tuple[str, ...]
    value: Number
    known: Known | None = None


class Table(Strict):
    """Limit values by facts, e.g. pushrod stroke by chamber.

    unit: of all values.
    where: rows that are read were.
    """

    keys: tuple[str, ...] = Field(min_length=1)
    unit: str
    where: str = ""
    rows: tuple[TableRow, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _whole(self) -> Table:
        seen: set[tuple[str, ...]] = set()
        for row in self.rows:
            if len(row.of) != len(self.keys):
                raise ValueError(f"the row {list(row.of)} needs {len(self.keys)} keys: {', '.join(self.keys)}")
            if row.of in seen:
                raise ValueError(f"the row {list(row.of)} is there twice")
            seen.add(row.of)
        if any(row.known == "read" for row in self.rows) and not self.where:
            raise ValueError("rows are marked as read, so say under 'where' which copy was read")
        _check_facts(self.keys)
        return self

    def row(self, facts: Mapping[str, Any]) -> TableRow | None:
        wanted = tuple(str(facts.get(key, "none")).lower() for key in self.keys)
        return self._by_key.get(wanted)

    @cached_property
    def _by_key(self) -> dict[tuple[str, ...], TableRow]:
        return {tuple(key.lower() for key in row.of): row for row in self.rows}


def _check_facts(names: Any) -> None:
    for name in names:
        if name not in FACTS:
            raise ValueError(f"there is no fact '{name}'; known are {', '.join(sorted(FACTS))}")


class Rule(Dated):
    """What limits and criteria share.

    applies: facts that must all hold (see voice.judge.facts.FACTS).
    condition: what the source also asks that is not measured here; told with the finding.
    brake: how it counts in the share of defective brakes (see voice.judge.brakes).
    file: the file that decided.
    before: files that said otherwise, in order. Both are set on loading.
    """

    id: Id
    title: str
    applies: Applies = Field(default_factory=dict)
    level: LevelName
    condition: str = ""
    brake: Literal["none", "whole", "stroke", "spring"] = "none"
    source: Source
    file: str = ""
    before: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _facts_known(self) -> Rule:
        _check_facts(self.applies)
        return self

    def holds(self, facts: Mapping[str, Any]) -> bool:
        return all(facts.get(name) in wanted for name, wanted in self.applies.items())


class Limit(Rule):
    """A figure that a reading of a quantity is held against.

    must: what the reading has to be, "between" includes both ends.
    value: the figure.
    low, high: for "between".
    table, figure: where the value comes from instead; the order is table, figure, value.
    near: readings that meet the limit by this much or less are watched; by default as given for the quantity, else only
        those exactly at it.
    target: the figure is the one to aim at, so that meeting it is never watched.
    leeway: readings that miss the figure stated here by this much or less are watched, not more, since the source says
        "about" or leaves another way open.
    """

    quantity: str
    must: Comparison
    unit: str
    value: Number | None = None
    low: Number | None = None
    high: Number | None = None
    table: str | None = None
    figure: Figure | None = None
    near: Number | None = Field(None, ge=0)
    target: bool = False
    leeway: Number | None = Field(None, ge=0)

    @model_validator(mode="after")
    def _complete(self) -> Limit:
        if self.must == "between":
            if self.value is not None or self.table is not None:
                raise ValueError("'between' takes low and high, not value or table")
            if (self.low is None) != (self.high is None):
                raise ValueError("'between' takes both low and high")
            if self.low is None and self.figure is None:
                raise ValueError("'between' needs low and high, or a figure")
            if self.low is not None and self.high is not None and self.low > self.high:
                raise ValueError("low is above high")
        elif self.low is not None or self.high is not None:
            raise ValueError("low and high are for 'between'; use value")
        elif self.value is None and self.table is None and self.figure is None:
            raise ValueError("give a value, a table or a figure")
        if self.figure is not None:
            if self.figure.name not in FIGURES:
                raise ValueError(f"there is no figure '{self.figure.name}'; known are {', '.join(sorted(FIGURES))}")
            if self.figure.pick == "lesser" and self.value is None:
                raise ValueError("'pick: lesser' needs a value to compare with")
        return self


class Criterion(Rule):
    """What a defect means. The most specific that fits decides; of equals the worst.

    items, defects, parts: empty fits all.
    details: answers to follow-up questions that must have been given.
    """

    items: tuple[str, ...] = ()
    defects: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    details: dict[str, tuple[str, ...]] = Field(default_factory=dict)

    @property
    def weight(self) -> tuple[int, int, int, int]:
        """How specific it is: details first, then defect, then item, then part."""
        return (len(self.details), bool(self.defects), bool(self.items), bool(self.parts))


class Layer(Strict):
    """One file that went into the set.

    sha256: of its bytes.
    call: whose limits they are, as it is said at the beginning of a walk; empty where nothing is said.
    """

    layer: str
    title: str
    file: str
    sha256: str
    call: str = Field("", exclude_if=lambda call: not call)


class LimitSet(Strict):
    """All limits in force, made of one or more files. JSON round-trips, so a session keeps the set it began with."""

    layers: tuple[Layer, ...]
    near: dict[str, Number] = Field(default_factory=dict)
    tables: dict[str, Table] = Field(default_factory=dict)
    limits: tuple[Limit, ...]
    criteria: tuple[Criterion, ...] = ()
    # Sessions of before have none: they had no such question.
    tie_downs: Figures | None = Field(None, exclude_if=lambda rules: rules is None)

    def on(self, day: date) -> LimitSet:
        """Those that hold on this day: an inspection is judged by the law of its date."""
        return LimitSet.model_construct(  # nothing new in it, so nothing to check again
            layers=self.layers,
            near=self.near,
            tables=self.tables,
            limits=tuple(limit for limit in self.limits if limit.holds_on(day)),
            criteria=tuple(criterion for criterion in self.criteria if criterion.holds_on(day)),
            tie_downs=self.tie_downs,
        )

    @cached_property
    def _limits(self) -> dict[str, Limit]:
        return {limit.id: limit for limit in self.limits}

    @cached_property
    def _criteria(self) -> dict[str, Criterion]:
        return {criterion.id: criterion for criterion in self.criteria}

    def rule(self, name: str) -> Limit | Criterion | None:
        """The limit or criterion of that id."""
        return self._limits.get(name) or self._criteria.get(name)

    def of_quantity(self, quantity: str) -> tuple[Limit, ...]:
        return self._by_quantity.get(quantity, ())

    @cached_property
    def _by_quantity(self) -> dict[str, tuple[Limit, ...]]:
        found: dict[str, list[Limit]] = {}
        for limit in self.limits:
            found.setdefault(limit.quantity, []).append(limit)
        return {quantity: tuple(limits) for quantity, limits in found.items()}

    def near_of(self, limit: Limit) -> Fraction | None:
        """Readings that meet the limit by this much or less, in its unit, are watched; None: no reading is."""
        if limit.target and limit.near is None:
            return None
        return limit.near if limit.near is not None else self.near.get(limit.quantity, Fraction(0))
