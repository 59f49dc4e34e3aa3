"""Common short words that are no answer. They compete with the phrases, so that "up" is not heard as "help".

The words are everyday English. Words that only the benchmark's strange speech uses are left out on purpose.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

WORDS = (
    "a", "ah", "and", "are", "ask", "at", "away", "be", "but", "by", "call", "can", "car", "come", "cool", "day",
    "do", "down", "drive", "eat", "eight", "ever", "eye", "far", "fine", "first", "five", "for", "four", "from",
    "get", "give", "go", "good", "got", "great",
    "had", "hand", "have", "he", "hear", "hello", "her", "here",
    "hey", "hi",
    "him", "his", "how", "huh", "i", "if", "in", "into", "is", "it", "just", "keep", "key", "know", "last", "left",
    "let", "like", "line", "long", "look", "love", "made", "make", "man", "may", "maybe", "me", "men", "might",
    "more", "much", "my", "name", "near", "need", "new", "next", "nice", "night", "nine", "off", "oh", "old", "on",
    "one", "open", "or", "our", "out", "over", "own", "pay", "people", "place", "play", "please", "put", "red",
    "right", "road", "room", "run", "said", "same", "saw", "say", "see", "set", "seven", "she", "show", "side",
    "six", "so", "some", "soon", "sorry", "talk", "ten", "thank you", "that", "the", "them", "then", "there",
    "they", "thing", "think", "this", "three", "time", "to", "too", "truck", "try", "turn", "two", "uh",
    "um", "under", "up", "us", "use", "very", "wait", "want", "was", "water", "way", "we", "well", "were", "what",
    "when", "where", "who", "why", "will", "with", "word", "work", "year", "you", "your",
)  # fmt: skip


# Words a small change of sound away from a phrase that means "nothing wrong". Chosen by hand: words whose phones in
# pocketsphinx's dictionary are nearest to the phrase's, and what was taken for it when tried by
# `python -m tests.benchmarks.hearing.near`. Left out: what makes the phrase itself hard to hear ("oh kate", "looks
# goods").
NEAR: Mapping[str, tuple[str, ...]] = {
    "okay": (
        "again", "arcade", "broke a", "cake", "came", "case", "choke", "cocaine", "cocoa", "coke", "cookie", "croquet",
        "decay", "hockey", "oak hay", "oh day", "okie", "opaque",
    ),
    "all good": (
        "all could", "all food", "all gone", "all hood", "all wood", "ball wood", "call good", "fall good", "hall good",
        "oil good", "old hood", "old wood", "small good", "tall hood",
    ),
    "good": ("could", "god", "goodie", "goods", "gourd", "gut", "hood", "should", "stood", "wood"),
    "fine": ("dine", "fan", "find", "fines", "pine", "sign", "vine", "wine"),
    "check": ("chalk", "checks", "cheek", "chest", "chick", "chuck", "deck", "jack", "neck", "shack", "shock"),
    "clear": ("cheer", "claire", "clears", "clerk", "gear", "glare", "leer"),
    "all clear": ("all cleared", "all fear", "all gear", "all here", "all near", "oil clear"),
    "looks good": (
        "books good", "cooks food", "looks could", "looks goofy", "looks hood", "looks odd", "looks put", "looks wet",
        "looks wood", "lugs good",
    ),
    "yes": ("chess", "guess", "guest", "jazz", "less", "mess", "yell", "yet"),
    "clean": ("cleaner", "keen", "lean", "plain"),
}  # fmt: skip

SOUNDS_LIKE = {"know": "no", "to": "two", "too": "two", "for": "four"}  # a word that is the same to the ear


def decoys(phrases: Iterable[str]) -> tuple[str, ...]:
    """The words that are not answers themselves nor sound like one, always in the same order."""
    taken = set(phrases)
    tempting = (word for phrase, words in NEAR.items() if phrase in taken for word in words)
    return tuple(word for word in (*WORDS, *tempting) if word not in taken and SOUNDS_LIKE.get(word) not in taken)
