"""What it takes for an answer to count as heard, on both sides of every bar.

Engine scores go in by hand (tests/hear/test_fusion.py). The figures of the bars are repeated here on purpose: they were
set on measured trials (tests/benchmarks/hearing/RESULTS.md), and to lower one is a decision about safety.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product
from typing import Literal

import numpy as np
import pytest

from voice.hear.fusion import Decision, Opinions, decide
from voice.hear.thresholds import DEFAULT
from voice.hear.transformer import Judged
from voice.measure import Measure
from voice.understand.meaning import Command, Defect, DoneIt, Meaning, No, NotApplicable, Number, Ok, Stop, Yes
from voice.understand.question import Phrase, Question

NEVER = 1.1
Agreement = Literal["agree", "backed", "alone"]

# meaning: (agree, backed, alone, unsure), as in the tables of the hearing benchmark.
BARS: dict[str, tuple[float, float, float, float]] = {
    "okay": (0.90, NEVER, NEVER, 0.70),
    "not applicable": (0.90, NEVER, NEVER, 0.70),
    "yes": (0.75, 0.80, 0.88, 0.45),
    "done": (0.75, 0.80, 0.88, 0.45),
    "no": (0.85, 0.87, 0.90, 0.40),
    "cracked": (0.85, 0.87, 0.90, 0.40),
    "ninety": (0.80, 0.80, 0.97, 0.45),
    "help": (0.85, 0.95, NEVER, 0.55),
    "stop": (0.60, 0.60, 0.60, 0.30),
}
MEANINGS: dict[str, Meaning] = {
    "okay": Ok(), "not applicable": NotApplicable(), "yes": Yes(), "done": DoneIt(), "no": No(),
    "cracked": Defect("cracked"), "ninety": Number(Measure(Fraction(90), "psi")), "help": Command("help"),
    "stop": Stop(),
}  # fmt: skip
NOT_IN_NOISE = ("okay", "not applicable", "yes", "done")
OTHER = "loose"
QUESTION = Question(
    "condition", (*(Phrase(text, meaning) for text, meaning in MEANINGS.items()), Phrase(OTHER, Defect("loose")))
)


@dataclass(frozen=True, slots=True)
class Scores:
    """One answer as the engines might score it: the phrase ahead of another by so much, over noise by so much.

    third: pocketsphinx's favorite, where it is not the phrase. free: the transcript, where it is not the phrase.
    """

    text: str
    lead: float
    over_noise: float
    snr_db: float
    agreement: Agreement
    third: str | None = None
    free: str = ""

    def decision(self) -> Decision:
        first = self._judged(self.lead)
        second = self._judged(self.lead if self.agreement != "alone" else -0.5)
        third = self.text if self.agreement == "agree" else self.third
        return decide(QUESTION, Opinions(first, second, third, self.snr_db))

    def _judged(self, lead: float) -> Judged:
        raw = {self.text: -1.0, OTHER: -1.0 - lead}
        prior = {text: score - self.over_noise for text, score in raw.items()}
        return Judged(raw, raw, prior, self.free or self.text, -1.0)


def sweep(text: str, agreement: Agreement, third: str | None = None) -> Iterator[Decision]:
    """Answers from hardly heard to as clear as can be, in fine steps, spoken well over the noise."""
    snr_db = 5.0 if text in NOT_IN_NOISE else 0.0
    leads, over = np.arange(0.02, 10, 0.8), np.arange(0.0, 26.0, 2.5)
    for lead, over_noise, free in product(leads, over, (text, "mmm")):
        decision = Scores(text, float(lead), float(over_noise), snr_db, agreement, third, free).decision()
        if decision.phrase is not None and decision.phrase.text == text:
            yield decision


@pytest.mark.parametrize("agreement", ["agree", "backed", "alone"])
@pytest.mark.parametrize("text", BARS)
def test_heard_begins_exactly_at_its_bar_and_asking_back_at_its_own(text: str, agreement: Agreement) -> None:
    agree, backed, alone, unsure = BARS[text]
    bar = {"agree": agree, "backed": backed, "alone": alone}[agreement]
    found = list(sweep(text, agreement))
    for decision in found:
        wanted = "heard" if decision.confidence >= bar else "unsure" if decision.confidence >= unsure else "unclear"
        assert decision.outcome == wanted, decision
        assert decision.agreed is (agreement == "agree")
    confidences = [decision.confidence for decision in found]
    for edge in (bar, unsure):
        if min(confidences) < edge < max(confidences):
            assert min(c for c in confidences if c >= edge) < edge + 0.1
            assert max(c for c in confidences if c < edge) > edge - 0.1
    if agreement == "agree":
        low = min(confidences) < (
            bar if text == "ninety" else unsure
        )  # three engines agree on no number below its lower
        assert low, "the sweep must pass the bars to show anything"
        assert max(confidences) > bar


@pytest.mark.parametrize("text", ["okay", "not applicable"])
@pytest.mark.parametrize("third", [None, "cracked", "yes", OTHER])
def test_pocketsphinx_can_stop_an_okay_however_sure_both_others_are(text: str, third: str | None) -> None:
    clearest = Scores(text, 10.0, 25.0, 30.0, "backed", third).decision()
    assert clearest.confidence > 0.95
    assert clearest.outcome == "unsure"
    assert all(decision.outcome != "heard" for decision in sweep(text, "backed", third))


def test_the_second_transformer_can_stop_an_okay_too() -> None:
    for lead in np.arange(0.5, 10, 0.5):
        first = {"okay": -1.0, OTHER: -1.0 - float(lead)}
        second = {"okay": -1.0, OTHER: -1.0}
        one, other = (Judged(raw, raw, dict.fromkeys(raw, -26.0), "okay", -1.0) for raw in (first, second))
        evidence = Opinions(one, other, "okay", 30.0)
        assert decide(QUESTION, evidence).outcome != "heard"


@pytest.mark.parametrize("text", NOT_IN_NOISE)
def test_in_loud_noise_it_is_asked_back_from_five_decibels_on_not(text: str) -> None:
    outcomes = {snr: Scores(text, 10.0, 25.0, snr, "agree").decision().outcome for snr in (0.0, 4.9, 5.0, 30.0)}
    assert outcomes == {0.0: "unsure", 4.9: "unsure", 5.0: "heard", 30.0: "heard"}


@pytest.mark.parametrize("text", ["no", "cracked", "ninety", "help", "stop"])
def test_noise_alone_keeps_nothing_else_back(text: str) -> None:
    assert Scores(text, 10.0, 25.0, 0.0, "agree").decision().outcome == "heard"


def test_a_defect_needs_less_than_an_okay_whoever_agrees() -> None:
    for column in range(3):
        assert BARS["cracked"][column] < BARS["okay"][column]


# --- clues -------------------------------------------------------------------------------------------------------


def two(first: str, second: str, third: str) -> Decision:
    """The transformers hear both alike; pocketsphinx's favorite is the third."""
    raw = {first: -1.0, second: -1.0}
    judged = Judged(raw, raw, dict.fromkeys(raw, -20.0), first, -1.0)
    return decide(QUESTION, Opinions(judged, judged, third, 30.0))


@pytest.mark.parametrize(("first", "second"), [("cracked", "okay"), ("okay", "cracked"), ("help", "yes")])
def test_where_the_others_cannot_tell_pocketsphinx_decides(first: str, second: str) -> None:
    heard = two(first, second, second)
    assert heard.phrase is not None
    assert heard.phrase.text == second


def test_words_that_are_no_answer_count_a_little_less_than_answers() -> None:
    without, with_ = (
        decide(QUESTION, Opinions(judged, judged, "okay", 30.0), replace(DEFAULT, decoy_handicap=handicap)).confidence
        for judged in [Judged({"okay": -1.0, "up": -2.0}, {"okay": -1.0}, {"okay": -9.0}, "okay", -1.0)]
        for handicap in (0.0, 3.0)
    )
    assert without < with_


def test_case_and_punctuation_of_the_transcript_do_not_matter() -> None:
    sure = {
        free: Scores("not applicable", 1.0, 10.0, 20.0, "agree", free=free).decision().confidence
        for free in ("not applicable", "Not applicable.", "NOT-APPLICABLE!")
    }
    assert len(set(sure.values())) == 1


@pytest.mark.parametrize(
    ("scores", "confidence"),
    [
        (Scores("okay", 3.0, 12.0, 20.0, "agree"), 0.99407),
        (Scores("okay", 0.5, 4.0, 45.0, "agree", free="mmm"), 0.32911),
        (Scores("okay", 30.0, 0.0, 45.0, "alone", free="mmm"), 0.24472),
        (Scores("cracked", 2.0, 8.0, 10.0, "backed"), 0.88591),
        (Scores("ninety", 4.0, 10.0, 20.0, "backed"), 0.98474),
    ],
)
def test_clues_and_weights_are_those_that_were_fitted_together(scores: Scores, confidence: float) -> None:
    """To change a clue's range or a weight alone is to throw the fit away (tests/benchmarks/hearing/tune.py)."""
    assert scores.decision().confidence == pytest.approx(confidence, abs=1e-4)


def test_what_is_too_loud_and_what_was_fitted_is_as_it_was_measured() -> None:
    assert (DEFAULT.noisy_db, DEFAULT.noisy_snr_db, DEFAULT.still_db) == (-18.0, 5.0, -45.0)
    assert DEFAULT.number_weights == (0.506, -0.001, 0.556, 0.287, -0.256, 0.11, 0.105, 0.0, 0.355, -0.742)
    assert DEFAULT.word_weights == (0.32, 0.016, 0.966, 1.833, 0.288, -0.004, 0.417, 0.865, -0.285, -3.394)


def test_where_no_engine_hears_any_answer_it_is_unclear() -> None:
    nothing = Judged({}, {}, {}, "mmm", -1.0)
    assert decide(QUESTION, Opinions(nothing, nothing, None, 20.0)).outcome == "unclear"
