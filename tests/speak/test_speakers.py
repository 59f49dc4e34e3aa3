"""The real speakers on a virtual sound card: what comes out of the loudspeaker is recorded and looked at."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from tests.devices.pulse import VirtualCard, missing
from voice.errors import DeviceError, SetupError
from voice.sound.output import AplayOutput, ClockOutput
from voice.sound.port import Audio
from voice.speak.choose import ENGINES, open_speaker
from voice.speak.cues import length
from voice.speak.pyttsx import PyttsxSpeaker, choose
from voice.speak.synth import program, synthesize

CHECKOUT = Path(__file__).parents[2]
SCRIPT = """
import json, sys, time
from voice.speak.choose import ENGINES, open_speaker
speaker = open_speaker(sys.argv[1])
times = []
for what in sys.argv[2:]:
    begin = time.monotonic()
    speaker.cue(what[1:]) if what.startswith("=") else speaker.say(what)
    times.append(time.monotonic() - begin)
speaker.close()
print(json.dumps({"name": speaker.name, "times": times}))
"""

needs_card = pytest.mark.skipif(bool(missing()), reason=f"no virtual sound card: {missing()}")


@pytest.fixture(scope="module")
def card() -> Iterator[VirtualCard]:
    with tempfile.TemporaryDirectory(dir="/tmp") as folder, VirtualCard(Path(folder)) as started:
        yield started


def played(card: VirtualCard, engine: str, *what: str) -> tuple[dict[str, object], Audio]:
    """What the speaker reports, and what its loudspeaker played, at 16 kHz."""
    env = {**os.environ, **card.env, "PYTHONPATH": str(CHECKOUT)}
    with tempfile.TemporaryFile() as file:
        command = ["parec", "--raw", "--rate=16000", "--channels=1", "--format=s16le", "--device=speaker.monitor"]
        recorder = subprocess.Popen([*command, "--latency-msec=50"], env=env, stdout=file)
        try:
            done = subprocess.run(
                [sys.executable, "-c", SCRIPT, engine, *what], env=env, capture_output=True, text=True, timeout=60
            )
        finally:
            recorder.terminate()
            recorder.wait()
        assert done.returncode == 0, done.stderr
        file.seek(0)
        return json.loads(done.stdout), np.frombuffer(file.read(), "<i2").astype(np.float32) / np.float32(32768)


def bursts(audio: Audio, gap: float = 0.25) -> list[float]:
    """Lengths in seconds of the stretches of sound that are parted by at least `gap` seconds of silence."""
    frames = np.abs(audio[: len(audio) // 160 * 160]).reshape(-1, 160).max(axis=1) > 0.02
    found: list[list[int]] = []
    for at in np.flatnonzero(frames):
        if found and at - found[-1][1] < gap * 100:
            found[-1][1] = int(at)
        else:
            found.append([int(at), int(at)])
    return [(end - start + 1) / 100 for start, end in found]


@pytest.mark.soundcard
@needs_card
@pytest.mark.parametrize("engine", ["pyttsx3", "espeak:en-us", "flite:slt"])
def test_every_sentence_and_tone_in_a_row_is_heard(card: VirtualCard, engine: str) -> None:
    if engine != "pyttsx3" and program(engine.partition(":")[0]) is None:
        pytest.skip(f"{engine} is not installed")
    report, audio = played(card, engine, "one", "two hundred and forty five", "three", "=end")
    heard = bursts(audio, gap=0.12)
    voice = "espeak:en-us" if engine == "pyttsx3" else engine
    sounds = [bursts(synthesize(text, voice), gap=0.12) for text in ("one", "two hundred and forty five", "three")]
    expected = [each for sound in sounds for each in sound] + [length("end")]
    assert len(heard) == len(expected), (heard, expected)
    assert heard == pytest.approx(expected, abs=0.12)
    # Each call came back when its sound was over: none took less time than the sound.
    for took, sound in zip(report["times"], sounds, strict=False):  # type: ignore[call-overload]
        assert took >= sum(sound) - 0.05


@pytest.mark.soundcard
@needs_card
def test_auto_takes_pyttsx3(card: VirtualCard) -> None:
    report, _ = played(card, "auto", "one")
    assert str(report["name"]).startswith("pyttsx3:")


LOST = """
import sys
from voice.errors import DeviceError
from voice.speak.choose import ENGINES, open_speaker
speaker = open_speaker(sys.argv[1])
speaker.say("one")
print("spoken", flush=True)
sys.stdin.readline()
try:
    speaker.say("the card is gone, and this cannot be heard by anybody")
except DeviceError as error:
    print("lost" if error.retry else "fatal", error.message)
"""


@pytest.mark.soundcard
@needs_card
@pytest.mark.parametrize("engine", ["pyttsx3", "espeak"])
def test_a_lost_loudspeaker_is_noticed(engine: str) -> None:
    with tempfile.TemporaryDirectory(dir="/tmp") as folder, VirtualCard(Path(folder)) as own:
        env = {**os.environ, **own.env, "PYTHONPATH": str(CHECKOUT)}
        child = subprocess.Popen(
            [sys.executable, "-c", LOST, engine], env=env, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        assert child.stdout is not None
        assert child.stdout.readline() == "spoken\n"
        own.stop()
        told, _ = child.communicate("go on\n", timeout=30)
        assert told.startswith("lost The loudspeaker")


def test_it_is_for_one_thread() -> None:
    pytest.importorskip("pyttsx3")
    if program("espeak") is None:
        pytest.skip("espeak-ng is not installed")
    speaker = PyttsxSpeaker(ClockOutput(lambda seconds: None))
    with ThreadPoolExecutor(1) as other, pytest.raises(RuntimeError, match="another thread"):
        other.submit(speaker.say, "one").result()


def test_no_player_is_one_clear_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(SetupError, match="aplay is not installed") as caught:
        AplayOutput()
    assert "alsa-utils" in caught.value.hint


def test_no_sound_device_is_one_clear_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    config = tmp_path / "asound.conf"
    config.write_text('pcm.!default { type hw card "nowhere" }\n')
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(config))
    with pytest.raises(DeviceError, match="loudspeaker cannot be used"):
        PyttsxSpeaker()


def test_no_pyttsx3_is_one_clear_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyttsx3", None)
    with pytest.raises(SetupError, match="system's voice cannot be used"):
        PyttsxSpeaker(ClockOutput(lambda seconds: None))


def test_an_unknown_engine_is_refused() -> None:
    with pytest.raises(SetupError, match='no speech engine "drum"') as caught:
        open_speaker("drum")
    assert all(name in caught.value.hint for name in (*ENGINES, "espeak:en-us"))


def test_the_voice_of_a_language() -> None:
    listed = [
        SimpleNamespace(id="gmw/en", languages=["en-gb"]),
        SimpleNamespace(id="gmw/en-us", languages=["en-us"]),
        SimpleNamespace(id="roa/es", languages=["es"]),
        SimpleNamespace(id="com.system.voice", languages=[b"\x05es_419"]),
        SimpleNamespace(id="none", languages=None),
    ]
    assert choose(listed, "en") == "gmw/en-us"
    assert choose(listed[:1], "en") == "gmw/en"
    assert choose(listed, "es") == "com.system.voice"
    assert choose(listed[:3], "es") == "roa/es"
    with pytest.raises(SetupError, match='language "de"'):
        choose(listed, "de")


@pytest.mark.soundcard
@needs_card
def test_pyttsx3_leaves_no_speech_on_the_disk_and_nothing_on_the_display(card: VirtualCard, tmp_path: Path) -> None:
    real = shutil.which("aplay", path=card.env.get("PATH"))
    scratch, seen, wrapped = tmp_path / "scratch", tmp_path / "seen", tmp_path / "bin"
    scratch.mkdir()
    wrapped.mkdir()
    (wrapped / "aplay").write_text(
        f'#!/bin/sh\nfind {scratch} -name "*.wav" >> {seen}\necho "underrun!!!" >&2\nexec {real} "$@"\n'
    )
    (wrapped / "aplay").chmod(0o755)
    path = f"{wrapped}:{os.environ['PATH']}"
    env = {**os.environ, **card.env, "PYTHONPATH": str(CHECKOUT), "PATH": path, "TMPDIR": str(scratch)}
    command = [sys.executable, "-c", SCRIPT, "pyttsx3", "two hundred and forty five"]
    done = subprocess.run(command, env=env, capture_output=True, text=True, timeout=60, check=True)
    assert seen.read_text() == ""
    assert "underrun" not in done.stdout + done.stderr
