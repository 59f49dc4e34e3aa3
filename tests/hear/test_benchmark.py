"""The benchmark itself: that it measures what it says."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.hearing.noises import NOISES, Noise, air, fan, idle, scene, speech_level, wind
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.report import defect_as_ok, result
from tests.benchmarks.hearing.trials import half, trials
from tests.benchmarks.hearing.voices import SPEAKERS, trimmed
from voice.sound.port import RATE, Audio

AUDIO = Path(os.environ.get("GLADHAND_AUDIO", Path(__file__).parents[2].parent / "shared" / "audio"))
recorded = pytest.mark.skipif(not (AUDIO / "index.csv").is_file(), reason="no folder of recorded audio")


@pytest.mark.parametrize("snr", [20.0, 10.0, 5.0, 0.0])
def test_noise_is_mixed_at_the_ratio_it_says(snr: float) -> None:
    time = np.arange(RATE) / RATE
    speech = np.sin(2 * np.pi * 300 * time).astype(np.float32)
    noise = Noise("idle", "tune", "idle", 1)
    mixed, end = scene(speech, noise, snr, AUDIO, np.random.default_rng(0))
    start = round(end * RATE) - len(speech)
    alone = np.concatenate([mixed[:start], mixed[start + len(speech) :]])
    ratio = 20 * np.log10(0.05 / np.sqrt(np.mean(alone**2)))
    assert ratio == pytest.approx(snr, abs=1.5)
    assert speech_level(mixed[start : start + len(speech)]) == pytest.approx(
        0.05 * np.sqrt(1 + 10 ** (-snr / 10)), rel=0.2
    )


@pytest.mark.parametrize("made", [air, fan, idle, wind])
def test_made_noises_repeat_exactly_and_differ_by_seed(made: Callable[[float, int], Audio]) -> None:
    assert np.array_equal(made(1, 3), made(1, 3))
    assert not np.array_equal(made(1, 3), made(1, 4))
    assert np.sqrt(np.mean(made(2, 1) ** 2)) == pytest.approx(1, abs=0.01)


def test_escaping_air_is_high_and_an_idle_is_low() -> None:
    low = {}
    for made in (air, fan, idle, wind):
        power = np.abs(np.fft.rfft(made(4, 1))) ** 2
        low[made.__name__] = power[: 4 * 600].sum() / power.sum()
    assert low["air"] < 0.05
    assert low["idle"] > 0.5
    assert low["wind"] > low["fan"] > 0.2


def test_trimming_keeps_the_sound() -> None:
    audio = np.zeros(RATE, np.float32)
    audio[4000:6000] = 0.5
    cut = trimmed(audio)
    assert len(cut) == pytest.approx(2000 + 640, abs=2)
    assert cut.sum() == audio.sum()


def test_tuning_and_reporting_share_neither_voice_nor_noise() -> None:
    for things in (SPEAKERS, NOISES):
        tune = {one.name for one in things if one.group == "tune"}
        held = {one.name for one in things if one.group == "held"}
        assert tune
        assert held
        assert not tune & held
    assert len(SPEAKERS) >= 10
    assert len({speaker.program for speaker in SPEAKERS}) >= 3
    assert not {(s.program, s.option) for s in SPEAKERS if s.group == "tune"} & {
        (s.program, s.option) for s in SPEAKERS if s.group == "held"
    }


@recorded
def test_the_list_of_trials_is_fixed_and_answers_are_of_the_question() -> None:
    first, second = trials("held", AUDIO), trials("held", AUDIO)
    assert first == second
    for trial in first:
        if trial.meaning is not None:
            assert shipped()[trial.question].meanings[trial.text] == trial.meaning
    real = {trial.clip for trial in first if trial.clip}
    other = {trial.clip for trial in trials("tune", AUDIO) if trial.clip}
    assert real
    assert not real & other


def test_a_recorded_speaker_is_in_one_half_only() -> None:
    halves = {half(f"gsc:{number:08x}") for number in range(50)}
    assert halves == {"tune", "held"}


OK, DEFECT = {"kind": "ok"}, {"id": None, "kind": "defect"}


def row(outcome: str, heard: object, meaning: object, kind: str = "defect") -> dict[str, object]:
    return {"outcome": outcome, "heard": heard, "meaning": meaning, "kind": kind}


def test_results_are_named_rightly() -> None:
    assert result(row("heard", DEFECT, DEFECT)) == "right"
    assert result(row("heard", OK, DEFECT)) == "wrong"
    assert result(row("unsure", DEFECT, DEFECT)) == "confirmed"
    assert result(row("unsure", OK, DEFECT)) == "doubt"
    assert result(row("unclear", None, DEFECT)) == "asked"
    assert result(row("heard", OK, None, "strange")) == "wrong"


def test_a_defect_taken_as_ok_is_counted() -> None:
    rows = [
        row("heard", OK, DEFECT),
        row("unsure", OK, DEFECT),
        row("heard", DEFECT, DEFECT),
        row("heard", OK, OK, "ok"),
    ]
    assert defect_as_ok(rows) == (3, 1, 1)
