"""How near two words are to the ear: the least cost of turning one's phones into the other's.

Phones are those of pocketsphinx's dictionary (ARPABET). Chosen here, no source: a vowel for a vowel, a consonant for one
of its own kind, or a phone more or less at an end of the word costs half of any other change.
"""

from __future__ import annotations

from collections.abc import Sequence

VOWELS = frozenset("AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW".split())
_KINDS = ("P B", "T D", "K G", "F V TH DH", "S Z SH ZH", "CH JH", "M N NG", "L R W Y HH")
_KIND = {phone: number for number, phones in enumerate(_KINDS) for phone in phones.split()}


def distance(one: Sequence[str], other: Sequence[str]) -> float:
    """0 for the same phones; about 1 for one that differs."""
    row = [0.5 * n for n in range(len(other) + 1)]
    for at, phone in enumerate(one, 1):
        ends = at == len(one)
        above, row = row, [0.5 * at, *([0.0] * len(other))]
        for n, there in enumerate(other, 1):
            last = n == len(other)
            row[n] = min(
                above[n - 1] + _change(phone, there),
                above[n] + (0.5 if last else 1.0),
                row[n - 1] + (0.5 if ends else 1.0),
            )
    return row[-1]


def _change(one: str, other: str) -> float:
    if one == other:
        return 0.0
    alike = one in VOWELS and other in VOWELS or _KIND.get(one, -1) == _KIND.get(other, -2)
    return 0.5 if alike else 1.0
