""" "Change left steer tread": which item is meant, from a free transcript.

Naming every item in every question's phrases would make each answer harder to hear; so the name is found afterwards,
by rapidfuzz, and always confirmed ("did you say ...") before anything happens.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rapidfuzz import fuzz, process, utils

CLOSE = 80.0  # rapidfuzz's ratio, 0..100: a name heard with a word or two wrong still counts
APART = 5.0  # the best must be this much better than the second


def closest_name(transcript: str, prefixes: Sequence[str], names: Mapping[str, str]) -> str | None:
    """The id of the item asked for, or None if it was no such request, or not clear which.

    names: id -> spoken name.
    prefixes: words that begin the request ("change").
    """
    words = utils.default_process(transcript).split()
    for prefix in prefixes:
        lead = prefix.split()
        if words[: len(lead)] == lead and len(words) > len(lead):
            return _closest(" ".join(words[len(lead) :]), names)
    return None


def _closest(text: str, names: Mapping[str, str]) -> str | None:
    found = process.extract(text, names, scorer=fuzz.token_sort_ratio, score_cutoff=CLOSE, limit=2)
    if not found or (len(found) > 1 and found[0][1] - found[1][1] < APART):
        return None
    return str(found[0][2])
