"""Words to readings: "one and three quarter inches", "one twenty", "4/32nds", "about ninety five", exact.

All the ways the words can be read come from grammar.py. The question's unit, range and step decide
between them; what they leave open is returned as candidates to be asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from voice.measure.book import HeardUnit, number_words, unit_book
from voice.measure.grammar import Match, clock, fractions, numbers
from voice.measure.measure import Measure
from voice.measure.tokens import tokenize


@dataclass(frozen=True, slots=True)
class Reading:
    """What was understood.

    value: exact, in the question's unit.
    approximate: said with "about".
    plausible: within the range asked for.
    """

    value: Fraction
    approximate: bool = False
    plausible: bool = True


@dataclass(frozen=True, slots=True)
class Doubt:
    """More than one value fits.

    values: two or more, ascending, in the question's unit.
    """

    values: tuple[Fraction, ...]
    approximate: bool = False


# Readings of the same words, likeliest first; a less likely one is only taken when no likelier one is in the range.
_RANK = {
    "mixed": 0,
    "adjoined": 0,
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
    """The reader for units as they may be heard.

    units: name -> how it is said; those of units.yaml by default
    approximately: words that make a number one to be confirmed ("about")
    """

    def __init__(self, units: Mapping[str, HeardUnit] | None = None, approximately: Iterable[str] = ()) -> None:
        self._units_heard = unit_book().heard if units is None else units
        self._approximately = frozenset(approximately)
        self._names = _names(self._units_heard)

    def parse(
        self, words: str, unit: str, low: Fraction, high: Fraction, step: Fraction = Fraction(1)
    ) -> Reading | Doubt | None:
        """The value that the words say, in `unit`; None when they are not a number with a fitting unit.

        low, high, step: the range asked for and the gauge's finest division; they only decide between meanings.
        """
        tokens = tokenize(words)
        heard = self._units_heard.get(unit, HeardUnit())
        if ":" in tokens and not heard.clock:
            tokens = tuple(each for each in tokens if each != ":")  # "4:30 seconds" for four thirty seconds
        approximate = False
        while tokens and (tokens[0] in self._approximately or tokens[0] in ("it's", "its", "is", "at")):
            approximate |= tokens[0] in self._approximately
            tokens = tokens[1:]
        sign = 1
        if tokens and tokens[0] in (number_words().minus, "negative"):
            sign, tokens = -1, tokens[1:]
        found: dict[Fraction, int] = {}
        finest = 64 if heard.ruler else 4
        for match in self._all(tokens, unit, heard, step):
            if match.kind in ("mixed", "adjoined", "improper") and (match.value / step).denominator > finest:
                continue  # "four thirty seconds" is no pressure
            value = _converted(sign * match.value, match.unit or unit, unit)
            if value is not None:
                found[value] = min(_RANK[match.kind], found.get(value, 9))
        return _decided(found, low, high, step, approximate)

    def _all(self, tokens: tuple[str, ...], unit: str, heard: HeardUnit, step: Fraction) -> Iterator[Match]:
        """Every way to read all the tokens as a number, with or without a unit."""
        words = number_words()
        for match in numbers(tokens, 0):
            if match.end == len(tokens):
                yield match
                if match.kind == "whole" and step.denominator in heard.bare_divisions:
                    yield Match(match.value / step.denominator, match.end, "count")
                continue
            last = len(tokens) == match.end + 1 and tokens[-1] in words.digit
            if last and match.kind == "whole" and step.denominator == 10:  # "twelve six" volts
                tenths = Fraction(words.digit[tokens[-1]], 10)
                yield Match(match.value + tenths, len(tokens), "short-decimal")
            for name, end in self._units(tokens, match.end, unit):
                if end == len(tokens):
                    yield Match(match.value, end, match.kind, name)
                elif tokens[end] == words.and_ and match.kind == "whole":
                    # "one inch and three quarters"
                    for part in fractions(tokens, end + 1):
                        if part.value < 1 and part.end == len(tokens):
                            yield Match(match.value + part.value, part.end, "mixed", name)
        for name, end in self._units(tokens, 1, unit):  # "an inch", "a minute"
            if tokens[0] in ("a", "an") and end == len(tokens):
                yield Match(Fraction(1), end, "whole", name)
        if " ".join(tokens) in heard.zero:
            yield Match(Fraction(0), len(tokens), "whole")
        if heard.clock:
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


def parse(words: str, unit: str, low: Fraction, high: Fraction, step: Fraction = Fraction(1)) -> Reading | Doubt | None:
    """Numbers.parse with the units of units.yaml."""
    return Numbers().parse(words, unit, low, high, step)


def _names(units: Mapping[str, HeardUnit]) -> tuple[tuple[tuple[str, ...], str], ...]:
    """Every name of a unit as tokens, with the unit."""
    said = [(tokenize(text), name) for name, unit in units.items() for text in (*unit.one, *unit.many, *unit.written)]
    return tuple(dict.fromkeys(said))


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
