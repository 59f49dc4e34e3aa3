"""What a guided reading changes, and what no reading can."""

from __future__ import annotations

import random

import pytest

from tests.hear.test_fusion import QUESTION, judged
from voice.hear.decoys import NEAR, WORDS
from voice.hear.fusion import Opinions, decide
from voice.hear.likeness import Likeness, Reading, counts, likeness, reading, standing_in
from voice.hear.thresholds import DEFAULT
from voice.hear.transformer import Judged, Spelled
from voice.understand.meaning import Defect, Ok, Yes
from voice.understand.question import Phrase, Question

PLAIN = Reading("okay", {"okay": -0.1, "okie": -8.0}, {"okay": -1.0, "okie": -20.0}, 0.0)
OKIE = Reading("okay", {"okay": -3.0, "okie": -0.5, "coke": -9.0}, {"okay": -9.0, "okie": -2.0}, 0.0)


def test_a_near_word_counts_if_half_of_the_readings_sound_like_it() -> None:
    assert likeness([PLAIN, PLAIN, PLAIN]) == {}
    assert likeness([OKIE, PLAIN, PLAIN]) == {}
    assert likeness([OKIE, OKIE, PLAIN]) == {"okay": ("okie",)}


def test_where_the_word_is_ahead_by_less_than_an_okay_must_be_the_near_one_counts() -> None:
    close = Reading(
        "okay", {"okay": -0.4, "okie": -0.4 - DEFAULT.ok_quiet.lead + 0.1}, {"okay": -1.0, "okie": -20.0}, 0.0
    )
    assert likeness([close]) == {"okay": ("okie",)}


def test_at_most_two_near_words_stand_for_one_those_that_fit_best() -> None:
    many = Reading("okay", {"okay": -9.0, "okie": -1.0, "coke": -2.0, "cake": -3.0, "case": -1.5}, {}, 0.0)
    assert likeness([many]) == {"okay": ("okie", "case")}


def test_what_was_not_the_word_teaches_nothing() -> None:
    """Noise, another language, a defect read in place of the word: something that is not near it fits far better."""
    heard = judged("cracked", cracked=-0.1, okie=-5.0, okay=-6.0)
    wrong = reading("okay", heard)
    assert not counts(wrong)
    assert likeness([wrong] * 3) == {}
    assert likeness([Reading("okay", {}, {}, 20.0)] * 3) == {}
    assert not counts(reading("okay", Judged({}, -1.0, "", -1.0)))


def test_of_confirmed_answers_two_must_agree() -> None:
    assert likeness([], [OKIE]) == {}
    assert likeness([], [OKIE, OKIE]) == {"okay": ("okie",)}
    assert likeness([PLAIN] * 3, [OKIE, OKIE]) == {"okay": ("okie",)}  # read clearly, but not said so on walks
    assert likeness([], [OKIE, OKIE, *[PLAIN] * 3]) == {}


def test_words_that_are_no_plain_okay_are_not_learnt() -> None:
    assert likeness([Reading("yes", {"yes": -5.0, "guess": -0.1}, {}, 0.0)] * 3) == {}


def test_a_reading_keeps_only_the_word_and_what_is_near_it() -> None:
    one = reading("okay", judged("okay", okay=-0.2, okie=-3.0, cracked=-9.0, up=-4.0))
    assert set(one.decoder) == set(one.speller) == {"okay", "okie"}
    assert one.ahead == 0.0


def test_the_near_word_then_counts_as_the_okay() -> None:
    heard = judged("okie", okie=-0.2, okay=-3.0, not_okay=-14.0)
    assert decide(QUESTION, Opinions(heard)).outcome != "heard"
    mine = decide(QUESTION, Opinions(standing_in(heard, QUESTION, {"okay": ("okie",)})))
    assert (mine.outcome, mine.phrase) == ("heard", Phrase("okay", Ok()))


@pytest.mark.parametrize(
    "question",
    [
        Question("yes-no", (Phrase("okay", Yes()), Phrase("cracked", Defect("cracked")))),
        Question("condition", (Phrase("okay", Ok()), Phrase("okie", Defect("cracked")))),
        Question("condition", (Phrase("fine", Ok()),)),
    ],
    ids=["okay means yes here", "the near word means something here", "no okay here"],
)
def test_elsewhere_nothing_changes(question: Question) -> None:
    heard = judged("okie", okie=-0.2, okay=-3.0)
    assert standing_in(heard, question, {"okay": ("okie",)}) == heard


WORST: Likeness = {word: tuple(NEAR.get(word, ())) for word in DEFAULT.okays}


def test_whatever_was_read_an_okay_is_never_taken_where_a_defect_is_ahead_or_near() -> None:
    """Ten thousand opinions drawn by lot, every near word standing in at once: more than any reading can do."""
    draw = random.Random(5)
    texts = [phrase.text for phrase in QUESTION.phrases] + [*NEAR["okay"], *NEAR["looks good"], *WORDS[:20]]
    taken = 0
    for _ in range(10_000):
        some = draw.sample(texts, 12)
        first, second = ({text: -draw.uniform(0, 13) for text in some} for _ in range(2))
        second = {text: 0.5 * first[text] + 2 * second[text] for text in some}
        heard = Judged(first, -18.0, "x", max(first.values()), Spelled(second, max(second.values()), -40.0))
        decision = decide(QUESTION, Opinions(standing_in(heard, QUESTION, WORST)))
        if decision.outcome == "heard" and decision.phrase is not None and decision.phrase.meaning == Ok():
            taken += 1
            own = [text for text in some if text not in WORDS and text not in ("not okay", "cracked", "help", "stop")]
            for scores, lead in ((first, DEFAULT.ok_quiet.lead), (second, DEFAULT.ok_quiet.lead_2)):
                rivals = [scores[text] for text in some if text in ("not okay", "cracked")]
                summed = max(scores[text] for text in own) + 4.0  # the most that adding up 40 of them can bring
                assert all(rival <= summed - lead for rival in rivals)
    assert taken > 100
