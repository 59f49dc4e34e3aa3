"""Puts the engines' scores together and decides: heard, unsure (confirm) or unclear (ask again).

Phrases of one meaning are added up before they are compared. The clues to whether the best guess is right are
weighed by a logistic regression fitted to measured trials. Saying "fine" of something broken is the one mistake
that must not happen, so "okay" and "not applicable" count only when the engines agree, "yes" and "done" nearly so; a
defect is believed more readily, since its follow-up question and read-back catch a mistake.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from rapidfuzz import fuzz

from voice.hear.moonshine import Judged
from voice.hear.port import Outcome, Scored
from voice.hear.thresholds import DEFAULT, Kind, Thresholds
from voice.hear.written import written
from voice.understand.meaning import Meaning
from voice.understand.question import Phrase, Question

# margin: nats between the best meaning and the next thing, decoys included. misfit: how much better the free
# decoding is than the phrase. support: how much better the phrase fits than on noise alone. alike: likeness of the
# free transcript to the phrase's spelling. agreed: the second engine has the same favourite. lead: of the meaning
# over all others in the second engine, in tens of nats (negative: behind). snr: tens of dB.
CLUES = ("margin", "misfit", "support", "alike", "agreed", "lead", "snr")


@dataclass(frozen=True, slots=True)
class Clues:
    """The best guess, what is heard next best (best first), and the values of CLUES for the guess.

    spelled: the free transcript is the phrase, and the second engine's favourite is not just the next best guess
    ("sixty" against "sixteen").
    """

    meaning: Meaning
    phrase: Phrase
    others: tuple[Phrase, ...]
    agreed: bool
    spelled: bool
    values: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Decision:
    """phrase: the best guess, None if unclear. confidence: probability 0..1 that it is right. agreed: all engines
    put this meaning first. open: a longer phrase of another meaning starts like this one ("twenty ...").
    free: the unconstrained transcript."""

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
        case "ok" | "not-applicable":
            return "ok"
        case "yes" | "done":
            return "assent"
        case "defect" | "no":
            return "defect"
        case "number" | "either":
            return "number"
        case "command":
            return "command"
        case _:
            return "other"


def decide(
    question: Question,
    judged: Judged,
    second: Sequence[Scored],
    snr_db: float = 20.0,
    thresholds: Thresholds = DEFAULT,
    votes: Mapping[str, Sequence[Scored]] | None = None,
) -> Decision:
    """judged: the transformer's scores. second: pocketsphinx's. votes: more engines by name, each of which must
    agree, too, where agreement is asked for."""
    found = clues(question, judged, second, snr_db, thresholds)
    if found is None:
        return Decision("unclear", None, 0.0, (), False, False, judged.free)
    sort = kind(found.meaning)
    weights = thresholds.number_weights if sort == "number" else thresholds.word_weights
    score = sum(w * value for w, value in zip(weights, (*found.values, 1.0), strict=True))
    sure = 1 / (1 + math.exp(-score))
    agreed = found.agreed and all(
        max(heard, key=lambda m: heard[m], default=None) == found.meaning
        for heard in (
            grouped(question, {item.text: item.score for item in scored}) for scored in (votes or {}).values()
        )
    )
    bar = thresholds.bars[sort]
    outcome: Outcome = "unclear"
    plain = found.spelled and snr_db >= thresholds.spelled_snr_db
    if sure >= (bar.agree if agreed else bar.spelled if plain else bar.alone):
        outcome = "heard" if snr_db >= thresholds.least_snr_db.get(sort, -math.inf) else "unsure"
    elif sure >= bar.unsure:
        outcome = "unsure"
    return Decision(outcome, found.phrase, sure, found.others, agreed, _continues(question, found.phrase), judged.free)


def clues(
    question: Question, judged: Judged, second: Sequence[Scored], snr_db: float, thresholds: Thresholds
) -> Clues | None:
    """What speaks for and against the best guess; None if nothing of the question was heard at all."""
    if not any(letter.isalnum() for letter in judged.free):
        return None
    first = grouped(question, judged.scores)
    other = grouped(question, {item.text: item.score for item in second})
    weight, floor = thresholds.sphinx_weight, thresholds.sphinx_floor
    if None in first:
        first[None] -= thresholds.decoy_handicap
    total = {meaning: value + weight * other.get(meaning, floor) for meaning, value in first.items()}
    ranked = sorted((m for m in total if m is not None), key=lambda meaning: -total[meaning])
    if not ranked:
        return None
    best = ranked[0]
    rival = max((value for meaning, value in total.items() if meaning != best), default=-math.inf)
    texts = [p.text for p in question.phrases if p.meaning == best and p.text in judged.raw]
    fit = float(np.logaddexp.reduce([judged.raw[text] for text in texts]))
    on_noise = float(np.logaddexp.reduce([judged.prior[text] for text in texts]))
    best_other = max((value for meaning, value in other.items() if meaning != best), default=floor)
    lead = other.get(best, floor) - best_other
    values = (
        min(max(total[best] - rival, -6.0), 12.0),
        min(max(judged.free_score - fit, -3.0), 12.0),
        min(max(fit - on_noise, 0.0), 25.0) / 5,
        _alike(judged.free, texts),
        float(lead >= 0 and bool(other)),
        min(max(lead, -60.0), 60.0) / 10,
        min(max(snr_db, 0.0), 30.0) / 10,
    )
    phrases = [_spoken(question, meaning, judged, second) for meaning in ranked[:4]]
    favourite = max(other, key=lambda m: other[m], default=None)
    spelled = values[3] >= 0.99 and (len(ranked) < 2 or favourite != ranked[1])
    return Clues(best, phrases[0], tuple(phrases[1:]), values[4] > 0, spelled, values)


def grouped(question: Question, scores: Mapping[str, float]) -> dict[Meaning | None, float]:
    """Log-sum of the scores of all phrases that mean the same; None: of all that is no answer (decoys)."""
    groups: dict[Meaning | None, float] = {}
    for text, score in scores.items():
        meaning = question.meanings.get(text)
        groups[meaning] = float(np.logaddexp(groups.get(meaning, -np.inf), score))
    return groups


def _alike(free: str, texts: Sequence[str]) -> float:
    """0..1: likeness of the transcript to the nearest written form, letters and digits only."""
    heard = _plain(free)
    return max(fuzz.ratio(heard, _plain(form)) for text in texts for form in written(text)) / 100


def _plain(text: str) -> str:
    return "".join(letter for letter in text.lower() if letter.isalnum())


def _spoken(question: Question, meaning: Meaning, judged: Judged, second: Sequence[Scored]) -> Phrase:
    """The phrase of this meaning that fits best."""
    extra = {item.text: item.score for item in second}
    return max(
        (phrase for phrase in question.phrases if phrase.meaning == meaning),
        key=lambda phrase: (judged.scores.get(phrase.text, -1e9), extra.get(phrase.text, -1e9)),
    )


def _continues(question: Question, heard: Phrase) -> bool:
    start = heard.text + " "
    return any(p.text.startswith(start) and p.meaning != heard.meaning for p in question.phrases)
