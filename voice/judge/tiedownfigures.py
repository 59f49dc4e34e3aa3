"""The figures that tie-downs are judged by: the part of prompts/tie-downs.yaml that a session keeps as it began."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from voice.data.strict import Strict
from voice.judge.source import Source
from voice.measure.level import LevelName
from voice.route.vehicle import Number

Way = Literal["across", "direct", "back"]


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


class Figures(Strict):
    """level: of too few or too weak tie-downs."""

    level: LevelName
    strength: Strength
    number: Numbers
