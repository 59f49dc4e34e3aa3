"""The recipe of the acoustic model (models/training) learns from nobody and nothing that the benchmark holds out."""

from __future__ import annotations

import sys
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "models" / "training"))

import checkpoint
import fetch_neural
import speak
import split
import tables
import texts

from tests.benchmarks.hearing.noises import NOISES
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.trials import STRANGE, half
from tests.benchmarks.hearing.voices import SPEAKERS
from voice.hear.tokens import Vocabulary
from voice.hear.whisper import Whisper

PEOPLE = [f"gsc:{number:08x}" for number in range(400)]


def said() -> set[str]:
    return {text for found in texts.groups().values() for text in found}


def test_nobody_held_out_is_learnt_from() -> None:
    assert not [name for name in PEOPLE if split.learnt(name) and half(name) == "held"]


def test_some_of_the_tuning_side_only_measure() -> None:
    tuning = [name for name in PEOPLE if half(name) == "tune"]
    assert 0.6 < sum(map(split.learnt, tuning)) / len(tuning) < 0.9


def test_no_voice_of_the_benchmark_is_learnt_from_but_those_named() -> None:
    ours = {accent + variant for accent, variant in product(speak.ACCENTS, speak.VARIANTS)} | set(speak.FLITE)
    theirs = {one.name for one in SPEAKERS if one.option in ours and one.program in ("espeak-ng", "flite")}
    assert theirs <= set(split.MADE_LEARNT)
    assert not [one.name for one in SPEAKERS if one.group == "held" and one.name in split.MADE_LEARNT]


def test_no_noise_held_out_is_learnt_in() -> None:
    held = {noise.source for noise in NOISES if noise.group == "held"}
    assert not held & {*speak.RECORDED, *speak.BACKGROUND}


def answers() -> set[str]:
    return {phrase.text for question in shipped().values() for phrase in question.phrases}


def test_strange_speech_of_the_benchmark_is_never_said() -> None:
    assert not (said() - answers()) & set(STRANGE)  # "window" is an answer, too


def test_every_answer_of_the_routes_is_said() -> None:
    assert answers() <= said()


@pytest.fixture(scope="module")
def whole() -> Vocabulary:
    """Of the shipped model, in the order of merging as the whole list is."""
    return Whisper(Path(__file__).resolve().parents[1] / "models" / "ear.npz", None).vocabulary


@pytest.mark.parametrize("text", ["okay", "gladhands", "one hundred forty eight", "kingpin"])
def test_what_is_left_of_the_pieces_writes_the_texts_as_before(whole: Any, text: str) -> None:
    kept = tables.pieces_needed(whole, [text])
    pieces = [whole.pieces[number] for number in kept]
    left = Vocabulary([*pieces, b""], space=" ", end=len(pieces), text=range(len(pieces)))
    assert [kept[token] for token in left.encode(text)] == whole.encode(text)
    assert left.decode(left.encode("Größe, zygote")) == "Größe, zygote"


def test_a_mix_is_between_trained_and_untouched_weights() -> None:
    trained = {"both": np.array([4.0]), "second head": np.array([4.0])}
    found = checkpoint.mixed(trained, {"both": np.array([0.0], np.float16)}, 0.75)
    assert found == {"both": 3.0, "second head": 4.0}


def test_another_package_than_expected_is_not_opened(tmp_path: Path) -> None:
    (tmp_path / "kokoro-js-1.2.1.tgz").write_bytes(b"another")
    with pytest.raises(ValueError, match="SHA-256"):
        fetch_neural.package(tmp_path, "kokoro-js-1.2.1.tgz", fetch_neural.VOICES)
