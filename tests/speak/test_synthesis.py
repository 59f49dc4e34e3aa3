"""The speaker on a virtual clock, with a real synthesizer."""

from __future__ import annotations

import numpy as np
import pytest

from voice.errors import SetupError
from voice.sound.output import ClockOutput
from voice.sound.port import RATE, Audio
from voice.speak.cues import length
from voice.speak.synth import program, synthesize
from voice.speak.synthesis import BREATH, SynthesisSpeaker, trimmed

pytestmark = pytest.mark.skipif(program("espeak") is None, reason="espeak-ng is not installed")


class Tape:
    """A clock that is moved on, and what was played."""

    def __init__(self) -> None:
        self.seconds = 0.0
        self.sounds: list[Audio] = []

    def advance(self, seconds: float) -> None:
        self.seconds += seconds


def test_saying_moves_the_clock_by_the_length_of_the_sound() -> None:
    tape = Tape()
    speaker = SynthesisSpeaker(ClockOutput(tape.advance, tape.sounds.append))
    speaker.say("Pressure is 95 psi.")
    expected = len(trimmed(synthesize("Pressure is 95 p s i.", "espeak:en-us"))) / RATE
    assert tape.seconds == pytest.approx(expected)
    assert speaker.seconds_spoken == pytest.approx(expected)
    speaker.cue("end")
    assert tape.seconds == pytest.approx(expected + length("end"))
    assert [len(sound) for sound in tape.sounds] == [round(expected * RATE), round(length("end") * RATE)]
    assert speaker.seconds_made > 0


def test_two_sentences_in_a_row_are_both_spoken_in_order() -> None:
    tape = Tape()
    speaker = SynthesisSpeaker(ClockOutput(tape.advance, tape.sounds.append))
    speaker.say("one")
    speaker.say("two")
    speaker.say("one")
    one, two, again = tape.sounds
    assert not np.array_equal(one, two)
    assert np.array_equal(one, again)
    assert tape.seconds == pytest.approx(sum(map(len, tape.sounds)) / RATE)


def test_nothing_to_say_makes_no_sound() -> None:
    tape = Tape()
    SynthesisSpeaker(ClockOutput(tape.advance, tape.sounds.append)).say(" ")
    assert tape.sounds == []
    assert tape.seconds == 0


def test_a_voice_that_is_not_there_is_refused_at_once() -> None:
    with pytest.raises(SetupError, match="no voice"):
        SynthesisSpeaker(ClockOutput(lambda seconds: None), "espeak:xx-nowhere")


def test_sound_of_another_rate_is_recorded_at_16_khz() -> None:
    tape = Tape()
    ClockOutput(tape.advance, tape.sounds.append).play(np.zeros(22_050, np.float32), 22_050)
    assert tape.seconds == pytest.approx(1.0)
    assert len(tape.sounds[0]) == pytest.approx(RATE, abs=2)


def test_silence_around_the_words_is_left_out() -> None:
    audio = synthesize("okay", "espeak:en-us")
    short = trimmed(audio)
    assert 0.15 < len(short) / RATE < len(audio) / RATE
    assert np.abs(short[BREATH : 2 * BREATH]).max() > 0.003
    assert np.abs(short[-2 * BREATH : -BREATH]).max() > 0.003
    assert np.array_equal(trimmed(np.zeros(100, np.float32)), np.zeros(100, np.float32))
