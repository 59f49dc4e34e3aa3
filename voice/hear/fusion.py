"""Puts the engines' scores together and decides: heard, unsure (confirm) or unclear (ask again).

Two transformers score every phrase, pocketsphinx is a third opinion of quite another kind. Phrases of one meaning are
added up before they are compared. The clues to whether the best guess is right are weighed by a logistic regression
fitted to measured trials. Saying "fine" of something broken is the one mistake that must not happen, so "okay" and
"not applicable" count only when the engines agree, "yes" and "done" nearly so; a defect is believed more readily,
since its follow-up question and read-back catch a mistake.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from rapidfuzz import fuzz

from voice.hear.decoys import near
from voice.hear.port import Outcome, Scored
from voice.hear.thresholds import DEFAULT, Kind, Thresholds
from voice.hear.transformer import Judged
from voice.hear.written import written
from voice.understand.meaning import Meaning
from voice.understand.question import Phrase, Question

# Of the best guess. margin: nats between it and the next thing, decoys included, all engines together.
# misfit: how much better the first engine's free decoding is than the phrase. support, of both transformers: how much
# better the phrase fits than on noise alone. alike: likeness of the free transcript to the phrase's spelling.
# lead 2: over everything else in the second engine (negative: behind). agreed: it is the favorite of the second and of
# the third engine, too. snr: tens of dB.
CLUES = ("margin", "misfit", "alike", "support", "support 2", "lead 2", "agreed 2", "agreed 3", "snr")


NOTHING = Judged({}, {}, {}, "", 0.0)


@dataclass(frozen=True, slots=True)
class Opinions:
    """What the engines make of one answer. An engine that is left out hears nothing, and so agrees with nothing.

    first: the transformer that transcribes.
    second: the other transformer; NOTHING if it is left out.
    third: pocketsphinx's favorite; None if it has none, was not asked or is left out.
    snr_db: speech over noise.
    votes: more engines by name, each of which must agree, too, where agreement is asked for (of a number, that is both
        transformers).
    """

    first: Judged
    second: Judged
    third: str | None
    snr_db: float = 20.0
    votes: Mapping[str, Sequence[Scored]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Clues:
    """The best guess, what is heard next best (best first), and the values of CLUES for the guess.

    agreed: it is the favorite of all three engines. backed: of both transformers. ahead: nats, all engines together,
    over the words that sound nearly like it; endless if there are none.
    """

    meaning: Meaning
    phrase: Phrase
    others: tuple[Phrase, ...]
    agreed: bool
    backed: bool
    ahead: float
    values: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Decision:
    """phrase: the best guess, None if unclear.
    confidence: probability 0..1 that it is right.
    agreed: all engines put this meaning first.
    open: a longer phrase of another meaning starts like this one ("twenty ...").
    free: the unconstrained transcript.
    """

    outcome: Outcome
    phrase: Phrase | None
    confidence: float
    alternatives: tuple[Phrase, ...]
    agreed: bool
    open: bool
    free: str


def kind(meaning: Meaning) -> Kind:
    """Which bar an answer has to pass."""
    match meaning.kind:
        case "ok" | "clear" | "not-applicable":
            return "ok"
        case "yes" | "correct" | "done":
            return "assent"
        case "defect" | "part" | "no":
            return "defect"
        case "number" | "either":
            return "number"
        case "command":
            return "command"
        case _:
            return "other"


def decide(question: Question, evidence: Opinions, thresholds: Thresholds = DEFAULT) -> Decision:
    found = clues(question, evidence, thresholds)
    if found is None:
        return Decision("unclear", None, 0.0, (), False, False, evidence.first.free)
    sort = kind(found.meaning)
    weights = thresholds.number_weights if sort == "number" else thresholds.word_weights
    score = sum(w * value for w, value in zip(weights, (*found.values, 1.0), strict=True))
    sure = 1 / (1 + math.exp(-score))
    voted = all(
        max(heard, key=lambda m: heard[m], default=None) == found.meaning
        for heard in (
            grouped(question, {item.text: item.score for item in scored}) for scored in evidence.votes.values()
        )
    )
    agreed, backed = found.agreed and voted, found.backed and voted
    bar = thresholds.bars[sort]
    outcome: Outcome = "unclear"
    if sure >= (bar.agree if agreed else bar.backed if backed else bar.alone):
        clear = evidence.snr_db >= thresholds.least_snr_db.get(sort, -math.inf)
        outcome = "heard" if clear and found.ahead >= thresholds.near_margin else "unsure"
    elif sure >= bar.unsure:
        outcome = "unsure"
    going_on = _continues(question, found.phrase)
    return Decision(outcome, found.phrase, sure, found.others, agreed, going_on, evidence.first.free)


def clues(question: Question, evidence: Opinions, thresholds: Thresholds) -> Clues | None:
    """What speaks for and against the best guess; None if nothing of the question was heard at all."""
    if not any(letter.isalnum() for letter in evidence.first.free):
        return None
    first, second = (_ranking(question, judged, thresholds) for judged in (evidence.first, evidence.second))
    third = near(question.meanings).get(evidence.third or "", evidence.third)
    favorite = question.meanings.get(third or "")
    total = {
        meaning: first.of(meaning)
        + thresholds.second_weight * second.of(meaning)
        + (thresholds.third_bonus if meaning is not None and meaning == favorite else 0.0)
        for meaning in [*first.scores, *second.scores]
    }
    ranked = sorted((m for m in total if m is not None), key=lambda meaning: (-total[meaning], repr(meaning)))
    if not ranked:
        return None
    best = ranked[0]
    margin = total[best] - max((value for meaning, value in total.items() if meaning != best), default=-math.inf)
    lead2 = second.lead(best)
    texts = [phrase.text for phrase in question.phrases if phrase.meaning == best]
    values = (
        _between(margin, -6.0, 12.0),
        _between(evidence.first.free_score - _sum(evidence.first.raw, texts), -3.0, 12.0),
        _alike(evidence.first.free, texts),
        _support(evidence.first, texts),
        _support(evidence.second, texts),
        _between(lead2, -8.0, 12.0),
        float(lead2 > 0),
        float(best == favorite),
        _between(evidence.snr_db, 0.0, 30.0) / 10,
    )
    backed = lead2 > 0 and first.lead(best) > 0
    phrases = [_spoken(question, meaning, evidence) for meaning in ranked[:4]]
    ahead = _ahead(evidence, texts, near(texts), thresholds)
    return Clues(best, phrases[0], tuple(phrases[1:]), backed and best == favorite, backed, ahead, values)


@dataclass(frozen=True, slots=True)
class Ranking:
    """One engine's scores of meanings; what its search dropped has the floor."""

    scores: Mapping[Meaning | None, float]
    floor: float

    def of(self, meaning: Meaning | None) -> float:
        return max(self.scores.get(meaning, self.floor), self.floor)

    def lead(self, meaning: Meaning) -> float:
        """Over the best of all others; negative: behind it."""
        return self.of(meaning) - max((self.of(m) for m in self.scores if m != meaning), default=self.floor)


def _ranking(question: Question, judged: Judged, thresholds: Thresholds) -> Ranking:
    scores = grouped(question, judged.scores)
    if None in scores:
        scores[None] -= thresholds.decoy_handicap
    return Ranking(scores, max(scores.values(), default=0.0) - thresholds.reach)


def _ahead(evidence: Opinions, texts: Sequence[str], tempting: Iterable[str], thresholds: Thresholds) -> float:
    """Nats by which these texts of one meaning are ahead of the words that only sound like them."""
    if not (words := [word for word in tempting if word not in texts]):
        return math.inf

    def lead(judged: Judged) -> float:
        floor = max(judged.scores.values(), default=0.0) - thresholds.reach
        best, rival = (max(floor, *(judged.scores.get(text, floor) for text in some)) for some in (texts, words))
        return best - rival

    first, second = lead(evidence.first), lead(evidence.second)
    return first + thresholds.second_weight * second - thresholds.third_bonus * (evidence.third in words)


def _support(judged: Judged, texts: Sequence[str]) -> float:
    """0..5, in fives of nats; nothing for a meaning that the search dropped."""
    known = [text for text in texts if text in judged.raw]
    return _between(_sum(judged.raw, known) - _sum(judged.prior, known), 0.0, 25.0) / 5 if known else 0.0


def _sum(scores: Mapping[str, float], texts: Iterable[str]) -> float:
    """Log of the sum of the likelihoods of these phrases; those the search dropped count for nothing."""
    return float(np.logaddexp.reduce([scores[text] for text in texts if text in scores] or [-np.inf]))


def _between(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def grouped(question: Question, scores: Mapping[str, float]) -> dict[Meaning | None, float]:
    """Log-sum of the scores of all phrases that mean the same; None: of all that is no answer (decoys).

    Words that sound nearly like a phrase are left out: they do not compete (see decoys.NEAR).
    """
    groups: dict[Meaning | None, float] = {}
    apart = near(question.meanings)
    for text, score in scores.items():
        if text in apart:
            continue
        meaning = question.meanings.get(text)
        groups[meaning] = float(np.logaddexp(groups.get(meaning, -np.inf), score))
    return groups


def _alike(free: str, texts: Sequence[str]) -> float:
    """0..1: likeness of the transcript to the nearest written form, letters and digits only."""
    heard = _once(_plain(free))
    return max(fuzz.ratio(heard, _plain(form)) for text in texts for form in written(text)) / 100


def _once(text: str) -> str:
    """What a text says over and over, the last time maybe cut short, said once: whisper repeats short answers."""
    lengths = range(1, len(text) // 2 + 1)
    return next((text[:n] for n in lengths if (text[:n] * (len(text) // n + 1)).startswith(text)), text)


def _plain(text: str) -> str:
    return "".join(letter for letter in text.lower() if letter.isalnum())


def _spoken(question: Question, meaning: Meaning, evidence: Opinions) -> Phrase:
    """The phrase of this meaning that fits best."""
    return max(
        (phrase for phrase in question.phrases if phrase.meaning == meaning),
        key=lambda phrase: sum(judged.scores.get(phrase.text, -1e3) for judged in (evidence.first, evidence.second)),
    )


def _continues(question: Question, heard: Phrase) -> bool:
    start = heard.text + " "
    return any(p.text.startswith(start) and p.meaning != heard.meaning for p in question.phrases)
