from __future__ import annotations

from voice.hear.decoys import NEAR, WORDS, decoys
from voice.understand.phrases import Phrasebook


def test_words_near_an_okay_compete_where_it_can_be_said_and_only_there() -> None:
    assert "cocaine" in decoys(["okay", "cracked"])
    assert "cocaine" not in decoys(["cracked"])


def test_no_near_word_is_an_answer_itself() -> None:
    said = {phrase.text for phrase in Phrasebook().condition()}
    near = {word for words in NEAR.values() for word in words}
    assert set(NEAR) <= said
    assert not near & (said | set(WORDS))
