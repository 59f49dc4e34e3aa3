"""Limits and findings."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum
from typing import Literal

from voice.measure import Measure
from voice.route.model import Axle, Place, Vehicle

Known = Literal["read", "memory", "practice"]


class Level(IntEnum):
    """How bad, in order. A worse reading never gets a lower level."""

    WITHIN = 0  # within the limit
    WATCH = 1  # within, but near the limit or against an advisory figure
    REPAIR = 2  # repair, or have it certified as not needing repair, before leaving
    HALT = 3  # may not be driven under the cited criterion


@dataclass(frozen=True, slots=True)
class Subject:
    """What was measured or found defective, and where."""

    vehicle: Vehicle
    item: str
    place: Place = field(default_factory=Place)

    @property
    def axle(self) -> Axle | None:
        return None if self.place.axle is None else self.vehicle.axles[self.place.axle - 1]


@dataclass(frozen=True, slots=True)
class Finding:
    """One result against one limit.

    limit_text: the limit in words and figures ("at least 4/32 in"). source: section of a published rule, or "common
    practice, no source". known: whether its text was read, is from memory, or is practice. layer: the file that
    decided. margin: distance to the limit in its unit, negative beyond it; None for a condition.
    """

    level: Level
    quantity: str
    limit: str
    limit_text: str
    source: str
    known: Known
    layer: str
    reading: Measure | None = None
    margin: Measure | None = None
    defect: str | None = None
