"""Engines whose files are missing or damaged: left out, told, and no okay taken at once. Real files and audio."""

from __future__ import annotations

import importlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.hear.spoken import CONDITION, hiss, say, scene
from voice.data.folders import catalogue_dir
from voice.errors import SetupError
from voice.hear.ear import VoiceEar
from voice.journal import folder as session
from voice.journal import journal
from voice.models.catalogue import Package, load_catalogue
from voice.models.engines import INSIDE, Engines, LateWriter, load_engines, whole_folder
from voice.sound.port import Audio
from voice.sound.recording import ArrayMicrophone
from voice.understand.meaning import Defect, Ok
from voice.walk.event import Doubted, Heard

ROOT = Path(__file__).resolve().parents[2]
IDS = {"whisper": "ear", "moonshine": "moonshine-tiny-en", "pocketsphinx": "pronunciations"}


def package(engine: str) -> Package:
    entry = load_catalogue().get(IDS[engine])
    assert entry is not None
    assert entry.package is not None
    return entry.package


def altered(folder: Path, engine: str, fault: str) -> None:
    """The engine's files again, as links to the real ones. fault: of the smallest: damaged, missing, whole."""
    real = package(engine)
    source = real.folder()
    assert source is not None
    folder.mkdir(parents=True, exist_ok=True)
    if real.module is not None:
        (folder / "__init__.py").touch()
    victim = min(real.files, key=lambda name: (source / name).stat().st_size)
    for name in real.files:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        if name != victim or fault == "whole":
            (folder / name).symlink_to(source / name)
        elif fault == "damaged":
            content = bytearray((source / name).read_bytes())
            content[len(content) // 2] ^= 1
            (folder / name).write_bytes(content)


@pytest.fixture
def catalogue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A catalogue in which each engine's package is called odd_ENGINE; what is not made there is not installed. Our own
    model lies beside it."""
    text = (catalogue_dir() / "catalogue.yaml").read_text(encoding="utf-8")
    for engine in IDS:
        text = text.replace(f"module: {package(engine).module}\n", f"module: odd_{engine}\n")
    file = tmp_path / "catalogue.yaml"
    file.write_text(text, encoding="utf-8")
    (tmp_path / "packages").mkdir()
    monkeypatch.syspath_prepend(str(tmp_path / "packages"))
    return file


def made(folder: Path, wrong: dict[str, str]) -> None:
    for engine in IDS:
        if wrong.get(engine) != "not installed":
            place = folder if engine == "whisper" else folder / "packages" / f"odd_{engine}"
            altered(place, engine, wrong.get(engine, "whole"))
    importlib.invalidate_caches()


def listened(engines: Engines, text: str, program: str = "flite", voice: str = "slt") -> tuple[str, object]:
    microphone = ArrayMicrophone(scene(0.5, say(text, program, voice), 1.5))
    heard = VoiceEar(microphone, engines.judge, engines.writer, clock=microphone).listen(CONDITION)
    return heard.outcome, heard.meaning


def test_the_catalogue_has_every_engine_of_a_walk() -> None:
    assert set(IDS.values()) == set(INSIDE)


def test_engines_that_are_whole_are_all_there_and_nothing_is_told(tmp_path: Path) -> None:
    engines = load_engines(tmp_path)
    assert (engines.judge.name, engines.judge.spells, engines.writer.name) == ("whisper", True, "moonshine")
    assert engines.warning == ""


@pytest.mark.parametrize("fault", ["damaged", "missing", "not installed"])
@pytest.mark.parametrize(
    ("engine", "judge", "spells", "writer", "effect"),
    [
        ("whisper", "moonshine", False, "moonshine", "Every okay is asked back."),
        ("pocketsphinx", "whisper", False, "moonshine", "Every okay is asked back."),
        ("moonshine", "whisper", True, "whisper", "Notes are written down less well."),
    ],
)
def test_one_that_is_not_whole_is_left_out_and_told(
    tmp_path: Path, catalogue: Path, engine: str, judge: str, spells: bool, writer: str, effect: str, fault: str
) -> None:
    made(tmp_path, {engine: fault})
    engines = load_engines(tmp_path / "cache", catalogue=catalogue)
    assert (engines.judge.name, engines.judge.spells, engines.writer.name) == (judge, spells, writer)
    assert f"The speech engine {engine} is left out" in engines.warning
    assert effect in engines.warning
    assert package(engine).repair in engines.warning
    if fault == "damaged":  # the others are left out in the same way
        assert listened(engines, "okay", "flite", "rms") == ("heard" if spells else "unsure", Ok())
        assert listened(engines, "cracked", "flite", "rms") == ("heard", Defect("cracked"))


def test_with_no_transformer_there_is_no_ear_and_what_to_do_is_told(tmp_path: Path, catalogue: Path) -> None:
    made(tmp_path, {"whisper": "damaged", "moonshine": "not installed"})
    with pytest.raises(SetupError, match="no speech engine to listen with") as told:
        load_engines(tmp_path / "cache", catalogue=catalogue)
    assert "whisper is left out" in str(told.value)
    assert "pip install --force-reinstall moonshine-voice==0.1.0" in str(told.value)


def test_the_engine_for_free_speech_is_loaded_when_it_is_needed_and_once() -> None:
    loaded: list[str] = []

    class Scribe:
        name = model = "scribe"

        def transcribe(self, audio: Audio) -> str:
            return "written"

    def make() -> Scribe:
        loaded.append("scribe")
        return Scribe()

    writer = LateWriter(make, Scribe())
    assert loaded == []
    assert [writer.transcribe(hiss(0.1)) for _ in range(3)] == ["written"] * 3
    assert loaded == ["scribe"]


def test_an_engine_for_free_speech_that_fails_when_it_is_needed_is_told_once_and_our_model_writes(
    capsys: pytest.CaptureFixture[str],
) -> None:
    class Ours:
        name = model = "ours"

        def transcribe(self, audio: Audio) -> str:
            return "written by ours"

    def make() -> Ours:
        raise SetupError("The speech model cannot be loaded.", "Reinstall it.")

    writer = LateWriter(make, Ours())
    assert [writer.transcribe(hiss(0.1)) for _ in range(2)] == ["written by ours"] * 2
    assert capsys.readouterr().err.count("cannot be loaded") == 1


# --- what is kept of an earlier look ------------------------------------------------------------------------------


def test_files_are_hashed_once_and_again_when_they_or_the_catalogue_change(tmp_path: Path, catalogue: Path) -> None:
    made(tmp_path, {})
    id, cache = IDS["pocketsphinx"], tmp_path / "cache"
    folder = whole_folder(id, cache, catalogue)
    file = folder / "model" / "en-us" / "cmudict-en-us.dict"
    before, whole = file.stat(), file.read_bytes()
    file.unlink()
    file.write_bytes(whole[:-2] + b"!\n")
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert whole_folder(id, cache, catalogue) == folder  # same size and time: not read again, as its docstring says
    os.utime(file)
    with pytest.raises(SetupError, match="pocketsphinx is left out"):
        whole_folder(id, cache, catalogue)
    file.write_bytes(whole)
    assert whole_folder(id, cache, catalogue) == folder
    catalogue.write_text(catalogue.read_text().replace("20b5c293", "00b5c293"), encoding="utf-8")
    with pytest.raises(SetupError, match="pocketsphinx is left out"):
        whole_folder(id, cache, catalogue)


@pytest.mark.parametrize("kept", [b"", b"[]", b'{"module": 1}', b"\xff"])
def test_a_note_that_cannot_be_read_counts_as_none(tmp_path: Path, catalogue: Path, kept: bytes) -> None:
    made(tmp_path, {"whisper": "damaged"})
    (tmp_path / f"whole-{IDS['whisper']}.json").write_bytes(kept)
    with pytest.raises(SetupError, match="whisper is left out"):
        whole_folder(IDS["whisper"], tmp_path, catalogue)


def test_a_folder_that_takes_no_note_is_no_error(tmp_path: Path, catalogue: Path) -> None:
    made(tmp_path, {})
    (tmp_path / "file").touch()
    assert whole_folder(IDS["whisper"], tmp_path / "file", catalogue).is_dir()


# --- a walk -------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_walk_goes_on_with_the_engines_that_are_there(tmp_path: Path) -> None:
    """The first answers of the demo's walk with the dictionary damaged: told once, and every okay doubted first."""
    altered(tmp_path / "packages" / "pocketsphinx", "pocketsphinx", "damaged")
    home = tmp_path / "home"
    (home / "vehicles").mkdir(parents=True)
    for profile in (ROOT / "demo" / "fleet").iterdir():
        (home / "vehicles" / profile.name).write_bytes(profile.read_bytes())
    command = [sys.executable, "-m", "voice", "walk", "--plain", "--vehicle", "tractor-12-trailer-40"]
    command += ["--home", str(home), "--script", str(ROOT / "demo" / "driver.yaml")]
    environment = os.environ | {"PYTHONPATH": f"{tmp_path / 'packages'}:{ROOT}"}
    errors = tmp_path / "errors"
    with errors.open("w") as stderr:
        walk = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=stderr)
        while walk.poll() is None and _lines(home) < 14:
            time.sleep(0.05)
        walk.send_signal(signal.SIGTERM)
        walk.wait()
    told = errors.read_text()
    assert told.count("The speech engine pocketsphinx is left out") == 1, told
    events = [line.event for line in journal.read(next(session.sessions(home)).journal).lines]
    okays = [event for event in events if isinstance(event, Heard | Doubted) and event.meaning == Ok()]
    assert okays
    assert all(isinstance(event, Doubted) for event in okays)


def _lines(home: Path) -> int:
    found = next(session.sessions(home), None)
    return found.journal.read_bytes().count(b"\n") if found is not None and found.journal.exists() else 0
