"""Puts the opinions together and decides: heard, unsure (confirm) or unclear (ask again).

Our model gives two opinions from one look at the sound: its decoder writes, its second head spells. Phrases of one
meaning are added up before they are compared. The clues to whether the best guess is right are weighed by a logistic
regression fitted to measured trials. Saying "fine" of something broken is the one mistake that must not happen, so
"okay" and "not applicable" count only when both agree and are nearly certain; a defect is believed more readily, since
its follow-up question and read-back catch a mistake.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from voice.hear.port import Outcome, Scored
from voice.hear.thresholds import DEFAULT, Kind, Thresholds
from voice.hear.transformer import Judged
from voice.understand.meaning import Meaning
from voice.understand.question import Phrase, Question

# Of the best guess. lead, lead 2: nats over everything else, words that are no answer included, in the decoder and in
# the second head. misfit, misfit 2: how much better something else would fit, whatever it is. there, there 2: how much
# better it fits than no words at all. snr: tens of dB. choice: log of the number of meanings. okay: it means that
# nothing is wrong; more that is no answer sounds like it.
CLUES = ("lead", "lead 2", "misfit", "misfit 2", "there", "there 2", "snr", "choice", "okay")


@dataclass(frozen=True, slots=True)
class Opinions:
    """What the engines make of one answer.

    ear: our model's.
    snr_db: speech over noise.
    votes: more engines by name, each of which must agree, too, where agreement is asked for.
    """

    ear: Judged
    snr_db: float = 20.0
    votes: Mapping[str, Sequence[Scored]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Clues:
    """The best guess, what is heard next best (best first), and the values of CLUES for the guess.

    agreed: it is the favorite of both decoder and second head.
    ahead: nats over the best answer that is no okay, in the decoder and in the second head.
    """

    meaning: Meaning
    phrase: Phrase
    others: tuple[Phrase, ...]
    agreed: bool
    values: tuple[float, ...]
    ahead: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Decision:
    """phrase: the best guess, None if unclear.
    confidence: probability 0..1 that it is right.
    agreed: both opinions, and every vote, put this meaning first.
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
        case "number" | "either" | "pair":
            return "number"
        case "command" | "same":  # it names no number that would be recognized when it is read back
            return "command"
        case _:
            return "other"


def decide(question: Question, evidence: Opinions, thresholds: Thresholds = DEFAULT) -> Decision:
    if (named := _named(question, evidence.ear, thresholds)) is not None:
        return named
    found = clues(question, evidence, thresholds)
    if found is None:
        return Decision("unclear", None, 0.0, (), False, False, evidence.ear.free)
    if not evidence.ear.spelled.scores:
        return _alone(question, found, evidence.ear, thresholds)
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
    agreed = found.agreed and voted
    bar = thresholds.bars[sort]
    outcome: Outcome = "unclear"
    if sure >= (bar.agree if agreed else bar.alone):
        clear = evidence.snr_db >= thresholds.least_snr_db.get(sort, -math.inf)
        ahead = sort != "ok" or _ahead(found, evidence.snr_db, thresholds)
        outcome = "heard" if clear and ahead else "unsure"
    elif sure >= bar.unsure:
        outcome = "unsure"
    going_on = _continues(question, found.phrase)
    return Decision(outcome, found.phrase, sure, found.others, agreed, going_on, evidence.ear.free)


def _ahead(found: Clues, snr_db: float, thresholds: Thresholds) -> bool:
    """Whether an okay is so far ahead of all else, of every other answer most of all, that no defect was misheard."""
    need = thresholds.ok_apart if found.phrase.text in thresholds.apart else thresholds.ok_noise
    if snr_db >= thresholds.quiet_db:
        need = thresholds.ok_quiet
    lead, lead_2, _, misfit_2, *_ = found.values
    if lead < need.lead or lead_2 < need.lead_2 or misfit_2 > need.misfit_2:
        return False
    return found.ahead[0] >= need.ahead and found.ahead[1] >= need.ahead_2


def _named(question: Question, ear: Judged, thresholds: Thresholds) -> Decision | None:
    """A driver's name, if it is spelled clearly: no decoder was taught it, so the second head alone is asked."""
    spelled = grouped(question, ear.spelled.scores)
    best = max(spelled, key=lambda meaning: spelled[meaning], default=None)
    if best is None or best.kind != "signed":
        return None
    lead = spelled[best] - max((score for meaning, score in spelled.items() if meaning != best), default=-math.inf)
    if lead < thresholds.name_lead or ear.spelled.best - spelled[best] > thresholds.name_misfit:
        return None
    phrase = next(phrase for phrase in question.phrases if phrase.meaning == best)
    return Decision("heard", phrase, 0.9, (), True, False, ear.free)


def _alone(question: Question, found: Clues, ear: Judged, thresholds: Thresholds) -> Decision:
    """Of a single opinion, which the weights were not fitted to: taken if it is well ahead, but never as an okay."""
    lead = found.values[0]
    taken = lead >= thresholds.alone_lead and kind(found.meaning) != "ok"
    outcome: Outcome = "heard" if taken else "unsure" if lead > 0 else "unclear"
    sure = {"heard": 0.8, "unsure": 0.5}.get(outcome, 0.0)
    return Decision(outcome, found.phrase, sure, found.others, False, _continues(question, found.phrase), ear.free)


def clues(question: Question, evidence: Opinions, thresholds: Thresholds) -> Clues | None:
    """What speaks for and against the best guess; None if nothing of the question was heard at all."""
    ear = evidence.ear
    if not ear.free.strip():
        return None
    first = Ranking.of(question, ear.scores, ear.nothing, thresholds.reach)
    second = Ranking.of(question, ear.spelled.scores, ear.spelled.nothing, thresholds.reach_2)
    total = {m: first[m] + thresholds.second_weight * second[m] for m in first.scores if m is not None}
    ranked = sorted(total, key=lambda meaning: (-total[meaning], repr(meaning)))
    if not ranked:
        return None
    best = ranked[0]
    lead, lead2 = first.lead(best), second.lead(best)
    values = (
        _between(lead, -8.0, 14.0),
        _between(lead2, -15.0, 30.0),
        _between(ear.free_score - first[best], -1.0, 12.0),
        _between(ear.spelled.best - second[best], 0.0, 24.0),
        _between(first[best] - ear.nothing, -5.0, 15.0),
        _between(second[best] - ear.spelled.nothing, -10.0, 60.0) / 10,
        _between(evidence.snr_db, 0.0, 30.0) / 10,
        # Pairs of readings are twice as long as anything else: they compete with each other only.
        math.log(len({m for m in question.meanings.values() if (m.kind == "pair") is (best.kind == "pair")})),
        float(kind(best) == "ok"),
    )
    phrases = [_spoken(question, meaning, ear) for meaning in ranked[:4]]
    ahead = (first.ahead(best), second.ahead(best))
    return Clues(best, phrases[0], tuple(phrases[1:]), lead > 0 and lead2 > 0, values, ahead)


@dataclass(frozen=True, slots=True)
class Ranking:
    """One opinion's scores of meanings (None: of what is no answer); what its search dropped has the floor."""

    scores: Mapping[Meaning | None, float]
    floor: float

    @classmethod
    def of(cls, question: Question, scores: Mapping[str, float], nothing: float, reach: float) -> Ranking:
        found = grouped(question, scores)
        found[None] = float(np.logaddexp(found.get(None, -np.inf), nothing))
        return cls(found, max(found.values()) - reach)

    def __getitem__(self, meaning: Meaning | None) -> float:
        return max(self.scores.get(meaning, self.floor), self.floor)

    def lead(self, meaning: Meaning) -> float:
        """Over the best of all others; negative: behind it."""
        return self[meaning] - max((self[m] for m in self.scores if m != meaning), default=self.floor)

    def ahead(self, meaning: Meaning) -> float:
        """Over the best answer that is no okay, words that are no answer left out."""
        others = (m for m in self.scores if m is not None and kind(m) != "ok")
        return self[meaning] - max((self[m] for m in others), default=self.floor)


def _between(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def grouped(question: Question, scores: Mapping[str, float]) -> dict[Meaning | None, float]:
    """Log-sum of the scores of all phrases that mean the same; None: of all that is no answer (decoys)."""
    groups: dict[Meaning | None, float] = {}
    for text, score in scores.items():
        meaning = question.meanings.get(text)
        groups[meaning] = float(np.logaddexp(groups.get(meaning, -np.inf), score))
    return groups


def _spoken(question: Question, meaning: Meaning, ear: Judged) -> Phrase:
    """The phrase of this meaning that fits best."""
    return max(
        (phrase for phrase in question.phrases if phrase.meaning == meaning),
        key=lambda phrase: ear.scores.get(phrase.text, -math.inf),
    )


def _continues(question: Question, heard: Phrase) -> bool:
    start = heard.text + " "
    return any(p.text.startswith(start) and p.meaning != heard.meaning for p in question.phrases)
