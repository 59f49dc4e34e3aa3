from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest

from tests.hear.spoken import CONDITION, READING, VOICES, say, scene
from voice.errors import SetupError
from voice.hear.moonshine import Moonshine
from voice.sound.recording import load

PHRASES = list(CONDITION.meanings)
NUMBERS = list(READING.meanings)


@pytest.mark.parametrize(("program", "voice"), VOICES)
@pytest.mark.parametrize("text", ["okay", "not okay", "cracked", "leaking", "repeat", "skip", "where am i"])
def test_a_phrase_is_heard_among_the_others(moonshine: Moonshine, text: str, program: str, voice: str) -> None:
    assert moonshine.score(scene(0.3, say(text, program, voice), 0.4), PHRASES)[0].text == text


@pytest.mark.parametrize(
    "text", ["six", "twenty", "twenty five psi", "one hundred five", "ninety seven", "one hundred"]
)
def test_a_number_is_heard_among_hundreds(moonshine: Moonshine, text: str) -> None:
    best = moonshine.score(scene(0.3, say(text), 0.4), NUMBERS)[0].text
    assert READING.meanings[best] == READING.meanings[text]


def test_scores_are_sorted_and_of_given_phrases(moonshine: Moonshine) -> None:
    scored = moonshine.score(scene(0.3, say("okay"), 0.4), PHRASES)
    assert [item.score for item in scored] == sorted((item.score for item in scored), reverse=True)
    assert {item.text for item in scored} <= set(PHRASES)


def test_free_transcript_comes_along_and_fits_better_than_any_wrong_phrase(moonshine: Moonshine) -> None:
    heard = moonshine.judge(scene(0.3, say("elephants are nice"), 0.4), PHRASES)
    assert "elephant" in heard.free.lower()
    assert heard.free_score > max(heard.scores.values()) + 5


def test_long_speech_is_transcribed_in_pieces(moonshine: Moonshine) -> None:
    parts = ["the left mirror is cracked", "and the bracket is loose", "please order a new one", "before the next trip"]
    audio = scene(*(part for text in parts for part in (say(text), 0.8)))
    audio = np.concatenate([audio, audio])
    assert len(audio) / 16000 > 15
    text = moonshine.transcribe(audio).lower()
    assert text.count("mirror") == 2
    assert text.count("bracket") == 2


def test_same_audio_gives_the_same_scores(moonshine: Moonshine) -> None:
    audio = scene(0.3, say("cracked"), 0.4)
    first = moonshine.judge(audio, PHRASES)
    moonshine.judge(scene(0.3, say("skip"), 0.4), NUMBERS)
    assert moonshine.judge(audio, PHRASES) == first


def test_two_threads_get_what_one_gets(moonshine: Moonshine) -> None:
    audio = scene(0.3, say("leaking"), 0.4)
    alone = moonshine.judge(audio, PHRASES)
    results = []
    threads = [threading.Thread(target=lambda: results.append(moonshine.judge(audio, PHRASES))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert results == [alone] * 4


@pytest.mark.parametrize("audio", [np.zeros(16000, np.float32), np.zeros(100, np.float32), np.zeros(0, np.float32)])
def test_silence_and_scraps_are_no_error(moonshine: Moonshine, audio: np.ndarray) -> None:
    assert isinstance(moonshine.judge(audio, PHRASES).free, str)


def test_missing_model_is_one_clear_error(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="cannot be loaded"):
        Moonshine(tmp_path)


def test_loading_a_sound_file_that_is_none() -> None:
    from pathlib import Path

    from voice.errors import DeviceError

    with pytest.raises(DeviceError, match="cannot be read"):
        load(Path(__file__))
