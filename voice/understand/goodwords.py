"""The words of a prompt that say it is good: what may be answered with them, and what "not" before them says."""

from __future__ import annotations

import re

from voice.route.model import Item
from voice.understand.lexicon import Lexicon
from voice.understand.meaning import Defect
from voice.understand.question import Phrase

_WORD = re.compile(r"[a-z']+(?:-[a-z]+)*")


def good_words(lexicon: Lexicon, item: Item) -> list[str]:
    """The good words that stand in the item's prompt."""
    prompt = f" {' '.join(_WORD.findall(f'{item.say.terse} {item.say.normal}'.lower()))} "
    return [word for word in lexicon.good_words if f" {word} " in prompt]


def opposites(lexicon: Lexicon, item: Item) -> list[Phrase]:
    """ "Not dry": the item's defect that is the opposite of its good word; if several are, it is asked which."""
    phrases: list[Phrase] = []
    for word in good_words(lexicon, item):
        found = [id_ for id_ in lexicon.good_words[word] if id_ in item.defects]
        if lexicon.good_words[word]:
            phrases.append(Phrase(f"not {word}", Defect(found[0] if len(found) == 1 else None)))
    return phrases
