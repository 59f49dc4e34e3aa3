"""A measured value: an exact fraction and a unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Annotated

from pydantic import BeforeValidator

from voice.data.fields import UNIT

if TYPE_CHECKING:
    import pint

_READABLE = re.compile(r"-?[0-9]{1,40}(/[1-9][0-9]{0,39})?")  # as Fraction writes it
_MIXED = re.compile(r"(?P<sign>-?)(?P<whole>\d+)[ ](?P<part>\d+/[1-9]\d*)")

_MAX_TEXT = 64  # characters of a number
_FAR = re.compile(r"[eE][-+]?0*[1-9]\d\d")  # an exponent of three digits: exact, such a number fills the memory


@cache
def registry() -> pint.UnitRegistry[Fraction]:
    """The one pint registry, in exact arithmetic. Imported late: pint takes a noticeable part of the start."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


def exact(value: str | int | float | Fraction) -> Fraction:
    """A number as written in data, exact: 45, 0.5, "4/32", "1 3/4", "-2". Raises ValueError on anything else.

    Numbers are bounded: at most 64 characters, and an exponent of at most two digits. A float counts as the
    decimal that was written (0.1 is one tenth), not as its nearest binary value.
    """
    if isinstance(value, bool) or len(text := str(value)) > _MAX_TEXT or _FAR.search(text):
        raise ValueError(f"{value!s:.40} is not a number that can be read")
    if isinstance(value, str) and (mixed := _MIXED.fullmatch(value.strip())):
        size = int(mixed["whole"]) + Fraction(mixed["part"])
        return -size if mixed["sign"] else size
    try:
        return Fraction(repr(value)) if isinstance(value, float) else Fraction(value)
    except (ValueError, ZeroDivisionError, TypeError, OverflowError):
        raise ValueError(f'"{value}" is not a number such as 45, 0.5, 4/32 or 1 3/4, without a unit') from None


def _unit(unit: str) -> pint.Unit:
    """Pint's unit of that name. Raises pint.UndefinedUnitError, also for an expression: pint would work it out, and of
    "1e99999999" it would not come to an end."""
    if not UNIT.fullmatch(unit):
        import pint

        raise pint.UndefinedUnitError(unit[:40])
    return registry().Unit(unit)


def is_unit(unit: str) -> bool:
    """Whether pint knows the unit: a name, or two with a stroke between."""
    try:
        _unit(unit)
    except Exception:  # pint raises several unrelated kinds (undefined unit, tokens, assertion) on bad text
        return False
    return True


@cache
def fits(unit: str, other: str) -> bool:
    """Whether two known units measure the same kind of thing, so that one converts into the other."""
    return unit == other or bool(_unit(unit).is_compatible_with(_unit(other)))


def _bounded(value: object) -> object:
    """What is read from a file. "1e999999999" would take for ever to become a number."""
    if not isinstance(value, str):
        return value
    if not _READABLE.fullmatch(value):
        raise ValueError("it is not a number of usual length")
    return Fraction(value)


@dataclass(frozen=True, slots=True)
class Measure:
    """A number with its unit.

    value: exact.
    unit: a pint unit name as used in the data ("in", "psi", "s", "psi/min", "count", ...).
    """

    value: Annotated[Fraction, BeforeValidator(_bounded)]
    unit: str

    def to(self, unit: str) -> Measure:
        """The same quantity in another unit, exact. Raises pint.PintError if the units do not fit."""
        if unit == self.unit:
            return self
        quantity = registry().Quantity(self.value, _unit(self.unit)).to(_unit(unit))
        return Measure(Fraction(quantity.magnitude), unit)
