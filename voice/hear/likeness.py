"""How one driver's okay sounds: words near an okay that theirs is heard as.

Learnt from a guided reading, and from answers of earlier walks that were asked back and confirmed.

Words near an okay compete with it (decoys.NEAR). With some drivers one of them fits better than the okay that was said.
What is shown to be so counts, in this driver's walks and in quiet, as that okay. Nothing else changes: no bar is lower,
and an okay must still be ahead of every defect and all other words in both opinions. So the worst that any reading can
do, another person's or noise, is to let `like_most` near words stand for each okay; with the worst choice for each none
of 235,000 defects said in noise was taken as OK (two, had they stood for it in noise, too).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from voice.hear.decoys import NEAR
from voice.hear.thresholds import DEFAULT, Thresholds
from voice.hear.transformer import Judged
from voice.understand.question import Question

Likeness = Mapping[str, tuple[str, ...]]  # word of an okay -> the near words that stand for it, most alike first


@dataclass(frozen=True, slots=True)
class Reading:
    """What the model made of one word read aloud; scores are nats.

    word: what was to be read.
    decoder, speller: of the word and of those near it, in each opinion; what is missing was far behind.
    ahead: by how much anything else fits the decoder better than the best of them; 0 if nothing does.
    """

    word: str
    decoder: Mapping[str, float]
    speller: Mapping[str, float]
    ahead: float


def reading(word: str, judged: Judged) -> Reading:
    """Of what was judged among the phrases of a condition and all decoys."""
    kept = (word, *NEAR[word])
    first = {text: judged.scores[text] for text in kept if text in judged.scores}
    second = {text: judged.spelled.scores[text] for text in kept if text in judged.spelled.scores}
    best = max(judged.scores.values(), default=0.0)
    return Reading(word, first, second, best - max(first.values(), default=best - 2 * DEFAULT.reach))


def counts(one: Reading, thresholds: Thresholds = DEFAULT) -> bool:
    """Whether it can have been the word at all: not so if something that is not even near fits much better."""
    return one.ahead <= thresholds.like_ahead


def likeness(read: Iterable[Reading], confirmed: Iterable[Reading] = (), thresholds: Thresholds = DEFAULT) -> Likeness:
    """Near words that are, in at least half of a word's readings, not so far behind it that an okay counts.

    read: of the guided reading.
    confirmed: answers of walks that were asked back and confirmed; two at least must agree on a near word.
    """
    alike: dict[str, set[str]] = defaultdict(set)
    fit: dict[tuple[str, str], float] = defaultdict(float)
    for source, least in ((read, 1), (confirmed, thresholds.like_confirmed)):
        by_word: dict[str, list[Reading]] = defaultdict(list)
        for one in source:
            if one.word in thresholds.okays and counts(one, thresholds):
                by_word[one.word].append(one)
        for word, ones in by_word.items():
            for near in NEAR[word]:
                times = sum(_alike(one, near, thresholds) for one in ones)
                if times >= max(least, thresholds.like_share * len(ones)):
                    alike[word].add(near)
                fit[word, near] += sum(_fit(one, near, thresholds) for one in ones)
    return {
        word: tuple(sorted(sorted(nears), key=lambda near: -fit[word, near])[: thresholds.like_most])
        for word, nears in alike.items()
    }


def _alike(one: Reading, near: str, thresholds: Thresholds) -> bool:
    """Whether the word is not so far ahead of the near one, in either opinion, as an okay must be."""
    (first, second), (word, word_2) = (_both(one, text, thresholds) for text in (near, one.word))
    return first > word - thresholds.ok_quiet.lead or second > word_2 - thresholds.ok_quiet.lead_2


def _fit(one: Reading, near: str, thresholds: Thresholds) -> float:
    first, second = _both(one, near, thresholds)
    return first + thresholds.second_weight * second


def _both(one: Reading, text: str, thresholds: Thresholds) -> tuple[float, float]:
    return _score(one.decoder, text, thresholds.reach), _score(one.speller, text, thresholds.reach_2)


def _score(scores: Mapping[str, float], text: str, reach: float) -> float:
    return scores.get(text, max(scores.values(), default=0.0) - reach)


def standing_in(judged: Judged, question: Question, like: Likeness) -> Judged:
    """The opinions with each near word that stands for an okay of this question counted as that okay."""
    meanings = question.meanings
    stands = {
        near: word
        for word, nears in like.items()
        if word in meanings and meanings[word].kind == "ok"
        for near in nears
        if near not in meanings
    }
    if not stands:
        return judged
    spelled = replace(judged.spelled, scores=_together(judged.spelled.scores, stands))
    return replace(judged, scores=_together(judged.scores, stands), spelled=spelled)


def _together(scores: Mapping[str, float], stands: Mapping[str, str]) -> dict[str, float]:
    out: dict[str, float] = {}
    for text, score in scores.items():
        word = stands.get(text, text)
        out[word] = float(np.logaddexp(out[word], score)) if word in out else score
    return out
