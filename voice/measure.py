"""A measured value: an exact fraction and a unit."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint


@cache
def registry() -> pint.UnitRegistry[Fraction]:
    """The one pint registry, in exact arithmetic. Imported late: pint takes a noticeable part of the start."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


@dataclass(frozen=True, slots=True)
class Measure:
    """value: exact; unit: a pint unit name as used in the data ("in", "psi", "s", "psi/min", "count", ...)."""

    value: Fraction
    unit: str

    def to(self, unit: str) -> Measure:
        """The same quantity in another unit, exact. Raises pint.DimensionalityError if the units do not fit."""
        if unit == self.unit:
            return self
        quantity = registry().Quantity(self.value, self.unit).to(unit)
        return Measure(Fraction(quantity.magnitude), unit)
