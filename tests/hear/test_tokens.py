from __future__ import annotations

import numpy as np
import pytest

from tests.hear.spoken import say, scene
from voice.hear.moonshine import Moonshine
from voice.hear.tokens import Tree, Vocabulary, moonshine_vocabulary
from voice.models.engines import model_folder


@pytest.fixture(scope="module")
def vocabulary() -> Vocabulary:
    return moonshine_vocabulary(model_folder("moonshine-tiny-en") / "tokenizer.bin")


@pytest.mark.parametrize("text", ["Okay", "4/32nds", "1.5 inches", "120 psi", "That's right", "65%", "Größe"])
def test_text_survives_there_and_back(vocabulary: Vocabulary, text: str) -> None:
    assert vocabulary.decode(vocabulary.encode(text)) == text


def test_single_letters_and_digits_are_pieces_not_raw_bytes(vocabulary: Vocabulary) -> None:
    assert all(number > 258 for number in vocabulary.encode("4/32 x ."))


@pytest.mark.parametrize("text", ["that's right", "ninety five percent", "half an inch", "minus ten degrees"])
def test_our_pieces_are_those_the_model_itself_writes(moonshine: Moonshine, text: str) -> None:
    # The model's own output is the reference: encoding its transcript must give the tokens it produced.
    audio = scene(0.3, say(text), 0.4)
    tokens = moonshine._search(moonshine._encode(audio), Tree(moonshine.vocabulary, ()), longest=40).free
    assert len(tokens) > 2
    assert moonshine.vocabulary.encode(moonshine.vocabulary.decode(tokens)) == tokens


def test_tree_shares_starts_and_knows_where_phrases_end(vocabulary: Vocabulary) -> None:
    tree = Tree(vocabulary, ["twenty", "twenty five"])
    node = tree.root
    for token in vocabulary.encode("twenty"):
        node = node.children[token]
    assert node.phrases == [0]
    assert node.children  # "twenty five" goes on from here
    digits = tree.root
    for token in vocabulary.encode("25"):
        digits = digits.children[token]
    assert digits.phrases == [1]


def test_broken_word_list_is_refused(tmp_path: object) -> None:
    from pathlib import Path

    from voice.errors import SetupError

    path = Path(str(tmp_path)) / "tokenizer.bin"
    path.write_bytes(bytes(np.arange(9, dtype=np.uint8)))
    with pytest.raises(SetupError, match="not as expected"):
        moonshine_vocabulary(path)
