from __future__ import annotations

import numpy as np
import pytest

from tests.hear.spoken import hiss, say, scene
from voice.hear.endpoint import Endpointer
from voice.hear.noise import NoiseFloor, level, tail
from voice.sound.port import BLOCK, RATE, Audio


def feed(audio: Audio, until: float = 0.5) -> Endpointer:
    """An endpointer that has read the audio until the speech was followed by `until` seconds of silence."""
    endpoint = Endpointer()
    for at in range(0, len(audio) - BLOCK, BLOCK):
        endpoint.push(audio[at : at + BLOCK])
        if endpoint.started and endpoint.silence >= until:
            break
    return endpoint


@pytest.mark.parametrize("text", ["six", "stop", "fifty", "skip", "no", "three", "flat", "thin"])
def test_leading_consonants_are_kept(text: str) -> None:
    before = 1.0
    endpoint = feed(scene(before, say(text), 1.0))
    kept_from = endpoint.last + endpoint.silence - len(endpoint.audio()) / RATE
    assert endpoint.started
    assert kept_from <= before  # the whole word, from its first sample
    assert kept_from >= before - 0.7


@pytest.mark.parametrize("text", ["no", "six", "yes", "two"])
def test_a_short_word_said_at_once_is_not_lost(text: str) -> None:
    endpoint = feed(scene(say(text), 1.0))
    assert endpoint.started
    assert endpoint.enough
    assert endpoint.audio()[: RATE // 2].std() > 0.01


def test_the_end_is_near_the_end() -> None:
    word = say("twenty five")
    loud = np.flatnonzero(np.abs(word) > 0.02 * np.abs(word).max())[-1] / RATE
    endpoint = feed(scene(0.8, word, 1.0))
    assert endpoint.last == pytest.approx(0.8 + loud, abs=0.25)


@pytest.mark.parametrize("db", [-60, -40, -25])
def test_noise_is_no_speech(db: float) -> None:
    assert not feed(hiss(6, db)).started


def test_digital_zeros_are_no_speech() -> None:
    assert not feed(np.zeros(5 * RATE, np.float32)).started


def test_a_click_is_not_enough() -> None:
    audio = hiss(3)
    audio[RATE : RATE + 300] += 0.5
    endpoint = feed(audio)
    assert not endpoint.enough


def test_the_noise_floor_is_that_of_the_surroundings() -> None:
    endpoint = feed(scene(1.5, say("okay"), 1.0, db=-45))
    assert endpoint.floor.db == pytest.approx(-45, abs=2)
    assert endpoint.snr_db() > 15


def test_level_of_known_signals() -> None:
    # AES17: a full-scale sine is at -3.01 dB relative to a full-scale square wave.
    sine = np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE).astype(np.float32)
    assert level(sine) == pytest.approx(-3.01, abs=0.01)
    assert level(np.ones(100, np.float32)) == pytest.approx(0, abs=0.01)
    assert level(np.zeros(100, np.float32)) == -120


def test_tail_of_the_own_voice() -> None:
    after = hiss(1.0, -60)
    after[: int(0.25 * RATE)] += hiss(0.25, -30, seed=1)
    assert tail(after, floor_db=-60) == pytest.approx(0.25, abs=BLOCK / RATE)
    assert tail(hiss(1.0, -60), floor_db=-60) == 0


def test_floor_forgets() -> None:
    floor = NoiseFloor()
    floor.add(hiss(BLOCK / RATE, -40), speech=False)
    assert floor.db > -45
    floor.forget()
    assert floor.db == -120
