from __future__ import annotations

import numpy as np
import pytest

from tests.hear.spoken import CONDITION, READING, hiss, say, scene
from voice.hear.pronounce import pronunciations
from voice.hear.sphinx import Sphinx

PHRASES = list(CONDITION.meanings)


@pytest.mark.parametrize("voice", ["slt", "rms"])
@pytest.mark.parametrize("text", ["okay", "not okay", "cracked", "leaking", "repeat", "where am i"])
def test_a_phrase_is_heard_among_the_others(sphinx: Sphinx, text: str, voice: str) -> None:
    scored = sphinx.score(scene(0.3, say(text, "flite", voice), 0.4), PHRASES)
    assert [item.text for item in scored] == [text]


def test_a_number_is_heard_among_hundreds(sphinx: Sphinx) -> None:
    scored = sphinx.score(scene(0.3, say("ninety seven psi"), 0.4), list(READING.meanings))
    assert [item.text for item in scored] == ["ninety seven psi"]


def test_a_word_in_no_dictionary_is_heard_by_its_spelling(sphinx: Sphinx) -> None:
    assert sphinx.score(scene(0.3, say("flimbo"), 0.4), ["okay", "flimbo", "skip"])[0].text == "flimbo"


@pytest.mark.parametrize("word", ["psi", "gladhand", "zxq", "e", "delaminated", "quzzle"])
def test_every_word_has_a_pronunciation_in_the_dictionary_phones(word: str) -> None:
    # The 39 phones of the CMU pronouncing dictionary, without stress marks.
    listed = "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH"
    phones = set(listed.split())
    for way in pronunciations(word):
        assert way
        assert set(way.split()) <= phones


@pytest.mark.parametrize("audio", [np.zeros(16000, np.float32), np.zeros(0, np.float32), hiss(1, -30)])
def test_silence_and_noise_are_no_error(sphinx: Sphinx, audio: np.ndarray) -> None:
    assert isinstance(sphinx.score(audio, PHRASES), list)


def test_the_same_question_again_gives_the_same_scores(sphinx: Sphinx) -> None:
    audio = scene(0.3, say("skip"), 0.4)
    first = sphinx.score(audio, PHRASES)
    for number in range(60):  # more grammars than are kept
        sphinx.score(hiss(0.2), ["okay", f"skip {'it ' * (number % 5 + 1)}now {'please ' * (number // 5)}".strip()])
    assert sphinx.score(audio, PHRASES) == first
