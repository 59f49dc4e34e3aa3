from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.hear.spoken import CONDITION, QUIET, READING, VOICES, hiss, say, scene
from voice.errors import DeviceError
from voice.hear.ear import VoiceEar
from voice.hear.port import Hearing
from voice.models.engines import Engines
from voice.sound.port import RATE, Audio
from voice.sound.recording import ArrayMicrophone
from voice.speak.synthesis import trimmed
from voice.understand.meaning import Defect, No, Ok, Stop, Words, Yes
from voice.understand.question import Phrase, Question

YES_NO = Question("yes-no", (Phrase("yes", Yes()), Phrase("no", No())))


def listen(ear: VoiceEar, audio: Audio, question: Question = CONDITION) -> Hearing:
    microphone = ArrayMicrophone(audio)
    ear.use(microphone, microphone)
    return ear.listen(question)


@pytest.mark.parametrize(("program", "voice"), VOICES)
@pytest.mark.parametrize("text", ["okay", "not okay", "cracked", "leaking", "repeat", "go back", "looks good"])
def test_answers_to_a_condition(ear: VoiceEar, text: str, program: str, voice: str) -> None:
    heard = listen(ear, scene(0.5, say(text, program, voice), 1.5))
    assert heard.outcome in ("heard", "unsure")
    assert heard.meaning == CONDITION.meanings[text]


@pytest.mark.parametrize("text", ["twenty", "twenty five", "one hundred five psi", "six", "ninety"])
def test_numbers(ear: VoiceEar, text: str) -> None:
    heard = listen(ear, scene(0.5, say(text), 1.5), READING)
    assert heard.outcome in ("heard", "unsure")
    assert heard.meaning == READING.meanings[text]


@pytest.mark.parametrize(("program", "voice"), [*VOICES, ("flite", "awb"), ("flite", "kal16")])
@pytest.mark.parametrize("text", ["not okay", "not good", "cracked", "bad", "defect", "leaking"])
@pytest.mark.parametrize("db", [-60, -32])
def test_a_defect_is_never_heard_as_okay(ear: VoiceEar, text: str, program: str, voice: str, db: float) -> None:
    heard = listen(ear, scene(0.5, say(text, program, voice), 1.5, db=db))
    assert not (heard.outcome == "heard" and heard.meaning == Ok())


@pytest.mark.parametrize("db", [-80, -60, -40, -25])
def test_noise_alone_is_silence_or_noisy(ear: VoiceEar, db: float) -> None:
    heard = listen(ear, hiss(5, db))
    assert heard.outcome in ("silence", "noisy")
    assert heard.meaning is None
    assert heard.noise_db == pytest.approx(db, abs=3)


def test_a_roar_is_called_noisy(ear: VoiceEar) -> None:
    assert listen(ear, hiss(5, -12)).outcome == "noisy"


def test_digital_zeros_are_silence(ear: VoiceEar) -> None:
    assert listen(ear, np.zeros(5 * RATE, np.float32)).outcome == "silence"


def test_other_speech_is_unclear_and_told(ear: VoiceEar) -> None:
    heard = listen(ear, scene(0.5, say("elephants are nice"), 1.5))
    assert heard.outcome == "unclear"
    assert heard.meaning is None
    assert "elephant" in heard.words.lower()


def test_patience_is_counted_in_audio(ear: VoiceEar) -> None:
    heard = listen(ear, hiss(20, -60), replace(CONDITION, patience=4.0))
    assert heard.outcome == "silence"
    assert heard.ended == pytest.approx(4.0, abs=0.05)


def test_a_complete_answer_is_taken_early_and_an_open_one_waited_for(ear: VoiceEar) -> None:
    done = listen(ear, scene(0.5, say("yes"), 2.0), YES_NO)
    early = ear.microphone.now() - done.ended  # type: ignore[attr-defined]
    open_ = listen(ear, scene(0.5, say("twenty", "espeak-ng", "en-us"), 2.0), READING)  # flite's is not heard surely
    late = ear.microphone.now() - open_.ended  # type: ignore[attr-defined]
    assert done.outcome == open_.outcome == "heard"
    assert early < 0.3
    assert 0.6 < late < 0.8


@pytest.mark.parametrize("pause", [0.1, 0.2, 0.3])
@pytest.mark.parametrize("good", ["okay", "looks good", "all clear"])
@pytest.mark.parametrize("bad", ["leaking", "cracked"])
def test_what_follows_an_okay_in_the_same_breath_is_not_lost(ear: VoiceEar, good: str, bad: str, pause: float) -> None:
    """ "Fine, cords showing": the pause of a comma is 0.1 to 0.3 s long (flite's: 0.28)."""
    first, second = trimmed(say(good, "espeak-ng", "en-us")), trimmed(say(bad, "espeak-ng", "en-us"))
    heard = listen(ear, scene(0.5, first, pause, second, 2.0))
    assert not (heard.outcome == "heard" and isinstance(heard.meaning, Ok))
    assert heard.audio is not None
    assert len(heard.audio) > len(first) + len(second)


@pytest.mark.parametrize("pause", [0.05, 0.15, 0.3])
def test_a_number_said_with_a_pause_is_never_taken_as_a_part_of_it(ear: VoiceEar, pause: float) -> None:
    heard = listen(ear, scene(0.5, say("twenty"), pause, say("five"), 2.0), READING)
    assert heard.outcome != "heard" or heard.meaning == READING.meanings["twenty five"]


def test_short_words_at_once(ear: VoiceEar) -> None:
    assert listen(ear, scene(say("six"), 1.5), READING).meaning == READING.meanings["six"]
    stop = Question("now", (Phrase("stop", Stop()), Phrase("okay", Ok())))
    assert listen(ear, scene(say("stop"), 1.5), stop).meaning == Stop()


def test_stamps_are_on_the_clock(ear: VoiceEar) -> None:
    heard = listen(ear, scene(1.0, say("okay"), 1.5))
    assert heard.started == pytest.approx(1.0, abs=0.25)
    assert 1.2 < heard.ended < 2.0
    assert heard.audio is not None
    assert heard.audio.dtype == np.float32


def test_two_answers_one_after_the_other(ear: VoiceEar) -> None:
    microphone = ArrayMicrophone(scene(0.5, say("cracked"), 1.2, say("okay"), 1.5))
    ear.use(microphone, microphone)
    first, second = ear.listen(CONDITION), ear.listen(CONDITION)
    assert (first.meaning, second.meaning) == (Defect("cracked"), Ok())
    assert second.started > first.ended


def test_a_quiet_minute_is_not_ended_by_talk_or_noise(ear: VoiceEar) -> None:
    talk = scene(0.5, say("the weather is nice today"), 1.0, say("elephants"), 4.0)
    heard = listen(ear, talk, QUIET)
    assert heard.outcome == "silence"
    assert heard.ended == pytest.approx(6.0, abs=1.5)
    assert listen(ear, scene(0.5, say("what a day"), 1.0, say("stop"), 4.0), QUIET).meaning == Stop()


def test_free_speech_is_transcribed_and_a_phrase_still_wins(ear: VoiceEar) -> None:
    note = Question("note", (Phrase("stop", Stop()),), free=True, patience=4.0)
    heard = listen(ear, scene(0.5, say("the left mirror bracket is loose"), 2.0), note)
    assert isinstance(heard.meaning, Words)
    assert "mirror" in heard.meaning.text.lower()
    assert listen(ear, scene(0.5, say("stop"), 2.0), note).meaning == Stop()


def test_a_pause_inside_a_note_does_not_end_it(ear: VoiceEar) -> None:
    note = Question("note", (Phrase("stop", Stop()),), free=True, patience=4.0)
    heard = listen(ear, scene(0.5, say("the left mirror"), 0.6, say("is loose on the bracket"), 2.0), note)
    assert "mirror" in heard.words.lower()
    assert "bracket" in heard.words.lower()


def test_the_same_recording_gives_the_same_hearing(engines: Engines) -> None:
    audio = scene(0.5, say("leaking"), 1.5, db=-40)
    results = []
    for _ in range(2):
        microphone = ArrayMicrophone(audio)
        heard = VoiceEar(microphone, engines.judge, engines.writer, clock=microphone).listen(CONDITION)
        results.append(replace(heard, compute_s=0.0, audio=None))
    assert results[0] == results[1]


def test_own_voice_is_flushed_and_its_tail_dropped(engines: Engines) -> None:
    microphone = ArrayMicrophone(scene(0.5, say("okay"), 1.5))
    ear = VoiceEar(microphone, engines.judge, engines.writer, clock=microphone, tail=1.5)
    assert ear.listen(CONDITION).outcome == "silence"
    assert microphone.flushes == 1


def test_a_headset_may_cut_in(engines: Engines) -> None:
    microphone = ArrayMicrophone(scene(0.2, say("okay"), 1.5))
    ear = VoiceEar(microphone, engines.judge, engines.writer, clock=microphone, tail=1.5)
    assert ear.listen(replace(CONDITION, cut_in=True)).meaning == Ok()
    assert microphone.flushes == 0


def test_the_end_of_a_recording_is_told(ear: VoiceEar) -> None:
    microphone = ArrayMicrophone(hiss(1.0), endless=False)
    ear.use(microphone, microphone)
    with pytest.raises(DeviceError, match="ended"):
        ear.listen(CONDITION)


def test_speech_drowned_in_noise_is_called_noisy(ear: VoiceEar) -> None:
    audio = scene(0.8, say("the weather is nice today"), 1.5)
    audio = 0.1 * audio + hiss(len(audio) / RATE + 1, -27)[: len(audio)]
    assert listen(ear, audio.astype(np.float32)).outcome in ("noisy", "silence")
