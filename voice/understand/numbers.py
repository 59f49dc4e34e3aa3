"""Words to readings: "one and three quarter inches", "one twenty", "4/32nds", "about ninety five", exact.

All the ways the words can be read come from voice/understand/grammar.py. The question's unit, range and step decide
between them; what they leave open is returned as candidates to be asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from voice.measure import Measure
from voice.understand.grammar import AND, DIGIT, Match, clock, fractions, numbers, tokenise
from voice.understand.lexicon import Lexicon, shipped

_SINGLE_DIGITS = frozenset((word,) for word in DIGIT)

# Names of units beside those of the lexicon: what people and transcribers write.
WRITTEN_UNITS = {
    "psi": ("psi",), "lbs": ("psi", "lb"), "lb": ("psi", "lb"), "in": ("in",), '"': ("in",), "mm": ("mm",),
    "millimetre": ("mm",), "millimetres": ("mm",), "cm": ("cm",), "centimetre": ("cm",), "centimetres": ("cm",),
    "kpa": ("kPa",), "ft": ("ft",), "sec": ("s",), "secs": ("s",), "min": ("min",), "mins": ("min",), "mph": ("mph",),
    "%": ("percent",), "°": ("degree", "deg", "degF", "degC"), "v": ("V",), "kmh": ("km/h",), "metre": ("m",),
    "metres": ("m",), "litre": ("L",), "litres": ("L",),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reading:
    """What was understood. value: exact, in the question's unit. approximate: said with "about". plausible: within
    the range asked for."""

    value: Fraction
    approximate: bool = False
    plausible: bool = True


@dataclass(frozen=True, slots=True)
class Doubt:
    """More than one value fits. values: two or more, ascending, in the question's unit."""

    values: tuple[Fraction, ...]
    approximate: bool = False


# Readings of the same words, likeliest first; a less likely one is only taken when no likelier one is in the range.
_RANK = {
    "mixed": 0,
    "decimal": 0,
    "whole": 0,
    "clock": 0,
    "count": 0,
    "pair": 0,
    "digits": 1,
    "short-decimal": 1,
    "improper": 2,
}


class Numbers:
    """The parser for the units of a lexicon."""

    def __init__(self, lexicon: Lexicon | None = None) -> None:
        self.lexicon = lexicon or shipped()

    def parse(
        self, words: str, unit: str, low: Fraction, high: Fraction, step: Fraction = Fraction(1)
    ) -> Reading | Doubt | None:
        """The value that the words say, in `unit`; None when they are not a number with a fitting unit.

        low, high: the range asked for; step: the gauge's finest division. Both only decide between meanings.
        """
        tokens = tokenise(words)
        if ":" in tokens and not (unit in self.lexicon.units and self.lexicon.units[unit].clock):
            tokens = tuple(each for each in tokens if each != ":")  # "4:30 seconds" for four thirty seconds
        approximate = False
        while tokens and (tokens[0] in self.lexicon.approximately or tokens[0] in ("it's", "its", "is", "at")):
            approximate |= tokens[0] in self.lexicon.approximately
            tokens = tokens[1:]
        sign = 1
        if tokens and tokens[0] in ("minus", "negative"):
            sign, tokens = -1, tokens[1:]
        found: dict[Fraction, int] = {}
        finest = 64 if unit in self.lexicon.units and self.lexicon.units[unit].ruler else 4
        for match in self._all(tokens, unit, step):
            if match.kind in ("mixed", "improper") and (match.value / step).denominator > finest:
                continue  # "four thirty seconds" is no pressure
            value = _converted(sign * match.value, match.unit or unit, unit)
            if value is not None:
                found[value] = min(_RANK[match.kind], found.get(value, 9))
        return _decided(found, low, high, step, approximate)

    def _all(self, tokens: tuple[str, ...], unit: str, step: Fraction) -> Iterator[Match]:
        """Every way to read all the tokens as a number, with or without a unit."""
        words = self.lexicon.units.get(unit)
        for match in numbers(tokens, 0):
            if match.end == len(tokens):
                yield match
                if words and match.kind == "whole" and step.denominator in words.bare_divisions:
                    yield Match(match.value / step.denominator, match.end, "count")
                continue
            if match.kind == "whole" and step.denominator == 10 and tokens[match.end :] in _SINGLE_DIGITS:
                # "twelve six" volts
                tenths = Fraction(DIGIT[tokens[match.end]], 10)
                yield Match(match.value + tenths, len(tokens), "short-decimal")
            for name, end in self._units(tokens, match.end, unit):
                if end == len(tokens):
                    yield Match(match.value, end, match.kind, name)
                elif tokens[end] == AND and match.kind == "whole":
                    # "one inch and three quarters"
                    for part in fractions(tokens, end + 1):
                        if part.value < 1 and part.end == len(tokens):
                            yield Match(match.value + part.value, part.end, "mixed", name)
        for name, end in self._units(tokens, 1, unit):  # "an inch", "a minute"
            if tokens[0] in ("a", "an") and end == len(tokens):
                yield Match(Fraction(1), end, "whole", name)
        if words and " ".join(tokens) in words.zero:
            yield Match(Fraction(0), len(tokens), "whole")
        if words and words.clock:
            yield from clock(tokens)

    def _units(self, tokens: tuple[str, ...], at: int, unit: str) -> Iterator[tuple[str, int]]:
        """Units named at the position, the question's own first (pounds are psi when psi is asked for)."""
        for skip in (("of", "an"), ("of", "a"), ("an",), ("a",), ()):
            if tokens[at : at + len(skip)] == skip:
                start = at + len(skip)
                for said, name in self._names:
                    if tokens[start : start + len(said)] == said and (
                        name == unit or not any(said == own and other == unit for own, other in self._names)
                    ):
                        yield name, start + len(said)

    @cached_property
    def _names(self) -> tuple[tuple[tuple[str, ...], str], ...]:
        spoken = [
            (tokenise(text), name) for name, words in self.lexicon.units.items() for text in (*words.one, *words.many)
        ]
        written = [
            ((text,), name) for text, names in WRITTEN_UNITS.items() for name in names if name in self.lexicon.units
        ]
        return tuple(dict.fromkeys([*spoken, *written]))


def parse(words: str, unit: str, low: Fraction, high: Fraction, step: Fraction = Fraction(1)) -> Reading | Doubt | None:
    """Numbers.parse with the shipped lexicon."""
    return Numbers().parse(words, unit, low, high, step)


# --- deciding --------------------------------------------------------------------------------------------------


def _converted(value: Fraction, said: str, asked: str) -> Fraction | None:
    """The value in the unit asked for; None if the unit said does not measure such a thing."""
    if said == asked:
        return value
    import pint  # slow to import, and seldom needed here

    try:
        return Measure(value, said).to(asked).value
    except pint.PintError:
        return None


def _decided(
    found: Mapping[Fraction, int], low: Fraction, high: Fraction, step: Fraction, approximate: bool
) -> Reading | Doubt | None:
    if not found:
        return None
    inside = [value for value in found if low <= value <= high]
    pool = inside or list(found)
    best = min(found[value] for value in pool)
    pool = [value for value in pool if found[value] == best]
    # A value the gauge can show is meant rather than one between its divisions.
    pool = [value for value in pool if (value / step).denominator == 1] or pool
    if len(pool) == 1:
        return Reading(pool[0], approximate, plausible=bool(inside))
    return Doubt(tuple(sorted(pool)), approximate)
