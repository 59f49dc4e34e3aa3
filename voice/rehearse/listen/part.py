"""What a student recites: a part and its points, and the parts of a route in walking order."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from voice.route.model import Section, Wording


@dataclass(frozen=True, slots=True)
class Range:
    """Numbers that are right: from low to high, both included, in a pint unit. low == high where it is one figure."""

    low: Fraction
    high: Fraction
    unit: str

    def holds(self, value: Fraction) -> bool:
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True)
class PartPoint:
    """One thing to say of a part.

    say: phrases that count.
    wanted: for a point that is a number, the numbers that are right (any of them), and the phrases are for show only.
    limit_text: the limit in print.
    """

    id: str
    say: tuple[str, ...]
    wanted: tuple[Range, ...] = ()
    limit_text: str = ""

    @property
    def numeric(self) -> bool:
        return bool(self.wanted)


@dataclass(frozen=True, slots=True)
class RecitedPart:
    """A part of the vehicle that a student names, with what is to be said of it.

    key: stable id ("tire-tread/steer", "horn").
    names: spoken names, best first.
    role: of the axle or unit, or "".
    say: the wording, with the axles in place of a position.
    """

    key: str
    item: str
    title: str
    names: tuple[str, ...]
    section: str
    role: str
    say: Wording
    points: tuple[PartPoint, ...]

    def point(self, id: str) -> PartPoint:
        return next(point for point in self.points if point.id == id)


@dataclass(frozen=True, slots=True)
class Syllabus:
    """What can be recited of one plan.

    sections: those that have a part, in walking order.
    vehicle: its id.
    """

    route: str
    title: str
    vehicle: str
    sections: tuple[Section, ...]
    parts: tuple[RecitedPart, ...]

    def of(self, section: str | None) -> tuple[RecitedPart, ...]:
        """The parts of one section, or all."""
        return tuple(part for part in self.parts if section is None or part.section == section)

    def part(self, key: str) -> RecitedPart:
        return next(part for part in self.parts if part.key == key)
