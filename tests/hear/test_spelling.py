"""Phonemes over frames: against every way of spreading them, tried one by one."""

from __future__ import annotations

from itertools import groupby, product
from pathlib import Path

import numpy as np
import pytest

from voice.errors import SetupError
from voice.hear.pronounce import Dictionary
from voice.hear.spelling import BLANK, NUMBER, SOUNDS, likelihoods
from voice.models.engines import whole_folder

FOLDER = Path(__file__).resolve().parents[2] / "models" / "catalogue.yaml"


def by_hand(logp: np.ndarray, text: list[int]) -> float:
    """All labels of all frames whose runs, without blanks, are the text."""
    total = -np.inf
    for labels in product(range(logp.shape[1]), repeat=len(logp)):
        if [label for label, _ in groupby(labels) if label != BLANK] == text:
            total = np.logaddexp(total, sum(logp[frame, label] for frame, label in enumerate(labels)))
    return float(total)


@pytest.mark.parametrize("seed", range(3))
def test_it_is_the_sum_over_all_ways(seed: int) -> None:
    logits = np.random.default_rng(seed).standard_normal((6, 4)).astype(np.float32)
    logp = logits - np.logaddexp.reduce(logits, axis=1, keepdims=True)
    texts = [[1], [1, 2], [1, 1], [3, 2, 3], [2, 2, 2], [1, 2, 3, 1]]
    assert likelihoods(logp, texts) == pytest.approx([by_hand(logp, text) for text in texts], abs=1e-4)


def test_a_text_too_long_for_the_frames_is_as_good_as_impossible() -> None:
    logp = np.full((2, 3), np.log(1 / 3), np.float32)
    assert likelihoods(logp, [[1, 2, 1]])[0] < -1e8


@pytest.fixture(scope="module")
def dictionary(tmp_path_factory: pytest.TempPathFactory) -> Dictionary:
    folder = whole_folder("pronunciations", tmp_path_factory.mktemp("cache"), FOLDER)
    return Dictionary(folder / "model" / "en-us" / "cmudict-en-us.dict")


@pytest.mark.parametrize(
    ("word", "phones"),
    [("cracked", "K R AE K T"), ("okay", "OW K EY"), ("p", "P IY"), ("gladhand", "G L AE D HH AE N D"),
     ("zzyx", "Z IY K S")],
)  # fmt: skip
def test_words_are_said_as_the_dictionary_says_or_by_us_or_by_rules(
    dictionary: Dictionary, word: str, phones: str
) -> None:
    assert dictionary.phones(word) == tuple(phones.split())
    assert set(phones.split()) <= NUMBER.keys()
    assert len(SOUNDS) == 39


def test_a_dictionary_that_is_not_there_is_one_clear_error(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="cannot be read"):
        Dictionary(tmp_path / "none.dict")
