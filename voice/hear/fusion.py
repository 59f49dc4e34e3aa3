"""Puts the engines' scores together and decides: heard, unsure (confirm) or unclear (ask again).

Phrases of one meaning are added up before they are compared. Saying "fine" of something broken is the one mistake
that must not happen, so an OK (and what is as harmless-sounding: yes, done, not applicable) counts only when the
engines agree; a defect is believed more readily, since its follow-up question and read-back catch a mistake.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from voice.hear.moonshine import Judged
from voice.hear.port import Outcome, Scored
from voice.hear.thresholds import DEFAULT, Kind, Thresholds
from voice.understand.meaning import Meaning
from voice.understand.question import Phrase, Question


@dataclass(frozen=True, slots=True)
class Decision:
    """phrase: the best guess, None if unclear. confidence: posterior 0..1 of its meaning. agreed: all engines
    put this meaning first. open: a longer phrase of another meaning starts like this one ("twenty ...")."""

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
        case "ok" | "yes" | "done" | "not-applicable":
            return "ok"
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
    thresholds: Thresholds = DEFAULT,
    votes: Mapping[str, Sequence[Scored]] | None = None,
) -> Decision:
    """judged: the transformer's scores. second: pocketsphinx's. votes: more engines by name, each with a say in
    whether there is agreement."""
    first = grouped(question, judged.scores)
    other = grouped(question, {item.text: thresholds.sphinx_weight * item.score for item in second})
    floor = thresholds.sphinx_weight * thresholds.sphinx_floor
    total = {meaning: value + other.get(meaning, floor) for meaning, value in first.items()}
    ranked = sorted((m for m in total if m is not None), key=lambda meaning: -total[meaning])
    if not ranked or not any(letter.isalnum() for letter in judged.free):
        return Decision("unclear", None, 0.0, (), False, False, judged.free)
    values = np.array(list(total.values()))
    best = ranked[0]
    sure = float(1 / np.exp(values - total[best]).sum())
    tops = [max(other, key=lambda m: other[m], default=None), max(first, key=lambda m: first[m])]
    for scored in (votes or {}).values():
        heard = grouped(question, {item.text: item.score for item in scored})
        tops.append(max(heard, key=lambda m: heard[m], default=None))
    agreed = all(top == best for top in tops)
    phrases = [_spoken(question, meaning, judged, second) for meaning in ranked[:4]]
    bar = thresholds.bars[kind(best)]
    fit = np.logaddexp.reduce(
        [judged.raw[p.text] for p in question.phrases if p.meaning == best and p.text in judged.raw]
    )
    misfit = judged.free_score - fit
    outcome: Outcome = "unclear"
    if misfit <= bar.misfit:
        outcome = (
            "heard" if sure >= (bar.agree if agreed else bar.alone) else "unsure" if sure >= bar.unsure else "unclear"
        )
    return Decision(
        outcome, phrases[0], sure, tuple(phrases[1:]), agreed, _continues(question, phrases[0]), judged.free
    )


def grouped(question: Question, scores: Mapping[str, float]) -> dict[Meaning | None, float]:
    """Log-sum of the scores of all phrases that mean the same; None: of all that is no answer (decoys)."""
    groups: dict[Meaning | None, float] = {}
    for text, score in scores.items():
        meaning = question.meanings.get(text)
        groups[meaning] = float(np.logaddexp(groups.get(meaning, -np.inf), score))
    return groups


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
