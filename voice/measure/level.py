"""How bad a finding is: the levels, their order and their names."""

from __future__ import annotations

from enum import IntEnum
from typing import Final, Literal, get_args

LevelName = Literal["within", "watch", "repair", "halt"]
NAMES: Final[tuple[LevelName, ...]] = get_args(LevelName)
"""The names as written in data and records, in order, the least bad first."""


class Level(IntEnum):
    """How bad, in order. A worse reading never gets a lower level."""

    WITHIN = 0  # within the limit
    WATCH = 1  # within, but near the limit or against an advisory figure
    REPAIR = 2  # repair, or have it certified as not needing repair, before leaving
    HALT = 3  # under the cited criterion it may not be driven as it is

    @property
    def word(self) -> LevelName:
        """As written in data and records."""
        return NAMES[self]


def level_of(name: LevelName) -> Level:
    """The level of that name."""
    return Level(NAMES.index(name))


def worst(names: tuple[LevelName, ...] | list[LevelName]) -> LevelName | None:
    """The worst of the levels; None if there are none."""
    return max(names, key=NAMES.index) if names else None
