from __future__ import annotations

from itertools import combinations
from typing import get_args

import numpy as np
import pytest

from voice.sound.port import RATE
from voice.speak.cues import CUES, length, table, tone
from voice.walk.event import CueName

NAMES: tuple[CueName, ...] = get_args(CueName)


def spectrum_peak(audio: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(audio * np.hanning(len(audio)), n=1 << 16))
    return float(np.argmax(spectrum) * RATE / (1 << 16))


def test_there_is_a_tone_for_every_cue_and_the_table_names_it() -> None:
    assert set(CUES) == set(NAMES)
    for name in NAMES:
        assert f"| {name} |" in table()


@pytest.mark.parametrize("name", NAMES)
def test_short_without_clicks_and_not_too_loud(name: CueName) -> None:
    audio = tone(name)
    assert audio.dtype == np.float32
    assert 0.05 < length(name) <= 0.51
    assert 0.3 < np.abs(audio).max() <= 0.51
    assert audio[0] == 0
    assert abs(audio[-1]) < 0.01
    assert np.abs(np.diff(audio)).max() < 2 * np.pi * 1700 / RATE * 0.5 * 1.1  # no jump beyond the steepest sine


@pytest.mark.parametrize("name", NAMES)
def test_the_frequencies_are_those_of_the_table(name: CueName) -> None:
    at = 0
    for part in CUES[name]:
        piece = tone(name)[at : at + round(part.seconds * RATE)]
        at += len(piece)
        if part.hz:
            assert abs(spectrum_peak(piece) - part.hz) < 12
        else:
            assert not piece.any()


def test_no_two_cues_sound_alike() -> None:
    for one, other in combinations(NAMES, 2):
        first, second = tone(one), tone(other)
        size = max(len(first), len(second))
        first, second = (np.pad(each, (0, size - len(each))) for each in (first, second))
        likeness = np.abs(np.correlate(first, second, "full")).max() / (np.linalg.norm(first) * np.linalg.norm(second))
        assert likeness < 0.9, (one, other)


def test_a_tone_cannot_be_changed_by_who_plays_it() -> None:
    with pytest.raises(ValueError, match="read-only"):
        tone("end")[0] = 1.0
