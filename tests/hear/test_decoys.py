from __future__ import annotations

import pytest

from tests.hear.spoken import CONDITION, say, scene
from voice.hear.decoys import NEAR, WORDS, decoys
from voice.hear.ear import VoiceEar
from voice.sound.recording import ArrayMicrophone
from voice.understand.meaning import Ok
from voice.understand.phrases import Phrasebook


def test_words_near_an_okay_compete_where_it_can_be_said_and_only_there() -> None:
    assert "cocaine" in decoys(["okay", "cracked"])
    assert "cocaine" not in decoys(["cracked", "leaking"])


def test_no_near_word_is_an_answer_itself() -> None:
    book = Phrasebook()
    said = {phrase.text for phrase in book.condition()} | set(book.lexicon.good_words)
    words = {word for near_words in NEAR.values() for word in near_words}
    assert set(NEAR) <= said
    assert not words & (said | set(WORDS))
    assert "looks wood" not in decoys(["looks good", "looks wood"])


@pytest.mark.parametrize(("program", "voice"), [("flite", "rms"), ("espeak-ng", "en-us")])
@pytest.mark.parametrize("text", ["cocaine", "looks wood", "call good", "oh hey", "okra"])
def test_a_near_word_is_never_taken_as_okay_at_once(ear: VoiceEar, text: str, program: str, voice: str) -> None:
    microphone = ArrayMicrophone(scene(0.5, say(text, program, voice), 1.5))
    ear.use(microphone, microphone)
    heard = ear.listen(CONDITION)
    assert (heard.outcome, heard.meaning) != ("heard", Ok())


@pytest.mark.parametrize("text", ["okay", "looks good"])
def test_what_it_is_near_to_is_still_heard(ear: VoiceEar, text: str) -> None:
    microphone = ArrayMicrophone(scene(0.5, say(text, "flite", "rms"), 1.5))
    ear.use(microphone, microphone)
    heard = ear.listen(CONDITION)
    assert (heard.outcome, heard.meaning) == ("heard", Ok())
