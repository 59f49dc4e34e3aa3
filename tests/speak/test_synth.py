"""Text to audio by the real programs; a program that is missing skips its tests with the reason."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pytest

from voice.errors import SetupError
from voice.sound.port import RATE
from voice.speak.synth import PROGRAMS, program, synthesize, voices

VOICES = ["flite:slt", "flite:rms", "flite:awb", "espeak:en-us", "espeak:en-gb+f3", "espeak:es", "festival:kal_diphone"]
SENTENCE = "left side, axle three, outer tire"


def need(voice: str) -> None:
    synthesizer, _, name = voice.partition(":")
    if program(synthesizer) is None:
        pytest.skip(f"{synthesizer} is not installed")
    if name.partition("+")[0] not in voices(synthesizer):
        pytest.skip(f"{synthesizer} has no voice {name}")


@pytest.mark.parametrize("voice", VOICES)
def test_audio_of_plausible_length_and_level(voice: str) -> None:
    need(voice)
    audio = synthesize(SENTENCE, voice)
    assert audio.dtype == np.float32
    assert audio.ndim == 1
    # Seven words: people and synthesizers speak 110 to 300 words a minute (common practice, no source).
    assert 1.2 < len(audio) / RATE < 4.0
    assert 0.1 < np.abs(audio).max() <= 1.0
    loud = np.abs(audio).reshape(-1)[: len(audio) // 160 * 160].reshape(-1, 160).max(axis=1) > 0.05
    assert loud.mean() > 0.4  # it is speech for most of the time, not one click


@pytest.mark.parametrize("voice", ["flite:slt", "espeak:en-us", "festival:kal_diphone"])
def test_pace(voice: str) -> None:
    need(voice)
    slow, fast = (len(synthesize(SENTENCE, voice, pace=pace)) for pace in (0.8, 1.4))
    assert slow > 1.3 * fast


def test_different_words_sound_different_and_the_same_words_the_same() -> None:
    need("espeak:en-us")
    okay, defect = (synthesize(word, "espeak:en-us") for word in ("okay", "defect"))
    assert len(okay) != len(defect) or not np.array_equal(okay, defect)
    assert np.array_equal(okay, synthesize("okay", "espeak:en-us"))


@pytest.mark.parametrize("text", ["-v", "--help; echo hi", '"quoted" & more', "$HOME", "(quit)"])
@pytest.mark.parametrize("voice", ["espeak:en-us", "flite:slt", "festival:kal_diphone"])
def test_text_is_never_taken_as_an_option_or_command(text: str, voice: str) -> None:
    need(voice)
    assert len(synthesize(text, voice)) > RATE // 10


@pytest.mark.parametrize("voice", ["espeak:en-us", "flite:slt", "festival:kal_diphone"])
def test_no_file_is_there_for_a_kill_to_leave_behind(
    voice: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    need(voice)
    scratch, seen, wrapped = tmp_path / "scratch", tmp_path / "seen", tmp_path / "bin"
    scratch.mkdir()
    wrapped.mkdir()
    real = program(voice.partition(":")[0])
    assert real is not None
    wrapper = wrapped / Path(real).name
    wrapper.write_text(f'#!/bin/sh\nls -R {scratch} >> {seen}\nexec {real} "$@"\n')
    wrapper.chmod(0o755)
    monkeypatch.setenv("PATH", f"{wrapped}:{os.environ['PATH']}")
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    assert len(synthesize(SENTENCE, voice)) > RATE
    assert seen.read_text().splitlines()[-1] == f"{scratch}:"  # that is: an empty folder


@pytest.mark.parametrize(
    "voice",
    [
        'festival:kal_diphone) (system "touch hurt")',
        'festival:kal_diphone+) (system "touch hurt") (voice_kal_diphone',
        "espeak:en-us+../../../../etc/passwd",
        "espeak:en-us+nobody",
        "flite:slt+/etc/passwd",
    ],
)
def test_a_name_that_is_no_voice_is_never_run_or_opened(
    voice: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    need({"festival": "festival:kal_diphone", "espeak": "espeak:en-us", "flite": "flite:slt"}[voice.partition(":")[0]])
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SetupError, match="has no v"):
        synthesize("okay", voice)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="counts open files in /proc")
def test_too_few_open_files_are_one_clear_error() -> None:
    need("espeak:en-us")
    code = (
        "import os, resource\nfrom voice.errors import SetupError\nfrom voice.speak import synth\n"
        "synth.synthesize('a', 'espeak:en-us')\n"
        "resource.setrlimit(resource.RLIMIT_NOFILE, (len(os.listdir('/proc/self/fd')), 64))\n"
        "try:\n    synth.synthesize('okay', 'espeak:en-us')\n"
        "except SetupError as error:\n    print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "Too many open files. Close other programs" in done.stdout


def test_abbreviations_are_spelled_out() -> None:
    need("flite:slt")
    assert np.array_equal(synthesize("95 psi", "flite:slt"), synthesize("95 p s i", "flite:slt"))


def test_nothing_to_say_is_no_sound() -> None:
    assert len(synthesize("  ", "espeak:en-us")) == 0


def test_kept_audio_is_the_same(tmp_path: Path) -> None:
    need("espeak:en-us")
    first = synthesize("okay", "espeak:en-us", keep=tmp_path)
    [kept] = tmp_path.iterdir()
    assert kept.suffix == ".flac"
    again = synthesize("okay", "espeak:en-us", keep=tmp_path)
    assert np.allclose(first, again, atol=1e-4)  # 16 bits
    synthesize("okay", "espeak:en-us", pace=1.5, keep=tmp_path)
    assert len(list(tmp_path.iterdir())) == 2


@pytest.mark.parametrize("synthesizer", sorted(PROGRAMS))
def test_a_missing_program_is_one_clear_error(
    synthesizer: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(SetupError, match="not installed") as caught:
        synthesize("okay", f"{synthesizer}:any")
    assert "apt install" in caught.value.hint


def test_a_missing_voice_or_synthesizer_is_one_clear_error() -> None:
    need("flite:slt")
    with pytest.raises(SetupError, match='no voice "nobody"') as caught:
        synthesize("okay", "flite:nobody")
    assert "flite:slt" in caught.value.hint
    with pytest.raises(SetupError, match='no synthesizer "drum"'):
        synthesize("okay", "drum:bass")


def test_of_a_long_list_of_voices_the_useful_ones_are_offered() -> None:
    need("espeak:en-us")
    with pytest.raises(SetupError) as caught:
        synthesize("okay", "espeak:fr-xx")
    for name in ("espeak:en-us", "espeak:en-gb", "espeak:es-419", "espeak:fr-fr"):
        assert name in caught.value.hint
    assert "espeak:af" not in caught.value.hint
    assert "more by 'espeak-ng --voices'" in caught.value.hint


def test_a_program_that_fails_is_one_clear_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    broken = tmp_path / "flite"
    broken.write_text(
        '#!/bin/sh\n[ "$1" = -lv ] && echo "Voices available: slt" && exit 0\necho no license >&2\nexit 3\n'
    )
    broken.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    voices.cache_clear()
    try:
        with pytest.raises(SetupError, match="flite failed: no license"):
            synthesize("okay", "flite:slt")
    finally:
        voices.cache_clear()
