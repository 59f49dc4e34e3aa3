"""Chunks of a sound card into 16 kHz blocks, against SciPy's polyphase resampler."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal as dsp

from voice.sound.blocks import Intake
from voice.sound.port import BLOCK, RATE
from voice.sound.soundcard import _Captured


def blocks(intake: Intake) -> np.ndarray:
    taken = []
    while (block := intake.take()) is not None:
        assert len(block) == BLOCK
        assert block.dtype == np.float32
        taken.append(block)
    return np.concatenate(taken) if taken else np.zeros(0, np.float32)


def chunks(samples: np.ndarray, sizes: list[int]) -> list[bytes]:
    cut, at, turn = [], 0, 0
    while at < len(samples):
        size = sizes[turn % len(sizes)]
        cut.append(np.ascontiguousarray(samples[at : at + size], np.float32).tobytes())
        at += size
        turn += 1
    return cut


@pytest.mark.parametrize("rate", [8_000, 16_000, 22_050, 44_100, 48_000])
def test_resampling_agrees_with_scipy(rate: int) -> None:
    times = np.arange(2 * rate) / rate
    sound = np.asarray(sum(np.sin(2 * np.pi * pitch * times + pitch) for pitch in (150, 440, 1300, 3100)) / 8)
    intake = Intake(rate, 1)
    for chunk in chunks(sound.astype(np.float32), [1102, 7, 512, 960]):
        intake.add(chunk)
    got = blocks(intake)
    wanted = dsp.resample_poly(sound, RATE // np.gcd(RATE, rate), rate // np.gcd(RATE, rate))
    inner = slice(2000, 25_000)  # away from both filters' edges
    error = got[inner] - wanted[inner]
    assert 10 * np.log10((error**2).mean() / (wanted[inner] ** 2).mean()) < -50


def test_what_16_khz_cannot_carry_does_not_fold_back() -> None:
    """A 9.5 kHz whistle at 48 kHz would come out as 6.5 kHz if samples were just dropped."""
    whistle = np.sin(2 * np.pi * 9500 * np.arange(48_000) / 48_000).astype(np.float32)
    intake = Intake(48_000, 1)
    intake.add(whistle.tobytes())
    assert np.abs(blocks(intake)[1000:]).max() < 0.001


def test_how_it_is_cut_makes_no_difference() -> None:
    sound = np.random.default_rng(3).normal(0, 0.1, 44_100).astype(np.float32)
    results = []
    for sizes in ([441], [1, 4000, 13], [44_100]):
        intake = Intake(44_100, 1)
        for chunk in chunks(sound, sizes):
            intake.add(chunk)
        results.append(blocks(intake))
    shortest = min(map(len, results))
    assert shortest > 14_000
    for other in results[1:]:
        np.testing.assert_allclose(results[0][:shortest], other[:shortest], atol=1e-6)


def test_stereo_is_averaged() -> None:
    left = np.full(1024, 0.5, np.float32)
    intake = Intake(RATE, 2)
    intake.add(np.stack([left, -left / 2], axis=1).tobytes())
    np.testing.assert_allclose(blocks(intake), 0.125)


def test_exact_zeros_are_counted_up_to_the_last_sound() -> None:
    intake = Intake(RATE, 1)
    intake.add(np.zeros(8000, np.float32).tobytes())
    assert intake.silent == pytest.approx(0.5)
    intake.add(np.zeros(8000, np.float32).tobytes())
    assert intake.silent == pytest.approx(1.0)
    late = np.zeros(1600, np.float32)
    late[799] = 1e-6
    intake.add(late.tobytes())
    assert intake.silent == pytest.approx(0.05)
    intake.reset()
    assert intake.silent == 0
    assert intake.take() is None


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 3e38])
@pytest.mark.parametrize("rate", [16000.0, 48000.0])
def test_a_value_that_is_no_sound_does_not_stay(bad: float, rate: float) -> None:
    intake = Intake(rate, 1)
    chunk = np.zeros(9600, np.float32)
    chunk[5] = bad
    intake.add(chunk.tobytes())
    blocks = []
    while (block := intake.take()) is not None:
        blocks.append(block)
    heard = np.concatenate(blocks)
    assert np.isfinite(heard).all()
    assert np.abs(heard).max() < 1.5


def test_zeros_are_counted_as_they_come_and_not_as_they_are_read() -> None:
    captured = _Captured()
    sound, zeros = np.full(441, 0.1, np.float32).tobytes(), np.zeros(441, np.float32).tobytes()
    for _ in range(100):  # a reader that is behind has all this before it
        captured.put(0, sound)
    assert captured.zeros == 0
    captured.put(0, zeros)
    captured.put(0, zeros)
    assert captured.zeros == 2 * len(zeros)
    captured.clear()  # what was said before a prompt's end is dropped; that the microphone is mute is not forgotten
    assert captured.zeros == 2 * len(zeros)
    captured.put(0, sound)
    assert captured.zeros == 0
