"""How alike two phrases sound, by their phones. For the check of wording only; recognition has its own measures."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from rapidfuzz.distance import Levenshtein

from voice.hear.pronounce import pronunciations

# Share of phones that differ, at most this for phrases that are too close. Chosen by trying the shipped lists, no
# source: "a dent" and "bent" (2 of 5) are too close, "leaking" and "loose" are not.
CLOSE = 0.4


@cache
def _dictionary() -> Mapping[str, str]:
    """The US English dictionary that comes with the small recognizer: word -> phones. Empty if it is not installed."""
    try:
        from pocketsphinx import get_model_path
    except ImportError:
        return {}
    entries: dict[str, str] = {}
    with open(get_model_path("en-us/cmudict-en-us.dict"), encoding="utf-8") as file:  # noqa: PTH123
        for line in file:
            word, _, phones = line.strip().partition(" ")
            entries.setdefault(word, phones)
    return entries


@cache
def phones(phrase: str) -> tuple[str, ...]:
    """The phones of a phrase, ARPABET."""
    found: list[str] = []
    for word in phrase.lower().split():
        found += (_dictionary().get(word) or pronunciations(word)[0]).split()
    return tuple(found)


@cache
def distance(one: str, other: str) -> float:
    """0 for phrases that sound the same, 1 for such that have nothing in common."""
    return Levenshtein.normalized_distance(phones(one), phones(other))


def confusable(one: str, other: str) -> bool:
    """Whether a recognizer is likely to take one for the other."""
    return distance(one, other) <= CLOSE
