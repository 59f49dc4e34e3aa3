"""A small non-deterministic grammar of English numbers: every rule gives all the ways it matches from a position.

So doubt is found rather than guessed away; voice/measure/reading.py decides.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from voice.measure.book import number_words, unit_book

IMPLICIT = ("half", "quarter", "a", "an")
_SECONDS = (("second",), ("seconds",))
_ENDINGS = (("nds",), ("nd",))  # of a written 32


@dataclass(frozen=True, slots=True)
class Match:
    """A way to read tokens.

    end: after the last token that was read
    kind: "whole", "pair" ("one twenty"), "digits" ("one two zero"), "decimal", "mixed" (a fraction, or a number with
        one), "adjoined" (the same without "and": "one three quarters"), "improper" (a fraction of one or more),
        "clock", "count" (of the unit's usual parts)
    unit: what was said with it, if anything
    of: the denominator that was said; 1 without a fraction
    """

    value: Fraction
    end: int
    kind: str
    unit: str | None = None
    of: int = 1


def numbers(tokens: tuple[str, ...], at: int) -> Iterator[Match]:
    """Any number from the position on."""
    if at >= len(tokens) or not (tokens[at] in _beginnings() or tokens[at][0] in "0123456789."):
        return
    words = number_words()
    yield from fractions(tokens, at)
    for whole in wholes(tokens, at):
        yield whole
        follows = tokens[whole.end :]
        if not follows:
            continue
        joined = follows[0] == words.and_
        if whole.kind in ("whole", "pair"):
            for part in fractions(tokens, whole.end + joined):
                # Without "and" the parts are counted: "one three quarters", but "one half" is no more than a half.
                if part.value < 1 and (joined or follows[0] not in IMPLICIT):
                    kind = "mixed" if joined else "adjoined"
                    yield Match(whole.value + part.value, part.end, kind, of=part.of)
        if follows[0] == words.point:
            yield from _after_point(tokens, whole)
    if tokens[at : at + 1] == (words.point,):
        yield from _after_point(tokens, Match(Fraction(0), at, "whole"))
    yield from _decimals(tokens, at)


@cache
def _beginnings() -> frozenset[str]:
    """Every word that a number can begin with: most words of free speech are none."""
    words = number_words()
    return frozenset({*words.digit, *words.small, *words.ten, words.hundred, words.point, *IMPLICIT})


def wholes(tokens: tuple[str, ...], at: int) -> Iterator[Match]:
    """Whole numbers: numerals, cardinals, pairs ("one twenty", "one oh five") and digit strings."""
    words = number_words()
    digit = words.digit
    if at < len(tokens) and tokens[at].isdigit():
        yield Match(Fraction(tokens[at]), at + 1, "whole")
        if tokens[at + 1 : at + 2] == (words.hundred,):  # "4 hundred"
            for value, end in _hundreds(tokens, _numeral(tokens, at)):
                yield Match(Fraction(value), end, "whole")
        end = at
        while end < len(tokens) and re.fullmatch(r"\d", tokens[end]):
            end += 1
        if end - at > 1:
            yield Match(Fraction("".join(tokens[at:end])), end, "digits")
        return
    for value, end in _cardinals(tokens, at):
        yield Match(Fraction(value), end, "whole")
    for head, middle in below_hundred(tokens, at):
        if head and middle < len(tokens):
            if tokens[middle] in (words.zeros[0], words.ones[0]) and tokens[middle + 1 : middle + 2]:
                last = digit.get(tokens[middle + 1])
                if last:
                    yield Match(Fraction(head * 100 + last), middle + 2, "pair")
            for tail, end in below_hundred(tokens, middle):
                if tail >= 10:
                    yield Match(Fraction(head * 100 + tail), end, "pair")
    end = at
    while end < len(tokens) and tokens[end] in digit:
        end += 1
        if end - at > 1:
            said = "".join(str(digit[token]) for token in tokens[at:end])
            if said[0] != "0":
                yield Match(Fraction(said), end, "digits")


def below_hundred(tokens: tuple[str, ...], at: int) -> Iterator[tuple[int, int]]:
    """0..99 in words, shorter match first."""
    if at >= len(tokens):
        return
    word, words = tokens[at], number_words()
    if word in words.small:
        yield words.small[word], at + 1
    elif word in words.ten:
        yield words.ten[word], at + 1
        unit = words.small.get(tokens[at + 1], 0) if at + 1 < len(tokens) else 0
        if 0 < unit < 10:
            yield words.ten[word] + unit, at + 2


def _cardinals(tokens: tuple[str, ...], at: int) -> Iterator[tuple[int, int]]:
    """0..99,999 with "hundred" and "thousand", with or without "and"; "a hundred", "hundred and five"."""
    words = number_words()
    yield from _below_thousand(tokens, at)
    for head, end in (*_below_thousand(tokens, at), *_article(tokens, at)):
        if head and tokens[end : end + 1] == (words.thousand,):
            yield head * 1000, end + 1
            rest = end + 1 + (tokens[end + 1 : end + 2] == (words.and_,))
            for tail, stop in _below_thousand(tokens, rest):
                if tail:
                    yield head * 1000 + tail, stop


def _below_thousand(tokens: tuple[str, ...], at: int) -> Iterator[tuple[int, int]]:
    yield from below_hundred(tokens, at)
    yield from _hundreds(tokens, (*below_hundred(tokens, at), *_article(tokens, at), (1, at)))


def _hundreds(tokens: tuple[str, ...], heads: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """ "hundred" and what belongs to it after each of the heads (value, end)."""
    words = number_words()
    for head, end in heads:
        if head and tokens[end : end + 1] == (words.hundred,):
            yield head * 100, end + 1
            joined = tokens[end + 1 : end + 2] == (words.and_,)
            rest = end + 1 + joined
            for tail, stop in (*below_hundred(tokens, rest), *(_numeral(tokens, rest) if joined else ())):
                if tail:
                    yield head * 100 + tail, stop


def _numeral(tokens: tuple[str, ...], at: int) -> tuple[tuple[int, int], ...]:
    """A number below a hundred in digits."""
    return ((int(tokens[at]), at + 1),) if at < len(tokens) and re.fullmatch(r"\d{1,2}", tokens[at]) else ()


def _article(tokens: tuple[str, ...], at: int) -> tuple[tuple[int, int], ...]:
    return ((1, at + 1),) if tokens[at : at + 1] == ("a",) else ()


def fractions(tokens: tuple[str, ...], at: int) -> Iterator[Match]:
    """ "half", "a quarter", "three fourths", "four thirty seconds", "four over thirty two", "4/32", "4/32 nds"."""
    counts = [(1, at)] if tokens[at : at + 1] in (("half",), ("quarter",)) else []
    if tokens[at : at + 1] in (("a",), ("an",)):
        counts.append((1, at + 1))
    counts += [(int(each.value), each.end) for each in wholes(tokens, at) if each.kind == "whole"]
    glued = re.fullmatch(r"(\d{1,2})3[02]", tokens[at]) if tokens[at + 1 : at + 2] in (*_SECONDS, *_ENDINGS) else None
    if glued is not None:  # "430 seconds", "432 seconds" and "432nds" for four thirty seconds
        yield Match(Fraction(int(glued[1]), 32), at + 2, "mixed", of=32)
    for count, end in counts:
        for of, stop in denominators(tokens, end):
            kind = "mixed" if count < of else "improper"
            yield Match(Fraction(count, of), stop, kind, of=of)
        if tokens[end : end + 1] in (("over",), ("/",)):
            for below in wholes(tokens, end + 1):
                if below.kind == "whole" and below.value:
                    stop = below.end + (
                        tokens[below.end : below.end + 1] in (("nds",), ("nd",), ("ths",), ("th",), ("rds",))
                    )
                    kind = "mixed" if count < below.value else "improper"
                    yield Match(count / below.value, stop, kind, of=int(below.value))


def denominators(tokens: tuple[str, ...], at: int) -> Iterator[tuple[int, int]]:
    """Names of parts; also numerals with an ending ("32nds")."""
    names = unit_book().denominators
    for length in (2, 1):
        of = names.get(" ".join(tokens[at : at + length]))
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
        number_words().ten.get(tokens[at]) or (int(tokens[at]) if re.fullmatch(r"[2-9]0", tokens[at]) else 0)
        if at < len(tokens)
        else 0
    )
    if tens and tokens[at + 1 : at + 2] in _SECONDS:
        yield tens + 2, at + 2  # "four 30 seconds"
    if tens and tokens[at + 1 : at + 3] in (("2", "nds"), ("2", "nd")):
        yield tens + 2, at + 3


def _after_point(tokens: tuple[str, ...], whole: Match) -> Iterator[Match]:
    """ "point five", "point two five", "point twenty five"."""
    digit = number_words().digit
    start = whole.end + 1
    end = start
    digits = ""
    while end < len(tokens) and tokens[end] in digit:
        digits += str(digit[tokens[end]])
        end += 1
        yield Match(whole.value + Fraction(int(digits), 10 ** len(digits)), end, "decimal")
    if not digits:
        for value, stop in below_hundred(tokens, start):
            if value >= 10:
                yield Match(whole.value + Fraction(value, 100), stop, "decimal")
        if start < len(tokens) and tokens[start].isdigit():
            tail = tokens[start]
            yield Match(whole.value + Fraction(int(tail), 10 ** len(tail)), start + 1, "decimal")


def _decimals(tokens: tuple[str, ...], at: int) -> Iterator[Match]:
    """Written decimals: "1.5", ".5"."""
    if at < len(tokens) and "." in tokens[at]:
        yield Match(Fraction(tokens[at]), at + 1, "decimal")


def clock(tokens: tuple[str, ...]) -> Iterator[Match]:
    """Minutes and seconds, for all the tokens, in seconds: "one twenty", "one minute twenty", "a minute and a half"."""
    if len(tokens) == 3 and tokens[1] == ":" and tokens[0].isdigit() and re.fullmatch("[0-5][0-9]", tokens[2]):
        yield Match(Fraction(int(tokens[0]) * 60 + int(tokens[2])), 3, "clock", "s")  # "1:20"
    words = number_words()
    minutes = [*below_hundred(tokens, 0), *([(1, 1)] if tokens[:1] == ("a",) else [])]
    minutes += [(int(tokens[0]), 1)] if tokens and tokens[0].isdigit() else []
    for count, end in minutes:
        named = tokens[end : end + 1] in (("minute",), ("minutes",))
        if named and tokens[end + 1 :] in (("and", "a", "half"), ("and", "half")):
            yield Match(Fraction(count * 60 + 30), len(tokens), "clock", "s")
        start = end + named + (named and tokens[end + 1 : end + 2] == (words.and_,))
        bare = tokens[start : start + 1] in ((words.zeros[0],), (words.ones[0],)) and not named
        for rest, stop in (
            *below_hundred(tokens, start + bare),
            *([(int(tokens[start]), start + 1)] if start < len(tokens) and tokens[start].isdigit() and named else []),
        ):
            seconds = tokens[stop : stop + 1] in (("second",), ("seconds",)) and named
            fits = 0 < rest < 60 and (named or (rest < 10) == bare) and count
            if fits and stop + seconds == len(tokens):
                yield Match(Fraction(count * 60 + rest), len(tokens), "clock", "s")
