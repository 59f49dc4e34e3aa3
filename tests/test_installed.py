"""The built wheel, run outside the checkout: it must carry its prompts, its catalogue and its migrations."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel's content alone; what it depends on comes from this environment."""
    made = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(made), str(ROOT)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (wheel,) = made.glob("*.whl")
    target = made / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(target)
    return target


def gladhand(installed: Path, home: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(installed), "GLADHAND_HOME": str(home)}
    command = [sys.executable, "-P", "-m", "voice", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False, cwd=home, env=environment)


def test_it_runs_from_the_wheel_and_not_from_the_checkout(installed: Path, tmp_path: Path) -> None:
    code = "import voice, voice.data.folders; print(voice.__file__); print(voice.data.folders.prompts_dir())"
    environment = {**os.environ, "PYTHONPATH": str(installed)}
    done = subprocess.run(
        [sys.executable, "-P", "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path, env=environment
    )
    for line in done.stdout.splitlines():
        assert line.startswith(str(installed)), line


@pytest.mark.parametrize(
    ("arguments", "shows"),
    [
        (["--version"], "gladhand"),
        (["routes", "list"], "tractor-semitrailer"),
        (["routes", "check"], ""),
        (["limits", "check"], ""),
        (["models", "list"], "vosk"),
        (["sessions"], "No inspections"),
        (["walk", "--help"], "--vehicle"),
        (["history", "--help"], "vehicle"),
        (["recite", "--help"], "--language"),
    ],
)
def test_commands_find_their_data(installed: Path, tmp_path: Path, arguments: list[str], shows: str) -> None:
    done = gladhand(installed, tmp_path, *arguments)
    assert done.returncode == 0, done.stdout + done.stderr
    assert shows in done.stdout


def test_a_recording_that_ends_too_early_is_one_sentence_and_leaves_a_session_to_resume(
    installed: Path, tmp_path: Path
) -> None:
    import numpy as np
    import soundfile

    noise = 0.001 * np.random.default_rng(1).standard_normal(16000)
    soundfile.write(tmp_path / "short.wav", noise, 16000)
    done = gladhand(installed, tmp_path, "walk", "--vehicle", "school-bus", "--wav", "short.wav", "--plain")
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "recording has ended" in done.stderr.lower()
    assert "can be resumed" in gladhand(installed, tmp_path, "sessions").stdout
