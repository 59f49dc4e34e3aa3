"""Numbers with units spotted in free speech, in exact fractions.

A recogniser writes "4/32nds", "four thirty seconds", "for 30 seconds" or "430 seconds" for the same words; all are
read here. What could be two things ("for thirty seconds") gives both readings; the reader picks by the unit he wants.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

_ONES = {
    word: value
    for value, word in enumerate(
        [
            "zero",
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
            "sixteen",
            "seventeen",
            "eighteen",
            "nineteen",
        ]
    )
}
_TENS = {
    word: 10 * value
    for value, word in enumerate(
        ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"], start=2
    )
} | {"fourty": 40}
_PARTS = {
    "half": 2, "halves": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4, "fourth": 4, "fourths": 4,
    "eighth": 8, "eighths": 8, "sixteenth": 16, "sixteenths": 16, "8th": 8, "8ths": 8, "16th": 16, "16ths": 16,
    "4th": 4, "4ths": 4, "32nd": 32, "32nds": 32, "32": 32,
}  # fmt: skip
_SECOND = {"second", "seconds", "2nd", "2nds"}
_DIGITS = re.compile(r"^\d+(\.\d+)?$")
_SLASHED = re.compile(r"^(\d+)/(\d+)(nds?|ths?|rds?|sts?)?$")
_GLUED = re.compile(r"^(\d{1,2})(30|32)(nds?)?$")


@dataclass(frozen=True, slots=True)
class Figure:
    """value: exact. unit: a pint unit name, or None when none was said."""

    value: Fraction
    unit: str | None


@dataclass(frozen=True, slots=True)
class Span:
    """words[start:end] are a number; readings: what it can mean, likeliest first."""

    start: int
    end: int
    readings: tuple[Figure, ...]


class Spotter:
    """Finds numbers. units: word -> unit name. sounds: words heard for a number before "thirty seconds"."""

    def __init__(self, units: Mapping[str, str], sounds: Mapping[str, int]) -> None:
        self._units = units
        self._sounds = sounds

    def spot(self, words: Sequence[str]) -> list[Span]:
        """All numbers in the words (lower case, hyphens already split), left to right, not overlapping."""
        spans: list[Span] = []
        at = 0
        while at < len(words):
            span = self._sounded(words, at) or self._number(words, at)
            if span is None:
                at += 1
            else:
                if spans and _range(words, spans[-1], span):
                    spans[-1] = _lend_unit(spans[-1], span)
                spans.append(span)
                at = span.end
        return spans

    def _sounded(self, words: Sequence[str], at: int) -> Span | None:
        """ "for thirty seconds": four thirty-seconds of an inch, or half a minute."""
        value = self._sounds.get(words[at])
        if value is None:
            return None
        end = _thirty_seconds(words, at + 1)
        if end is None:
            return None
        # A bare "for 30 seconds" may be a time; "for 32nds" may not.
        time = (Figure(Fraction(30), "s"),) if words[end - 1] in _SECOND else ()
        return Span(at, self._skip_inch(words, end), (Figure(Fraction(value, 32), "in"), *time))

    def _number(self, words: Sequence[str], at: int) -> Span | None:
        if words[at] in ("a", "an"):
            return self._a_part(words, at)
        if words[at] in ("half", "quarter"):
            return self._with_unit(words, at, at + 1, Fraction(1, _PARTS[words[at]]))
        if match := _GLUED.match(words[at]):
            follows = words[at + 1] if at + 1 < len(words) else ""
            end = at + 1 if match[3] else at + 2 if follows in _SECOND or follows in ("nds", "nd") else None
            if end is not None:
                return Span(at, self._skip_inch(words, end), (Figure(Fraction(int(match[1]), 32), "in"),))
        if match := _SLASHED.match(words[at]):
            if int(match[2]) == 0:
                return None
            end = at + 1
            if end < len(words) and words[end] in ("nds", "ths"):
                end += 1
            return self._of_inch(self._with_unit(words, at, end, Fraction(int(match[1]), int(match[2]))), int(match[2]))
        if words[at] == "point":
            return self._fraction(words, at, Fraction(0), at) if at + 1 < len(words) else None
        whole = _cardinal(words, at)
        if whole is None:
            return None
        value, end = whole
        return self._fraction(words, at, value, end)

    def _a_part(self, words: Sequence[str], at: int) -> Span | None:
        """ "a half", "a quarter", "a hundred", and "an inch" where it is not "... of an inch"."""
        follows = words[at + 1] if at + 1 < len(words) else ""
        if follows in ("half", "quarter", "eighth", "third"):
            return self._with_unit(words, at, at + 2, Fraction(1, _PARTS[follows]))
        if follows == "hundred":
            whole = _cardinal(words, at)
            return None if whole is None else self._with_unit(words, at, whole[1], whole[0])
        if self._units.get(follows) and (at == 0 or words[at - 1] not in ("of", "per", "in", "square", "over")):
            return Span(at, at + 2, (Figure(Fraction(1), self._units[follows]),))
        return None

    def _fraction(self, words: Sequence[str], at: int, value: Fraction, end: int) -> Span | None:
        """After a whole number: is it the upper part of a fraction, or is a fraction added to it?"""
        if (after := _thirty_seconds(words, end)) is not None and value < 32:
            return Span(at, self._skip_inch(words, after), (Figure(value / 32, "in"),))
        follows = words[end] if end < len(words) else ""
        if follows == "over":
            under = _cardinal(words, end + 1)
            if under is not None and under[0] > 0:
                return self._of_inch(self._with_unit(words, at, under[1], value / under[0]), int(under[0]))
        if follows in _PARTS and follows != "32" and value < 32:
            return self._with_unit(words, at, end + 1, value / _PARTS[follows])
        if follows == "and" and end + 1 < len(words):
            added = self._number(words, end + 1)
            if added is not None and 0 < added.readings[0].value < 1:
                reading = added.readings[0]
                return Span(at, added.end, (Figure(value + reading.value, reading.unit),))
        if follows == "point":
            digits, after = "", end + 1
            while after < len(words) and words[after] in _ONES and _ONES[words[after]] < 10:
                digits += str(_ONES[words[after]])
                after += 1
            if digits:
                return self._with_unit(words, at, after, value + Fraction(int(digits), 10 ** len(digits)))
            if end == at:
                return None
        return self._with_unit(words, at, end, value)

    def _with_unit(self, words: Sequence[str], at: int, end: int, value: Fraction) -> Span:
        look = end
        while look < len(words) and look < end + 2 and words[look] in ("of", "an", "a"):
            look += 1
        unit = self._units.get(words[look]) if look < len(words) else None
        if unit is None:
            return self._of_inch(Span(at, end, (Figure(value, None),)), value.denominator)
        return Span(at, look + 1, (Figure(value, unit),))

    @staticmethod
    def _of_inch(span: Span, under: int) -> Span:
        """Thirty-seconds and sixteenths are always said of inches."""
        if span.readings[0].unit is None and under in (16, 32):
            return Span(span.start, span.end, (Figure(span.readings[0].value, "in"),))
        return span

    def _skip_inch(self, words: Sequence[str], end: int) -> int:
        look = end
        while look < len(words) and look < end + 2 and words[look] in ("of", "an", "a"):
            look += 1
        return look + 1 if look < len(words) and self._units.get(words[look]) == "in" else end


def _range(words: Sequence[str], first: Span, second: Span) -> bool:
    """ "one half to three quarters of an inch": two numbers with one unit."""
    between = words[first.end : second.start]
    return first.readings[0].unit is None and (not between or tuple(between) in (("to",), ("and",), ("or",)))


def _lend_unit(first: Span, second: Span) -> Span:
    unit = second.readings[0].unit
    return Span(first.start, first.end, tuple(Figure(reading.value, unit) for reading in first.readings))


def _thirty_seconds(words: Sequence[str], at: int) -> int | None:
    """The end of "thirty seconds" or "32nds" at this place, else None."""
    if at < len(words) and words[at] in ("32nd", "32nds", "30seconds"):
        return at + 1
    if at + 1 < len(words):
        if words[at] in ("thirty", "30") and words[at + 1] in _SECOND:
            return at + 2
        if words[at] == "over" and words[at + 1] in ("32", "32nds"):
            return at + 2
        if words[at] == "32" and words[at + 1] in ("nds", "nd", "inch", "inches"):
            return at + 1 if words[at + 1].startswith("inch") else at + 2
    return None


def _cardinal(words: Sequence[str], at: int) -> tuple[Fraction, int] | None:
    """A whole or decimal number from this place: value and end."""
    if at >= len(words):
        return None
    word = words[at]
    if _DIGITS.match(word):
        value = Fraction(word)
        if at + 1 < len(words) and words[at + 1] == "hundred":
            return _below_hundred(words, at + 2, value * 100)
        return value, at + 1
    if word == "a" and at + 1 < len(words) and words[at + 1] == "hundred":
        return _below_hundred(words, at + 2, Fraction(100))
    if word == "hundred":
        return _below_hundred(words, at + 1, Fraction(100))
    if word in _TENS:
        return _below_hundred(words, at, Fraction(0))
    if word not in _ONES:
        return None
    one = _ONES[word]
    end = at + 1
    if end < len(words) and words[end] == "hundred":
        return _below_hundred(words, end + 1, Fraction(one * 100))
    # "four thirty seconds" is a fraction, "one twenty" is 120, "one oh five" is 105
    if 1 <= one <= 9 and end < len(words) and _thirty_seconds(words, end) is None:
        if words[end] in _TENS or _ONES.get(words[end], 0) >= 10:
            return _below_hundred(words, end, Fraction(one * 100))
        if words[end] == "oh" and end + 1 < len(words) and 1 <= _ONES.get(words[end + 1], 0) <= 9:
            return Fraction(one * 100 + _ONES[words[end + 1]]), end + 2
    return Fraction(one), end


def _below_hundred(words: Sequence[str], at: int, base: Fraction) -> tuple[Fraction, int]:
    """Adds what follows "hundred" (or a bare ten) to base."""
    look = at + 1 if at + 1 < len(words) and words[at] == "and" and base >= 100 else at
    if look < len(words):
        if words[look] in _TENS:
            value, end = base + _TENS[words[look]], look + 1
            alone = base < 100 or _thirty_seconds(words, end + 1) is None
            if end < len(words) and 1 <= _ONES.get(words[end], 0) <= 9 and alone:
                return value + _ONES[words[end]], end + 1
            return value, end
        if words[look] in _ONES and base >= 100 and _thirty_seconds(words, look + 1) is None:
            return base + _ONES[words[look]], look + 1
        if _DIGITS.match(words[look]) and base >= 100 and Fraction(words[look]) < 100 and look != at:
            return base + Fraction(words[look]), look + 1
    return base, at
