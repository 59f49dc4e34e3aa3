"""What a driver reads off an odometer: "four hundred twelve thousand three hundred forty five", "four twelve three
forty five", "four one two three four five", and any mixture.

Digits in a row are a habit of the trade for long numbers; the number grammar of gauges reads one number, and not such a
row. What comes out is always read back, so the likeliest reading is enough: the one of the fewest pieces.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from voice.measure.book import number_words
from voice.measure.cardinal import cardinal
from voice.measure.grammar import wholes
from voice.measure.tokens import tokenize

_WRITTEN_APART = re.compile(r"(?<=\d) (?=\d{3}(?!\d))")  # before the last three digits of "142 000"

MOST_DIGITS = 7  # of an odometer; a trailer's hubodometer has no more


def counted(text: str) -> int | None:
    """The whole number that the words say, of at most seven digits; None if they are none."""
    tokens = tokenize(_WRITTEN_APART.sub("", text))  # else the zeros of "142 000" would be one
    best: list[tuple[int, int] | None] = [(0, 0), *[None] * len(tokens)]  # by end: pieces, value
    for at in range(len(tokens)):
        so_far = best[at]
        if so_far is None:
            continue
        for value, end in _pieces(tokens, at):
            added = at > 0 and value < _sizes().get(tokens[at - 1], 0)  # "four hundred thousand" "and five"
            joined = value if at == 0 else so_far[1] + value if added else int(f"{so_far[1]}{value}")
            found = (so_far[0] + 1, joined)
            known = best[end]
            if len(str(joined)) <= MOST_DIGITS and (known is None or found[0] < known[0]):
                best[end] = found
    last = best[len(tokens)]
    return None if last is None or not tokens else last[1]


def in_halves(number: int) -> str:
    """A long number as two short ones, the way of the trade: 412345 is "four twelve three forty five".

    In full where that would be another number: "thirty one hundred".
    """
    thousands, rest = divmod(number, 1000)
    if not thousands:
        return cardinal(number)
    zero, hundred = number_words().zeros[0], number_words().hundred

    def short(part: int, whole: bool) -> str:
        hundreds, below = divmod(part, 100)
        lead = [cardinal(hundreds)] if hundreds else [zero] if whole else []
        if not below:
            return " ".join((*lead, hundred if hundreds else f"{zero} {zero}"))
        return " ".join((*lead, *([zero] if below < 10 and lead else []), cardinal(below)))

    said = f"{short(thousands, False)} {short(rest, True)}"
    return said if counted(said) == number else cardinal(number)


def _pieces(tokens: tuple[str, ...], at: int) -> Iterator[tuple[int, int]]:
    """Numbers from a position on, with where they end."""
    if tokens[at] in number_words().digit:  # "oh" begins no number, but stands within a row
        yield number_words().digit[tokens[at]], at + 1
    for match in wholes(tokens, at):
        yield int(match.value), match.end
        if match.end < len(tokens) and (size := _sizes().get(tokens[match.end], 0)) > match.value:  # "412 thousand 345"
            yield int(match.value) * size, match.end + 1


def _sizes() -> dict[str, int]:
    words = number_words()
    return {words.thousand: 1_000, words.million: 1_000_000}
