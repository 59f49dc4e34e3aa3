"""The decision, from scores given by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from voice.hear.fusion import NOTHING, Decision, Opinions, decide, grouped, kind
from voice.hear.port import Scored
from voice.hear.thresholds import DEFAULT, Bar, Kind
from voice.hear.transformer import Judged
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


def judged(free: str, **raw: float) -> Judged:
    """Scores of phrases (spaces as underscores), the prior 12 nats below each."""
    plain = {text.replace("_", " "): value for text, value in raw.items()}
    prior = dict.fromkeys(plain, -16.0)
    scores = {text: value + 0.6 * 16 for text, value in plain.items()}
    return Judged(dict(sorted(scores.items(), key=lambda item: -item[1])), plain, prior, free, -0.5)


def decided(
    first: Judged, third: str | None, snr_db: float = 25.0, *, second: Judged | None = None, **votes: list[Scored]
) -> Decision:
    """The second transformer hears what the first hears unless told otherwise."""
    return decide(QUESTION, Opinions(first, second or first, third, snr_db, votes))


SURE_OK = judged("Okay.", okay=-0.5, not_okay=-14.0, cracked=-16.0)


def test_okay_counts_when_all_engines_hear_it_in_little_noise() -> None:
    decision = decided(SURE_OK, "okay")
    assert (decision.outcome, decision.agreed) == ("heard", True)
    assert decision.phrase == Phrase("okay", Ok())


@pytest.mark.parametrize("other", ["not okay", "cracked", "help"])
def test_okay_of_one_transformer_alone_is_asked_back(other: str) -> None:
    heard = judged(other, **{other.replace(" ", "_"): -0.5, "okay": -9.0})
    decision = decided(SURE_OK, "okay", second=heard)
    assert decision.outcome in ("unsure", "unclear")


def test_okay_hardly_ahead_of_a_word_that_sounds_like_it_is_asked_back_and_not_lost() -> None:
    for rival, outcome in ((-14.0, "heard"), (-2.0, "unsure"), (0.0, "unsure")):
        raw = {"okay": -0.5, "cocaine": rival, "not okay": -14.0}
        heard = judged("Okay.", **{text.replace(" ", "_"): value for text, value in raw.items()})
        decision = decided(heard, "okay")
        assert (decision.outcome, decision.phrase) == (outcome, Phrase("okay", Ok()))
        assert decision.confidence == decided(SURE_OK, "okay").confidence


def test_a_near_word_as_pocketsphinx_s_favorite_counts_as_its_phrase_but_takes_off_the_lead() -> None:
    raw = {"okay": -0.5, "cocaine": -3.0, "not okay": -14.0}
    heard = judged("Okay.", **{text.replace(" ", "_"): value for text, value in raw.items()})
    assert decided(heard, "okay").outcome == "heard"
    assert decided(heard, "cocaine").outcome == "unsure"
    assert decided(heard, "cocaine").confidence == decided(heard, "okay").confidence


def test_an_engine_that_is_left_out_agrees_with_nothing() -> None:
    assert decided(SURE_OK, "okay", second=NOTHING).outcome == "unsure"
    assert decided(SURE_OK, None).outcome == "unsure"
    bad = judged("Cracked.", cracked=-0.5, okay=-16.0)
    assert decided(bad, None, second=NOTHING).outcome == "heard"


def test_a_transcript_that_repeats_itself_is_as_like_as_said_once() -> None:
    over = judged("Okay. Okay. Okay. Ok", okay=-0.5, not_okay=-14.0, cracked=-16.0)
    assert decided(over, "okay").confidence == decided(SURE_OK, "okay").confidence


def test_okay_in_loud_noise_is_asked_back() -> None:
    assert decided(SURE_OK, "okay", 2.0).outcome == "unsure"


def test_a_vote_can_stop_an_okay_but_not_a_defect_that_is_sure() -> None:
    vosk = [Scored("not okay", 0.0)]
    assert decided(SURE_OK, "okay", vosk=vosk).outcome != "heard"
    bad = judged("Cracked.", cracked=-0.5, okay=-16.0)
    assert decided(bad, "cracked", vosk=vosk).outcome == "heard"


def test_a_vote_counts_for_numbers_too_which_pocketsphinx_is_not_asked_about() -> None:
    ninety, seventy = (Number(Measure(Fraction(psi), "psi")) for psi in (90, 70))
    question = Question("reading", (Phrase("ninety", ninety), Phrase("seventy", seventy)))
    bars: dict[Kind, Bar] = {"number": Bar(agree=0.2, backed=0.2, alone=1.1, unsure=0.1)}
    heard = judged("Ninety.", ninety=-0.5, seventy=-9.0)
    outcomes = [
        decide(question, Opinions(heard, heard, None, 25.0, votes), replace(DEFAULT, bars=bars)).outcome
        for votes in ({}, {"vosk": [Scored("ninety", 0.0)]}, {"vosk": [Scored("seventy", 0.0)]})
    ]
    assert outcomes == ["heard", "heard", "unsure"]


def test_a_defect_is_believed_where_an_okay_is_not() -> None:
    bad = judged("Cracked.", cracked=-0.5, okay=-14.0)
    assert decided(bad, "help").outcome == "heard"


def test_the_engines_may_outvote_the_first() -> None:
    heard = decided(judged("Okay.", okay=-3.0, cracked=-3.2), "cracked",
                    second=judged("", cracked=-0.5, okay=-9.0))  # fmt: skip
    assert heard.phrase == Phrase("cracked", Defect("cracked"))
    assert not heard.agreed


def test_phrases_of_one_meaning_are_added_up() -> None:
    both = grouped(QUESTION, {"okay": -1.0, "looks good": -1.0, "not okay": -0.5})
    assert both[Ok()] == pytest.approx(-1.0 + 0.6931, abs=1e-3)
    assert both[Ok()] > both[Defect()]


def test_words_that_are_no_answer_compete() -> None:
    alone = judged("Up.", help=-7.0)
    assert alone.scores["help"] > 2
    scores = alone.scores | {"up": alone.scores["help"] + 9}
    against = Judged(scores, alone.raw | {"up": -0.5}, alone.prior | {"up": -16.0}, "Up.", -0.4)
    assert decided(against, "help").outcome == "unclear"


def test_nothing_heard_is_unclear() -> None:
    assert decided(Judged({}, {}, {}, "", 0.0), None).outcome == "unclear"
    assert decided(judged("...", okay=-1.0), "okay").outcome == "unclear"


def test_runners_up_are_told_best_first() -> None:
    heard = judged("Okay.", okay=-0.5, not_okay=-3.0, cracked=-6.0)
    decision = decided(heard, "okay")
    assert [phrase.text for phrase in decision.alternatives] == ["not okay", "cracked"]


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
