"""The decision, from scores given by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from voice.hear.fusion import Decision, Opinions, decide, grouped, kind
from voice.hear.port import Scored
from voice.hear.thresholds import DEFAULT, Bar, Kind
from voice.hear.transformer import Judged, Spelled
from voice.measure import Measure
from voice.understand.meaning import Command, Defect, DoneIt, Either, No, NotApplicable, Number, Ok, Stop, Yes
from voice.understand.question import Phrase, Question

QUESTION = Question(
    "condition",
    (
        Phrase("okay", Ok()),
        Phrase("looks good", Ok()),
        Phrase("not okay", Defect()),
        Phrase("cracked", Defect("cracked")),
        Phrase("help", Command("help")),
        Phrase("stop", Stop()),
    ),
)


def judged(free: str, spelled: dict[str, float] | None = None, **scores: float) -> Judged:
    """Scores of phrases (spaces as underscores); the second head likes the same twice as much, unless it is told."""
    plain = {text.replace("_", " "): value for text, value in scores.items()}
    ordered = dict(sorted(plain.items(), key=lambda item: -item[1]))
    heard = {text: 2 * value - 1 for text, value in ordered.items()} if spelled is None else spelled
    return Judged(ordered, -14.0, free, -0.1, Spelled(heard, -1.0, -40.0))


def decided(heard: Judged, snr_db: float = 25.0, **votes: list[Scored]) -> Decision:
    return decide(QUESTION, Opinions(heard, snr_db, votes))


SURE_OK = judged("okay", okay=-0.1, not_okay=-14.0, cracked=-16.0)


def test_okay_counts_when_both_opinions_hear_it_in_little_noise() -> None:
    decision = decided(SURE_OK)
    assert (decision.outcome, decision.agreed, decision.open) == ("heard", True, False)
    assert decision.phrase == Phrase("okay", Ok())


@pytest.mark.parametrize("other", ["not okay", "cracked", "help"])
def test_okay_of_one_opinion_alone_is_not_taken(other: str) -> None:
    spelled = judged("okay", {other: -2.0, "okay": -9.0}, okay=-0.1, not_okay=-14.0, cracked=-16.0)
    written = judged(other, {"okay": -1.0, other: -20.0}, **{other.replace(" ", "_"): -0.5, "okay": -2.0})
    for heard in (spelled, written):
        assert decided(heard).outcome in ("unsure", "unclear")


def test_a_word_that_sounds_like_okay_competes_with_it() -> None:
    outcomes = [
        decided(judged("okay", okay=-0.1, cocaine=rival, not_okay=-14.0)).outcome for rival in (-14.0, -0.6, -0.05)
    ]
    assert outcomes[0] == "heard"
    assert "heard" not in outcomes[1:]


def test_what_would_fit_much_better_than_any_phrase_is_not_taken() -> None:
    assert decided(judged("ochre", okay=-9.0, not_okay=-16.0)).outcome != "heard"


def test_without_a_second_opinion_no_okay_is_taken() -> None:
    alone = judged("okay", {}, okay=-0.1, not_okay=-14.0)
    assert (decided(alone).outcome, decided(alone).phrase) == ("unsure", Phrase("okay", Ok()))
    assert decided(judged("cracked", {}, cracked=-0.1, okay=-16.0)).outcome == "heard"
    assert decided(judged("cracked", {}, cracked=-0.5, okay=-1.5)).outcome == "unsure"
    assert decided(judged("mm", {}, cracked=-15.0, okay=-15.5)).outcome == "unclear"


def test_okay_in_loud_noise_is_asked_back() -> None:
    assert decided(SURE_OK, 2.0).outcome == "unsure"


def test_a_vote_can_stop_an_okay_but_not_a_defect_that_is_sure() -> None:
    vosk = [Scored("not okay", 0.0)]
    assert decided(SURE_OK, vosk=vosk).outcome != "heard"
    bad = judged("cracked", cracked=-0.1, okay=-16.0)
    assert decided(bad, vosk=vosk).outcome == "heard"


def test_a_vote_counts_for_numbers_too() -> None:
    ninety, seventy = (Number(Measure(Fraction(psi), "psi")) for psi in (90, 70))
    question = Question("reading", (Phrase("ninety", ninety), Phrase("seventy", seventy)))
    bars: dict[Kind, Bar] = {"number": Bar(agree=0.2, alone=1.1, unsure=0.1)}
    heard = judged("ninety", ninety=-0.5, seventy=-9.0)
    outcomes = [
        decide(question, Opinions(heard, 25.0, votes), replace(DEFAULT, bars=bars)).outcome
        for votes in ({}, {"vosk": [Scored("ninety", 0.0)]}, {"vosk": [Scored("seventy", 0.0)]})
    ]
    assert outcomes == ["heard", "heard", "unsure"]


def test_both_opinions_together_choose_the_guess() -> None:
    heard = decided(judged("okay", {"cracked": -2.0, "okay": -12.0}, okay=-0.8, cracked=-1.2))
    assert heard.phrase == Phrase("cracked", Defect("cracked"))
    assert not heard.agreed


def test_phrases_of_one_meaning_are_added_up() -> None:
    both = grouped(QUESTION, {"okay": -1.0, "looks good": -1.0, "not okay": -0.5})
    assert both[Ok()] == pytest.approx(-1.0 + 0.6931, abs=1e-3)
    assert both[Ok()] > both[Defect()]


def test_words_that_are_no_answer_compete() -> None:
    assert decided(judged("help", help=-0.1)).outcome == "heard"
    assert decided(judged("up", help=-7.0, up=-0.1)).outcome == "unclear"


def test_nothing_heard_is_unclear() -> None:
    assert decided(Judged({}, -0.1, "", -0.1)).outcome == "unclear"
    assert decided(judged("", okay=-1.0)).outcome == "unclear"


def test_runners_up_are_told_best_first() -> None:
    heard = judged("okay", okay=-0.1, not_okay=-3.0, cracked=-6.0)
    assert [phrase.text for phrase in decided(heard).alternatives] == ["not okay", "cracked"]


@pytest.mark.parametrize(
    ("meaning", "expected"),
    [
        (Ok(), "ok"),
        (NotApplicable(), "ok"),
        (Yes(), "assent"),
        (DoneIt(), "assent"),
        (No(), "defect"),
        (Defect("x"), "defect"),
        (Either(()), "number"),
        (Command("skip"), "command"),
        (Stop(), "other"),
    ],
)
def test_kinds(meaning: object, expected: str) -> None:
    assert kind(meaning) == expected  # type: ignore[arg-type]
