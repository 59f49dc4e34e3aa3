"""How alike two phrases sound, by their phones. For the check of wording only; recognition has its own measures."""

from __future__ import annotations

from functools import cache

from rapidfuzz.distance import Levenshtein

from voice.errors import SetupError
from voice.hear.pronounce import Dictionary, pronunciations
from voice.models.engines import model_folder

# Share of phones that differ, at most this for phrases that are too close. Chosen by trying the shipped lists, no
# source: "a dent" and "bent" (2 of 5) are too close, "leaking" and "loose" are not.
CLOSE = 0.4


@cache
def _dictionary() -> Dictionary | None:
    """Of US English; None if it is not installed."""
    try:
        return Dictionary(model_folder("pronunciations") / "cmudict-en-us.dict")
    except SetupError:
        return None


@cache
def phones(phrase: str) -> tuple[str, ...]:
    """The phones of a phrase, ARPABET."""
    known = _dictionary()
    say = known.phones if known else lambda word: tuple(pronunciations(word)[0].split())
    return tuple(phone for word in phrase.lower().split() for phone in say(word))


@cache
def distance(one: str, other: str) -> float:
    """0 for phrases that sound the same, 1 for such that have nothing in common."""
    return Levenshtein.normalized_distance(phones(one), phones(other))


def confusable(one: str, other: str) -> bool:
    """Whether a recognizer is likely to take one for the other."""
    return distance(one, other) <= CLOSE
