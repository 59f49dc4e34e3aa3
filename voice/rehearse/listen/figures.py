"""Numbers with units spotted in free speech, in exact fractions.

The number grammar (voice/measure/grammar.py) finds every way to read a number from a place; here the longest is taken
that a student may mean. An answer to a question is all one number and may be read more freely; in free speech:

- "axle one four thirty seconds" is an axle and a tread, so a fraction belongs to a whole number only with "and", or
  where both are written in digits ("1 3/4");
- "one two three" are three numbers, and "ten twelve" are two;
- "a thirty second hold" is half a minute;
- "one hundred thirty seconds" is a time and not 100/32.

What could be two things ("for thirty seconds") gives both readings; the reader picks by the unit it wants.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from voice.measure.book import number_words
from voice.measure.grammar import Match, denominators, numbers
from voice.measure.tokens import tokenize

_LINKS = ("of", "an", "a")  # between a number and its unit: "a quarter of an inch"
_NOT_ONE = ("of", "per", "in", "square", "over")  # before "an inch" that is not one inch
_ARTICLES = ("a", "an")


@dataclass(frozen=True, slots=True)
class SaidFigure:
    """A number as it may have been meant.

    value: exact.
    unit: a pint unit name, or None when none was said.
    """

    value: Fraction
    unit: str | None


@dataclass(frozen=True, slots=True)
class Span:
    """A number in a text: words[start:end].

    readings: what it can mean, likeliest first.
    """

    start: int
    end: int
    readings: tuple[SaidFigure, ...]


class Spotter:
    """Finds numbers.

    units: word -> unit name.
    sounds: words heard for a number before "thirty seconds".
    """

    def __init__(self, units: Mapping[str, str], sounds: Mapping[str, int]) -> None:
        self._units = units
        self._sounds = sounds

    def spot(self, words: Sequence[str]) -> list[Span]:
        """All numbers in the words (lower case, hyphens already split), left to right, not overlapping."""
        spans: list[Span] = []
        text = _Text(words)
        at = 0
        while at < len(words):
            span = self._sounded(text, at) or self._number(text, at) or self._one(words, at)
            if span is None:
                at += 1
            else:
                if spans and _range(words, spans[-1], span):
                    spans[-1] = _lend_unit(spans[-1], span)
                spans.append(span)
                at = span.end
        return spans

    def _sounded(self, text: _Text, at: int) -> Span | None:
        """ "for thirty seconds": four thirty-seconds of an inch, or half a minute."""
        value = self._sounds.get(text.words[at])
        if value is None or at + 1 == len(text.words):
            return None
        ends = [text.word_end(end) for of, end in denominators(text.tokens, text.starts[at + 1]) if of == 32]
        end = next((each for each in ends if each is not None), None)
        if end is None:
            return None
        # A bare "for 30 seconds" may be a time; "for 32nds" may not.
        time = (SaidFigure(Fraction(30), "s"),) if self._units.get(text.words[end - 1]) == "s" else ()
        return Span(at, self._unit(text.words, end, "in")[1], (SaidFigure(Fraction(value, 32), "in"), *time))

    def _number(self, text: _Text, at: int) -> Span | None:
        best: Span | None = None
        for match, end in text.matches(at):
            in_inches = match.of in (16, 32)  # always said of inches
            unit, end = self._unit(text.words, end, "in" if in_inches else None)
            unit = "in" if in_inches else unit
            if best is None or end > best.end:
                best = Span(at, end, (SaidFigure(match.value, unit),))
        return best

    def _one(self, words: Sequence[str], at: int) -> Span | None:
        """ "an inch", where it is not "... of an inch"."""
        unit = self._units.get(words[at + 1]) if words[at] in _ARTICLES and at + 1 < len(words) else None
        if unit is None or (at and words[at - 1] in _NOT_ONE):
            return None
        return Span(at, at + 2, (SaidFigure(Fraction(1), unit),))

    def _unit(self, words: Sequence[str], end: int, only: str | None = None) -> tuple[str | None, int]:
        """The unit named from here on and the end of its name; none and `end` without one.

        only: this unit alone.
        """
        look = end
        while look < len(words) and look < end + 2 and words[look] in _LINKS:
            look += 1
        unit = self._units.get(words[look]) if look < len(words) else None
        return (None, end) if unit is None or (only and unit != only) else (unit, look + 1)


class _Text:
    """The words, and the tokens of the number grammar that they are made of ("4/32nds" is four).

    starts: for each word, and for the end, the number of its first token
    """

    def __init__(self, words: Sequence[str]) -> None:
        self.words = words
        tokens: list[str] = []
        self.starts = [0]
        for word in words:
            tokens += tokenize(word)
            self.starts.append(len(tokens))
        self.tokens = tuple(tokens)
        self._ends = {token: index for index, token in enumerate(self.starts)}

    def word_end(self, token: int) -> int | None:
        """The number of words before this token; None in the middle of a word."""
        return self._ends.get(token)

    def matches(self, at: int) -> Iterator[tuple[Match, int]]:
        """What free speech may mean by a number from this word on, the likelier first of equally long ones."""
        start = self.starts[at]
        for match in numbers(self.tokens, start):
            end = self.word_end(match.end)
            if end is not None and _meant(match, self.tokens[start : match.end]):
                yield match, end


def _meant(match: Match, tokens: tuple[str, ...]) -> bool:
    """Whether free speech may mean this; see the head of this module."""
    match match.kind:
        case "digits":
            return False
        case "pair":
            return match.value < 1000 and number_words().ones[0] not in tokens
        case "adjoined":
            return tokens[0].isdigit() and "/" in tokens and match.of < 32
        case "improper":
            return "/" in tokens or "over" in tokens
        case "mixed":
            return not (tokens[0] in _ARTICLES and match.of == 32)
        case _:
            return True


def _range(words: Sequence[str], first: Span, second: Span) -> bool:
    """ "one half to three quarters of an inch": two numbers with one unit."""
    between = words[first.end : second.start]
    return first.readings[0].unit is None and (not between or tuple(between) in (("to",), ("and",), ("or",)))


def _lend_unit(first: Span, second: Span) -> Span:
    unit = second.readings[0].unit
    return Span(first.start, first.end, tuple(SaidFigure(reading.value, unit) for reading in first.readings))
