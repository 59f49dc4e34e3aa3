"""Tie-downs: how many a piece of cargo needs and how strong they have to be. All figures: prompts/tie-downs.yaml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import ceil
from pathlib import Path
from typing import Any, Literal

from pydantic import field_validator

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.errors import SetupError
from voice.judge.citation import spoken_source
from voice.judge.source import Source
from voice.judge.tiedownfigures import Figures, Way
from voice.judge.wording import Templates, allow
from voice.measure import Measure
from voice.measure.cardinal import cardinal
from voice.measure.telling import spoken
from voice.route.vehicle import Number

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


class Rules(Figures):
    """The whole of prompts/tie-downs.yaml.

    unmarked: limits in pounds by kind and size in inches.
    """

    unmarked: Unmarked
    told: Told


@cache
def tie_down_rules(file: Path | None = None) -> Rules:
    """The shipped rules, or those of another file. Raises DataError with file and line."""
    path = file or prompts_dir() / "tie-downs.yaml"
    return parse(Rules, read_yaml(path), path)


def number_needed(cargo: Cargo, rules: Figures) -> tuple[int, Source]:
    """How many tie-downs its length and weight ask for, and the rule that says so."""
    if cargo.blocked:
        blocked = rules.number.blocked
        return max(1, ceil(cargo.length / blocked.each)), blocked.source
    free = rules.number.free
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


def secured(cargo: Cargo, tie_downs: TieDowns, rules: Figures) -> Secured:
    """Holds the tie-downs of one piece of cargo against both rules: how many, and how strong.

    Raises ValueError unless length, weight and limit are above zero.
    """
    if min(cargo.length, cargo.weight, tie_downs.limit) <= 0:
        raise ValueError("length, weight and limit are above zero")
    said = tie_down_rules().told
    counts = tie_downs.limit * rules.strength.ways[tie_downs.way]
    wanted = cargo.weight * rules.strength.share
    holds = counts * tie_downs.number
    by_length, source = number_needed(cargo, rules)
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
        told.append(said.too_few.format(**words, source=spoken_source(source.section)))
    if holds < wanted:
        told.append(said.too_weak.format(**words, source=spoken_source(rules.strength.source.section)))
    enough = not told
    if enough:
        told.append(said.asked.format(**words))
    return Secured(by_length, by_strength, holds, wanted, enough, (*told, said.decides))
