"""Tie-downs: how many a piece of cargo needs and how strong they have to be. All figures: prompts/tie-downs.yaml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import ceil
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, field_validator

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.errors import SetupError
from voice.judge.citation import spoken_source
from voice.judge.source import Source
from voice.judge.wording import Templates, allow
from voice.measure import Measure
from voice.measure.cardinal import cardinal
from voice.measure.level import LevelName
from voice.measure.telling import spoken
from voice.route.vehicle import Number

Way = Literal["across", "direct", "back"]
Kind = Literal["chain-30", "chain-43", "chain-70", "chain-80", "chain-100", "webbing", "wire-rope"]


@dataclass(frozen=True, slots=True)
class Cargo:
    """One piece of cargo, or several tied together as one.

    length: feet.
    weight: pounds.
    blocked: something fastened keeps it from moving forward.
    """

    length: Fraction
    weight: Fraction
    blocked: bool = False


@dataclass(frozen=True, slots=True)
class TieDowns:
    """Tie-downs of one kind on one piece of cargo.

    number: how many.
    limit: the working load limit of each, pounds: its mark, or of its weakest part or anchor.
    way: how they run.
    """

    number: int
    limit: Fraction
    way: Way = "across"


@dataclass(frozen=True, slots=True)
class Secured:
    """What the rules ask for, and what is there.

    by_length: tie-downs asked for by length and weight, whatever their strength.
    by_strength: tie-downs of this kind asked for by the weight.
    holds: pounds that count.
    wanted: pounds asked for.
    told: sentences, the judgment first.
    """

    by_length: int
    by_strength: int
    holds: Fraction
    wanted: Fraction
    enough: bool
    told: tuple[str, ...]


class Strength(Strict):
    """share: of the weight that all tie-downs together hold at least.
    ways: how much of its limit a tie-down counts, by the way it runs.
    """

    share: Number
    ways: dict[Way, Number]
    source: Source


class Short(Strict):
    """Cargo up to this length (feet) and this weight (pounds), and how many tie-downs it needs."""

    length: Number
    weight: Number
    number: int = Field(ge=1)


class Long(Strict):
    """Cargo up to this length (feet), and how many tie-downs it needs."""

    length: Number
    number: int = Field(ge=1)


class Free(Strict):
    """Nothing keeps the cargo from moving forward.

    further: feet beyond the long one's, for each of which, or part of it, one more is needed.
    """

    short: Short
    long: Long
    further: Number = Field(gt=0)
    source: Source


class Blocked(Strict):
    """Something keeps it from moving forward.

    each: feet, for each of which, or part of it, one is needed.
    """

    each: Number = Field(gt=0)
    source: Source


class Numbers(Strict):
    free: Free
    blocked: Blocked


class Told(Templates):
    """The sentences."""

    asked: str
    too_few: str
    too_weak: str
    unmarked: str
    decides: str
    at_least: str
    some_need_more: str

    @classmethod
    def fields(cls) -> Mapping[str, frozenset[str]]:
        return allow(
            asked="number needed holds wanted",
            too_few="number needed source",
            too_weak="holds wanted source by_strength",
            unmarked="limit source",
            at_least="value",
        )


class Unmarked(Strict):
    """Limits of tie-downs without a mark, pounds, by kind and size in inches as written."""

    source: Source
    limits: dict[Kind, dict[str, Number]]

    @field_validator("limits", mode="before")
    @classmethod
    def _sizes_as_written(cls, limits: Any) -> Any:
        """YAML reads the size 2 as a number: here all sizes are text."""
        return {kind: {str(size): pounds for size, pounds in table.items()} for kind, table in limits.items()}


class Rules(Strict):
    """The whole of prompts/tie-downs.yaml.

    level: of too few or too weak tie-downs.
    unmarked: limits in pounds by kind and size in inches.
    """

    level: LevelName
    strength: Strength
    number: Numbers
    unmarked: Unmarked
    told: Told


@cache
def tie_down_rules(file: Path | None = None) -> Rules:
    """The shipped rules, or those of another file. Raises DataError with file and line."""
    path = file or prompts_dir() / "tie-downs.yaml"
    return parse(Rules, read_yaml(path), path)


def number_needed(cargo: Cargo) -> tuple[int, Source]:
    """How many tie-downs its length and weight ask for, and the rule that says so."""
    rules = tie_down_rules().number
    if cargo.blocked:
        return max(1, ceil(cargo.length / rules.blocked.each)), rules.blocked.source
    free = rules.free
    if cargo.length <= free.short.length and cargo.weight <= free.short.weight:
        return free.short.number, free.source
    return free.long.number + max(0, ceil((cargo.length - free.long.length) / free.further)), free.source


def unmarked_limit(kind: Kind, size: str) -> tuple[Fraction, str]:
    """The limit in pounds of a tie-down without a mark, and its sentence. Raises SetupError with the known sizes."""
    rules = tie_down_rules()
    table = rules.unmarked.limits[kind]
    if size not in table:
        raise SetupError(f"There is no limit for {kind} of {size} inches.", f"There are: {', '.join(table)}.")
    limit = spoken(Measure(table[size], "lb"))
    return table[size], rules.told.unmarked.format(limit=limit, source=spoken_source(rules.unmarked.source.section))


def secured(cargo: Cargo, tie_downs: TieDowns) -> Secured:
    """Holds the tie-downs of one piece of cargo against both rules: how many, and how strong.

    Raises ValueError unless length, weight and limit are above zero.
    """
    if min(cargo.length, cargo.weight, tie_downs.limit) <= 0:
        raise ValueError("length, weight and limit are above zero")
    rules = tie_down_rules()
    counts = tie_downs.limit * rules.strength.ways[tie_downs.way]
    wanted = cargo.weight * rules.strength.share
    holds = counts * tie_downs.number
    by_length, source = number_needed(cargo)
    by_strength = ceil(wanted / counts)
    words = {
        "number": cardinal(tie_downs.number),
        "needed": cardinal(by_length),
        "by_strength": cardinal(by_strength),
        "holds": spoken(Measure(holds, "lb")),
        "wanted": spoken(Measure(wanted, "lb")),
    }
    told = []
    if tie_downs.number < by_length:
        told.append(rules.told.too_few.format(**words, source=spoken_source(source.section)))
    if holds < wanted:
        told.append(rules.told.too_weak.format(**words, source=spoken_source(rules.strength.source.section)))
    enough = not told
    if enough:
        told.append(rules.told.asked.format(**words))
    return Secured(by_length, by_strength, holds, wanted, enough, (*told, rules.told.decides))
