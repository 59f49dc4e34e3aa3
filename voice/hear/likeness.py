"""How one driver's okay sounds: words near an okay that his own is heard as, learnt from a guided reading.

Words near an okay compete with it (decoys.NEAR). Of some drivers one of them fits better than the okay that was said.
What his reading shows to be so counts, in his walks, as that okay. Nothing else changes: no bar is lower, and an okay
must still be ahead of every defect and all other words in both opinions. So the worst that any reading can do, another
person's or noise, is to let `like_most` near words stand for each okay; the safety run was made with the worst choice.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from voice.hear.decoys import NEAR
from voice.hear.thresholds import DEFAULT, Thresholds
from voice.hear.transformer import Judged
from voice.understand.question import Question

Likeness = Mapping[str, tuple[str, ...]]  # word of an okay -> near words that stand for it, most alike first


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


def likeness(readings: Iterable[Reading], thresholds: Thresholds = DEFAULT) -> Likeness:
    """Near words that are, in at least half of a word's readings, not so far behind it that an okay counts."""
    said: Counter[str] = Counter()
    found: dict[str, Counter[str]] = defaultdict(Counter)
    fit: dict[tuple[str, str], float] = defaultdict(float)
    for one in readings:
        if one.word not in thresholds.okays or not counts(one, thresholds):
            continue
        said[one.word] += 1
        for near in NEAR[one.word]:
            first = _score(one.decoder, near, thresholds.reach)
            second = _score(one.speller, near, thresholds.reach_2)
            alike = (
                first > _score(one.decoder, one.word, thresholds.reach) - thresholds.ok_lead
                or second > _score(one.speller, one.word, thresholds.reach_2) - thresholds.ok_lead_2
            )
            if alike:
                found[one.word][near] += 1
            fit[one.word, near] += first + thresholds.second_weight * second
    return {
        word: tuple(
            sorted(
                (near for near, times in nears.items() if times >= thresholds.like_share * said[word]),
                key=lambda near: -fit[word, near],
            )[: thresholds.like_most]
        )
        for word, nears in found.items()
    }


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
