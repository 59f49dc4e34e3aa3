"""What it takes for an answer to count as heard, on both sides of every bar.

Engine scores go in by hand (tests/hear/test_fusion.py). The figures of the bars are repeated here on purpose: they were
set on measured trials (tests/benchmarks/hearing/RESULTS.md), and to lower one is a decision about safety.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from typing import Literal

import numpy as np
import pytest

from voice.hear.fusion import Decision, Opinions, decide
from voice.hear.thresholds import DEFAULT
from voice.hear.transformer import Judged, Spelled
from voice.measure import Measure
from voice.understand.meaning import Command, Defect, DoneIt, Meaning, No, NotApplicable, Number, Ok, Stop, Yes
from voice.understand.question import Phrase, Question

NEVER = 1.1
Agreement = Literal["agree", "alone"]

# meaning: (agree, alone, unsure), as in the tables of the hearing benchmark.
BARS: dict[str, tuple[float, float, float]] = {
    "okay": (0.98, NEVER, 0.40),
    "not applicable": (0.98, NEVER, 0.40),
    "yes": (0.75, 0.97, 0.30),
    "done": (0.75, 0.97, 0.30),
    "no": (0.85, 0.97, 0.30),
    "cracked": (0.85, 0.97, 0.30),
    "ninety": (0.90, 0.97, 0.30),
    "help": (0.85, NEVER, 0.40),
    "stop": (0.50, 0.90, 0.30),
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
    """One answer as the model might score it: the phrase ahead of another by so much, in the decoder and twice that in
    the second head (behind it there, if it is alone); over nothing by so much; worse than anything else by so much, and
    in the second head by `misfit2`, if that is given."""

    text: str
    lead: float
    over_nothing: float
    snr_db: float
    agreement: Agreement
    misfit: float = 0.0
    misfit2: float | None = None

    def decision(self) -> Decision:
        scores = {self.text: -0.5, OTHER: -0.5 - self.lead}
        lead2 = 2 * self.lead if self.agreement == "agree" else -0.2
        misfit2 = 0.5 + min(2 * self.misfit, 20.0) if self.misfit2 is None else self.misfit2
        spelled = Spelled({self.text: -2.0, OTHER: -2.0 - lead2}, -2.0 + misfit2, -2.0 - 3 * self.over_nothing)
        heard = Judged(scores, -0.5 - self.over_nothing, self.text, -0.5 + self.misfit, spelled)
        return decide(QUESTION, Opinions(heard, self.snr_db))


def sweep(text: str, agreement: Agreement) -> Iterator[Decision]:
    """Answers from hardly heard to as clear as can be, in fine steps, in quiet; of an okay within its margins."""
    okay = isinstance(MEANINGS[text], Ok | NotApplicable)
    least = DEFAULT.ok_quiet.ahead if okay else 0.0
    misfits = (0.0, 1.0, 3.0, 4.0, 5.0, 6.0, 7.0, 9.0, 12.0)
    for lead, over, misfit in product(np.arange(0.02 + least, 14, 0.4), np.arange(1.1, 16.0, 1.5), misfits):
        misfit2 = min(0.5 + 2 * misfit, DEFAULT.ok_quiet.misfit_2) if okay else None
        decision = Scores(text, float(lead), float(over), 30.0, agreement, misfit, misfit2).decision()
        if decision.phrase is not None and decision.phrase.text == text:
            yield decision


@pytest.mark.parametrize("agreement", ["agree", "alone"])
@pytest.mark.parametrize("text", BARS)
def test_heard_begins_exactly_at_its_bar_and_asking_back_at_its_own(text: str, agreement: Agreement) -> None:
    agree, alone, unsure = BARS[text]
    bar = {"agree": agree, "alone": alone}[agreement]
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
        low = bar if text == "ninety" else unsure  # both opinions agree on no number below its lower
        assert min(confidences) < low, "the sweep must pass the bars to show anything"
        assert max(confidences) > bar


@pytest.mark.parametrize("text", ["okay", "not applicable"])
def test_an_okay_of_one_opinion_is_never_taken(text: str) -> None:
    assert all(decision.outcome != "heard" for decision in sweep(text, "alone"))


@pytest.mark.parametrize(
    ("text", "snr_db", "ahead"),
    [("okay", 20.0, 8.0), ("not applicable", 20.0, 8.0), ("okay", 19.9, 12.0), ("not applicable", 19.9, 14.0)],
)
def test_an_okay_not_far_ahead_of_a_defect_is_asked_back_however_sure(text: str, ahead: float, snr_db: float) -> None:
    decisions = [Scores(text, ahead + more, 15.0, snr_db, "agree").decision() for more in (-0.1, 0.1)]
    assert [decision.outcome for decision in decisions] == ["unsure", "heard"]
    assert min(decision.confidence for decision in decisions) > DEFAULT.bars["ok"].agree


@pytest.mark.parametrize(
    ("lead", "lead2", "outcome"), [(6.1, 8.0, "heard"), (5.9, 30.0, "unsure"), (9.0, 1.4, "unsure")]
)
def test_words_that_are_no_answer_may_be_nearer_to_an_okay_than_a_defect(
    lead: float, lead2: float, outcome: str
) -> None:
    scores = {"okay": -0.1, "okra": -0.1 - lead, OTHER: -20.0}
    spelled = Spelled({"okay": -2.0, "okra": -2.0 - lead2, OTHER: -60.0}, -2.0, -50.0)
    heard = Judged(scores, -20.0, "okay", -0.1, spelled)
    assert decide(QUESTION, Opinions(heard, 30.0)).outcome == outcome


@pytest.mark.parametrize(
    ("text", "snr_db", "most"),
    [("okay", 19.9, 6.0), ("not applicable", 19.9, 4.0), ("okay", 20.0, 6.0), ("not applicable", 20.0, 6.0)],
)
def test_an_okay_that_is_spelled_worse_than_something_else_is_asked_back(text: str, snr_db: float, most: float) -> None:
    """Something else is there: a defect in the same breath."""
    found = [Scores(text, 14.1, 15.0, snr_db, "agree", misfit2=most + more).decision() for more in (-0.1, 0.1)]
    assert [decision.outcome for decision in found] == ["heard", "unsure"]


@pytest.mark.parametrize("text", NOT_IN_NOISE)
def test_in_loud_noise_it_is_asked_back_from_five_decibels_on_not(text: str) -> None:
    outcomes = {snr: Scores(text, 14.0, 15.0, snr, "agree").decision().outcome for snr in (0.0, 4.9, 5.0, 30.0)}
    assert outcomes == {0.0: "unsure", 4.9: "unsure", 5.0: "heard", 30.0: "heard"}


@pytest.mark.parametrize("text", ["no", "cracked", "ninety", "help", "stop"])
def test_noise_alone_keeps_nothing_else_back(text: str) -> None:
    assert Scores(text, 14.0, 15.0, 0.0, "agree").decision().outcome == "heard"


def test_what_is_taken_as_okay_would_be_taken_as_a_defect_too_and_not_the_other_way() -> None:
    """The bar of an okay is higher, and its confidence lower for the same scores (the clue "okay")."""
    taken = {
        text: [
            Scores(text, float(lead), over, 12.0, "agree", misfit).decision().outcome == "heard"
            for lead, over, misfit in product(np.arange(0.02, 14, 0.4), (0.0, 5.0, 10.0, 15.0), (0.0, 1.0, 3.0))
        ]
        for text in ("okay", "cracked")
    }
    assert sum(taken["okay"]) < 0.95 * sum(taken["cracked"])
    assert not any(okay and not defect for okay, defect in zip(taken["okay"], taken["cracked"], strict=True))


@pytest.mark.parametrize(
    ("scores", "confidence"),
    [
        (Scores("okay", 3.0, 8.0, 20.0, "agree"), 0.94762),
        (Scores("okay", 0.5, 4.0, 45.0, "agree", 2.0), 0.71319),
        (Scores("okay", 30.0, 0.0, 45.0, "alone", 9.0, 18.5), 0.08172),
        (Scores("cracked", 2.0, 8.0, 10.0, "agree"), 0.93874),
        (Scores("ninety", 4.0, 10.0, 20.0, "agree"), 0.89725),
    ],
)
def test_clues_and_weights_are_those_that_were_fitted_together(scores: Scores, confidence: float) -> None:
    """To change a clue's range or a weight alone is to throw the fit away (tests/benchmarks/hearing/tune.py)."""
    assert scores.decision().confidence == pytest.approx(confidence, abs=1e-4)


def test_what_is_too_loud_and_what_was_fitted_is_as_it_was_measured() -> None:
    assert (DEFAULT.noisy_db, DEFAULT.noisy_snr_db, DEFAULT.still_db) == (-18.0, 5.0, -45.0)
    assert DEFAULT.number_weights == (0.183, 0.097, 0.0, 0.0, 0.053, 0.0, 0.03, 0.0, 0.0, 0.069)
    assert DEFAULT.word_weights == (0.115, 0.063, -0.161, -0.101, 0.164, 0.0, 0.0, -0.02, -0.075, 1.032)


def test_where_no_answer_is_heard_it_is_unclear() -> None:
    assert decide(QUESTION, Opinions(Judged({}, 0.0, "mmm", -1.0))).outcome == "unclear"
