"""Words to readings: "one and three quarter inches", "one twenty", "4/32nds", "about ninety five", exact.

The parser is a small non-deterministic grammar: every rule gives all the ways it can match from a position, each with
a value, so that doubt is found rather than guessed away. The question's unit, range and step then decide; what they
leave open is returned as candidates to be asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from voice.measure import Measure
from voice.understand.cardinal import ONES, TENS
from voice.understand.lexicon import Lexicon, shipped
from voice.understand.spoken import PARTS

DIGIT = {word: n for n, word in enumerate(ONES[:10])} | {"oh": 0, "o": 0}
SMALL = {word: n for n, word in enumerate(ONES)} | {"oh": 0}
TEN = {word: n * 10 for n, word in enumerate(TENS) if word}
DENOMINATOR = {name: of for of, pairs in PARTS.items() for pair in pairs for name in pair}
AND = "and"
IMPLICIT = ("half", "quarter", "a", "an")
_SECONDS = (("second",), ("seconds",))
_SINGLE_DIGITS = frozenset((word,) for word in DIGIT)

# Names of units beside those of the lexicon: what people and transcribers write.
WRITTEN_UNITS: Mapping[str, str] = {
    "psi": "psi", "lbs": "psi", "lb": "psi", "in": "in", '"': "in", "mm": "mm", "millimetre": "mm",
    "millimetres": "mm", "cm": "cm", "centimetre": "cm", "centimetres": "cm", "kpa": "kPa", "ft": "ft", "sec": "s",
    "secs": "s", "min": "min", "mins": "min", "mph": "mph", "%": "percent", "°": "deg", "v": "V", "kmh": "km/h",
    "metre": "m", "metres": "m", "litre": "L", "litres": "L",
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
    """More than one value fits. values: the likeliest first; two or more, in the question's unit."""

    values: tuple[Fraction, ...]
    approximate: bool = False


@dataclass(frozen=True, slots=True)
class _Match:
    """A way to read tokens up to `end`. kind: how ("whole", "digits", "pair", "mixed", "decimal", "clock", "count")."""

    value: Fraction
    end: int
    kind: str
    unit: str | None = None


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

    def _all(self, tokens: tuple[str, ...], unit: str, step: Fraction) -> Iterator[_Match]:
        """Every way to read all the tokens as a number, with or without a unit."""
        words = self.lexicon.units.get(unit)
        for match in _numbers(tokens, 0):
            if match.end == len(tokens):
                yield match
                if words and match.kind == "whole" and step.denominator in words.bare_divisions:
                    yield _Match(match.value / step.denominator, match.end, "count")
                continue
            if match.kind == "whole" and step.denominator == 10 and tokens[match.end :] in _SINGLE_DIGITS:
                # "twelve six" volts
                tenths = Fraction(DIGIT[tokens[match.end]], 10)
                yield _Match(match.value + tenths, len(tokens), "short-decimal")
            for name, end in self._units(tokens, match.end, unit):
                if end == len(tokens):
                    yield _Match(match.value, end, match.kind, name)
                elif tokens[end] == AND and match.kind == "whole":
                    # "one inch and three quarters"
                    for part in _fractions(tokens, end + 1):
                        if part.value < 1 and part.end == len(tokens):
                            yield _Match(match.value + part.value, part.end, "mixed", name)
        for name, end in self._units(tokens, 1, unit):  # "an inch", "a minute"
            if tokens[0] in ("a", "an") and end == len(tokens):
                yield _Match(Fraction(1), end, "whole", name)
        if words and words.clock:
            yield from _clock(tokens)

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
        written = [((text,), name) for text, name in WRITTEN_UNITS.items() if name in self.lexicon.units]
        return tuple(dict.fromkeys([*spoken, *written]))


def parse(words: str, unit: str, low: Fraction, high: Fraction, step: Fraction = Fraction(1)) -> Reading | Doubt | None:
    """Numbers.parse with the shipped lexicon."""
    return Numbers().parse(words, unit, low, high, step)


# --- tokens ----------------------------------------------------------------------------------------------------

_TOKEN = re.compile(r"\d+(?:\.\d+)?|\.\d+|[a-z]+(?:'[a-z]+)?|[/%°\"]")
_GROUPED = re.compile(r"(?<=\d),(?=\d{3}\b)")
_VULGAR = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}


def tokenise(text: str) -> tuple[str, ...]:
    """Lower-case tokens: words, numerals, "/". Hyphens split; "32nds" becomes "32" "nds"; "p.s.i." becomes "psi"."""
    text = text.lower()
    for sign, plain in _VULGAR.items():
        text = text.replace(sign, plain)
    text = re.sub(r"(?<![\w)])[-−](?=[\d.])", " minus ", text)
    text = re.sub(r"\bp\.? ?s\.? ?i\b\.?", " psi ", text)
    text = re.sub(r"\bk\.? ?p\.? ?a\b\.?", " kpa ", text)
    text = _GROUPED.sub("", text).replace("’", "'")
    return tuple(_TOKEN.findall(text))


# --- the grammar -----------------------------------------------------------------------------------------------


def _numbers(tokens: tuple[str, ...], at: int) -> Iterator[_Match]:
    """Any number from the position on."""
    yield from _fractions(tokens, at)
    for whole in _wholes(tokens, at):
        yield whole
        follows = tokens[whole.end :]
        if not follows:
            continue
        joined = follows[0] == AND
        if whole.kind in ("whole", "pair"):
            for part in _fractions(tokens, whole.end + joined):
                # Without "and" the parts are counted: "one three quarters", but "one half" is no more than a half.
                if part.value < 1 and (joined or follows[0] not in IMPLICIT):
                    yield _Match(whole.value + part.value, part.end, "mixed")
        if follows[0] == "point":
            yield from _after_point(tokens, whole)
    if tokens[at : at + 1] == ("point",):
        yield from _after_point(tokens, _Match(Fraction(0), at, "whole"))
    yield from _decimals(tokens, at)


def _wholes(tokens: tuple[str, ...], at: int) -> Iterator[_Match]:
    """Whole numbers: numerals, cardinals, pairs ("one twenty", "one oh five") and digit strings."""
    if at < len(tokens) and tokens[at].isdigit():
        yield _Match(Fraction(tokens[at]), at + 1, "whole")
        end = at
        while end < len(tokens) and re.fullmatch(r"\d", tokens[end]):
            end += 1
        if end - at > 1:
            yield _Match(Fraction("".join(tokens[at:end])), end, "digits")
        return
    for value, end in _cardinals(tokens, at):
        yield _Match(Fraction(value), end, "whole")
    for head, middle in _below_hundred(tokens, at):
        if head and middle < len(tokens):
            if tokens[middle] in ("oh", "zero") and tokens[middle + 1 : middle + 2]:
                digit = DIGIT.get(tokens[middle + 1])
                if digit:
                    yield _Match(Fraction(head * 100 + digit), middle + 2, "pair")
            for tail, end in _below_hundred(tokens, middle):
                if tail >= 10:
                    yield _Match(Fraction(head * 100 + tail), end, "pair")
    end = at
    while end < len(tokens) and tokens[end] in DIGIT:
        end += 1
        if end - at > 1:
            said = "".join(str(DIGIT[token]) for token in tokens[at:end])
            if said[0] != "0":
                yield _Match(Fraction(said), end, "digits")


def _below_hundred(tokens: tuple[str, ...], at: int) -> Iterator[tuple[int, int]]:
    """0..99 in words, shorter match first."""
    if at >= len(tokens):
        return
    word = tokens[at]
    if word in SMALL and word != "oh":
        yield SMALL[word], at + 1
    elif word in TEN:
        yield TEN[word], at + 1
        unit = SMALL.get(tokens[at + 1], 0) if at + 1 < len(tokens) else 0
        if 0 < unit < 10:
            yield TEN[word] + unit, at + 2


def _cardinals(tokens: tuple[str, ...], at: int) -> Iterator[tuple[int, int]]:
    """0..99,999 with "hundred" and "thousand", with or without "and"; "a hundred", "hundred and five"."""
    yield from _below_thousand(tokens, at)
    for head, end in (*_below_thousand(tokens, at), *_article(tokens, at)):
        if head and tokens[end : end + 1] == ("thousand",):
            yield head * 1000, end + 1
            rest = end + 1 + (tokens[end + 1 : end + 2] == (AND,))
            for tail, stop in _below_thousand(tokens, rest):
                if tail:
                    yield head * 1000 + tail, stop


def _below_thousand(tokens: tuple[str, ...], at: int) -> Iterator[tuple[int, int]]:
    yield from _below_hundred(tokens, at)
    for head, end in (*_below_hundred(tokens, at), *_article(tokens, at), (1, at)):
        if head and tokens[end : end + 1] == ("hundred",):
            yield head * 100, end + 1
            rest = end + 1 + (tokens[end + 1 : end + 2] == (AND,))
            for tail, stop in _below_hundred(tokens, rest):
                if tail:
                    yield head * 100 + tail, stop


def _article(tokens: tuple[str, ...], at: int) -> tuple[tuple[int, int], ...]:
    return ((1, at + 1),) if tokens[at : at + 1] == ("a",) else ()


def _fractions(tokens: tuple[str, ...], at: int) -> Iterator[_Match]:
    """ "half", "a quarter", "three fourths", "four thirty seconds", "four over thirty two", "4/32", "4/32 nds"."""
    counts = [(1, at)] if tokens[at : at + 1] in (("half",), ("quarter",)) else []
    if tokens[at : at + 1] in (("a",), ("an",)):
        counts.append((1, at + 1))
    counts += [(int(each.value), each.end) for each in _wholes(tokens, at) if each.kind == "whole"]
    if at < len(tokens) and (glued := re.fullmatch(r"(\d{1,2})30", tokens[at])) and tokens[at + 1 : at + 2] in _SECONDS:
        yield _Match(Fraction(int(glued[1]), 32), at + 2, "mixed")  # "430 seconds" for four thirty seconds
    for count, end in counts:
        for of, stop in _denominators(tokens, end):
            kind = "mixed" if count < of else "improper"
            yield _Match(Fraction(count, of), stop, kind)
        if tokens[end : end + 1] in (("over",), ("/",)):
            for below in _wholes(tokens, end + 1):
                if below.kind == "whole" and below.value:
                    stop = below.end + (
                        tokens[below.end : below.end + 1] in (("nds",), ("nd",), ("ths",), ("th",), ("rds",))
                    )
                    yield _Match(count / below.value, stop, "mixed" if count < below.value else "improper")


def _denominators(tokens: tuple[str, ...], at: int) -> Iterator[tuple[int, int]]:
    """Names of parts; also numerals with an ending ("32nds")."""
    for length in (2, 1):
        of = DENOMINATOR.get(" ".join(tokens[at : at + length]))
        if of and at + length <= len(tokens):
            yield of, at + length
    if (
        at + 1 < len(tokens)
        and tokens[at].isdigit()
        and int(tokens[at])
        and tokens[at + 1] in ("nds", "nd", "ths", "th", "rds", "rd")
    ):
        yield int(tokens[at]), at + 2
    tens = (
        TEN.get(tokens[at]) or (int(tokens[at]) if re.fullmatch(r"[2-9]0", tokens[at]) else 0)
        if at < len(tokens)
        else 0
    )
    if tens and tokens[at + 1 : at + 2] in _SECONDS:
        yield tens + 2, at + 2  # "four 30 seconds"
    if tens and tokens[at + 1 : at + 3] in (("2", "nds"), ("2", "nd")):
        yield tens + 2, at + 3


def _after_point(tokens: tuple[str, ...], whole: _Match) -> Iterator[_Match]:
    """ "point five", "point two five", "point twenty five"."""
    start = whole.end + 1
    end = start
    digits = ""
    while end < len(tokens) and tokens[end] in DIGIT:
        digits += str(DIGIT[tokens[end]])
        end += 1
        yield _Match(whole.value + Fraction(int(digits), 10 ** len(digits)), end, "decimal")
    if not digits:
        for value, stop in _below_hundred(tokens, start):
            if value >= 10:
                yield _Match(whole.value + Fraction(value, 100), stop, "decimal")
        if start < len(tokens) and tokens[start].isdigit():
            tail = tokens[start]
            yield _Match(whole.value + Fraction(int(tail), 10 ** len(tail)), start + 1, "decimal")


def _decimals(tokens: tuple[str, ...], at: int) -> Iterator[_Match]:
    """Written decimals: "1.5", ".5"."""
    if at < len(tokens) and "." in tokens[at]:
        yield _Match(Fraction(tokens[at]), at + 1, "decimal")


def _clock(tokens: tuple[str, ...]) -> Iterator[_Match]:
    """Minutes and seconds, for all the tokens, in seconds: "one twenty", "one minute twenty", "a minute and a half"."""
    minutes = [*_below_hundred(tokens, 0), *([(1, 1)] if tokens[:1] == ("a",) else [])]
    minutes += [(int(tokens[0]), 1)] if tokens and tokens[0].isdigit() else []
    for count, end in minutes:
        named = tokens[end : end + 1] in (("minute",), ("minutes",))
        if named and tokens[end + 1 :] in (("and", "a", "half"), ("and", "half")):
            yield _Match(Fraction(count * 60 + 30), len(tokens), "clock", "s")
        start = end + named + (named and tokens[end + 1 : end + 2] == (AND,))
        bare = tokens[start : start + 1] in (("oh",), ("zero",)) and not named
        for rest, stop in (
            *_below_hundred(tokens, start + bare),
            *([(int(tokens[start]), start + 1)] if start < len(tokens) and tokens[start].isdigit() and named else []),
        ):
            seconds = tokens[stop : stop + 1] in (("second",), ("seconds",)) and named
            fits = 0 < rest < 60 and (named or (rest < 10) == bare) and count
            if fits and stop + seconds == len(tokens):
                yield _Match(Fraction(count * 60 + rest), len(tokens), "clock", "s")


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
    return Doubt(tuple(pool), approximate)
