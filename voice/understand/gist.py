"""What a free transcript is about, where it is no answer word for word: "it's leaking", "a bolt is loose", "no five".

Whatever is found is asked back ("did you say ..."), so that the phrases that are listened for stay few. In this order:
an answer in other words or with words around it; "no leaks" for nothing wrong; an answer among other words, what is
wrong before what is good. What is good among other words is asked back as "nothing wrong".
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations

from voice.understand.interpret import interpret, plain
from voice.understand.lexicon import Lexicon
from voice.understand.meaning import Chosen, Command, Defect, DoneIt, Meaning, No, Number, Ok, Part, Yes
from voice.understand.question import Question

_NO = re.compile(r"\s*no\s*[,;.!:]", re.IGNORECASE)  # "no, leaking" is no denial of a leak
MOST_WORDS = 9  # longer speech is no answer

# What is looked for among other words, in this order: a defect is never passed over for anything better. No numbers:
# "an inch" is not what "an inch and a half" says.
_SPOTTED: tuple[type, ...] = (Defect, Part, Command, Chosen, No, Yes, Ok, DoneIt)


def gist(text: str, question: Question, lexicon: Lexicon) -> tuple[Meaning, str] | None:
    """What the text probably means as an answer, and the words to ask it back with; None if that is not clear."""
    answered = _NO.match(text)
    words = plain(text[answered.end() :] if answered else text, lexicon)
    if not 0 < len(words.split()) <= MOST_WORDS:
        return None
    for core in _cores(words, lexicon):
        if (found := _known(core, question, lexicon)) is not None:
            return found
    for denial in lexicon.denials:
        if words.startswith(f"{denial} ") and (found := _denied(words.removeprefix(f"{denial} "), question, lexicon)):
            return found
    return _spotted(words.split(), question, lexicon)


def asked_back(text: str, question: Question, lexicon: Lexicon) -> tuple[Meaning, str] | None:
    """The gist that a walk asks back: of several goods in a breath none, but a defect is never passed over."""
    meant = gist(text, question, lexicon)
    if meant is None or (several(text, question, lexicon) and not isinstance(meant[0], Defect | Part)):
        return None
    return meant


def several(text: str, question: Question, lexicon: Lexicon) -> bool:
    """Whether it was said more than once in a breath that it is good ("okay, okay"): of what, nobody can tell."""
    words = plain(text, lexicon).split()
    good = (phrase.text for phrase in question.phrases if isinstance(phrase.meaning, Ok | DoneIt | Yes))
    return any(words.count(each) > 1 for each in good)


def _cores(words: str, lexicon: Lexicon) -> Iterator[str]:
    """The words as they are, then without what stands around them, the least taken away first."""
    pending, seen = [words], {words}
    while pending:
        core = pending.pop(0)
        yield core
        shorter = [core.removeprefix(f"{each} ") for each in lexicon.around.before if core.startswith(f"{each} ")]
        shorter += [core.removesuffix(f" {each}") for each in lexicon.around.after if core.endswith(f" {each}")]
        pending += [each for each in shorter if each not in seen]
        seen.update(shorter)


def _known(words: str, question: Question, lexicon: Lexicon) -> tuple[Meaning, str] | None:
    if (meaning := interpret(words, question, lexicon)) is not None:
        return meaning, words
    for phrase, rare in lexicon.meant.items():
        if words in rare and (meaning := question.meanings.get(phrase)) is not None:
            return meaning, phrase
    offered = set(question.meanings.values())
    if words in lexicon.good_words and Ok() in offered:
        return Ok(), lexicon.answers.ok[0]
    opposite = lexicon.good_words.get(words.removeprefix("not ")) if words.startswith("not ") else None
    if opposite and Defect() in offered:
        named = [Defect(each) for each in opposite if Defect(each) in offered]
        return (named[0] if len(named) == 1 else Defect()), words
    return None


def _denied(words: str, question: Question, lexicon: Lexicon) -> tuple[Meaning, str] | None:
    """ "No leaks" and "no, leaking" are the same to the ear: where it can be said that nothing is wrong, that is asked,
    in other words than were heard. Before a number it is only an answer to what was said before."""
    for core in _cores(words, lexicon):
        match _known(core, question, lexicon):
            case (Defect(), _):
                return (Ok(), lexicon.answers.clear[0]) if Ok() in question.meanings.values() else None
            case (Number(), _) as found:
                return found
    return None


def _spotted(words: list[str], question: Question, lexicon: Lexicon) -> tuple[Meaning, str] | None:
    """The longest answer that stands among the words. Where anything is denied or excepted ("everything except the
    wipers"), a part that is named is looked for, and good is not."""
    spans = sorted(combinations(range(len(words) + 1), 2), key=lambda span: span[0] - span[1])
    texts = [" ".join(words[start:end]) for start, end in spans]
    known = [(found, text) for text in texts if (found := _known(text, question, lexicon))]
    # Rare words for anything but a defect ("full", "more", "sure") are too easily part of something else.
    known = [(f, text) for f, text in known if isinstance(f[0], Defect) or f[1] == text or text in lexicon.good_words]
    known.sort(key=lambda each: each[0][0] == Defect())  # a defect that is named counts before one that is not
    turned = any(word in lexicon.turning or word.endswith("n't") for word in words)
    for kind in _SPOTTED:
        if turned and kind in (Ok, DoneIt, Yes):
            break
        if kind is Part and not turned:  # "the horn is okay" is no fault of the horn
            continue
        if found := next((each for each, _ in known if isinstance(each[0], kind)), None):
            # The words around it may tell what is wrong ("yes, it leaks"): asked back so that yes denies it.
            return (Ok(), lexicon.answers.clear[0]) if kind is Ok else found
    return None
