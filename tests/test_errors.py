"""Errors as they reach the terminal: one line, nothing a terminal would obey, whatever is wrong with the streams."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from voice.errors import DataError, GladhandError

RUN = [sys.executable, "-m", "voice"]


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    env = {**os.environ, **environment}
    return subprocess.run([*RUN, *arguments], capture_output=True, env=env, timeout=120, check=False)


@pytest.mark.parametrize(
    "text", ["\x1b[2J", "a\nb", "a\rb", "\x07", "\u202eabc", "\ud800", "\ufeff", "\x9b2J", "\u2066x"]
)
def test_what_a_terminal_would_obey_is_escaped(text: str) -> None:
    for error in (GladhandError(text, text), DataError("x", text, file=Path(text), line=1)):
        assert text not in str(error)
        assert str(error).isprintable()


def test_a_file_with_a_hostile_name_is_named_harmlessly(tmp_path: Path) -> None:
    vehicles = tmp_path / "home" / "vehicles"
    vehicles.mkdir(parents=True)
    (vehicles / "\x1b[2J.yaml").write_text("a: [", encoding="utf-8")
    done = run("routes", "list", "--home", str(tmp_path / "home"))
    assert done.returncode == 1
    assert b"\x1b" not in done.stdout + done.stderr
    assert b"\\x1b[2J.yaml" in done.stderr


@pytest.mark.parametrize("argument", ["\x1b[2J", "a\nb", "\udcff"])
def test_an_argument_that_cannot_be_shown_is_refused(argument: str) -> None:
    for command in (("limits", "show", argument), ("walk", argument), ("export", f"--{argument}")):
        done = run(*command)
        assert done.returncode == 2
        assert len(done.stderr.splitlines()) == 1
        assert b"\x1b" not in done.stderr


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_a_stream_that_is_not_utf_8_stops_nothing(encoding: str) -> None:
    plain = {"LC_ALL": "C", "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    for command, code in ((["limits", "list"], 0), (["routes", "facts"], 0), (["limits", "show", "\u20ac\u4e00"], 2)):
        done = run(*command, **plain)
        assert done.returncode == code, done.stderr
        assert b"Traceback" not in done.stderr


def test_a_reader_that_goes_away_is_no_error() -> None:
    command = f"'{sys.executable}' -m voice export --schema | head -c 100"
    done = subprocess.run(["sh", "-c", command], capture_output=True, timeout=120, check=False)
    assert len(done.stdout) == 100
    assert done.stderr == b""


def test_an_argument_longer_than_any_path_is_refused_in_one_short_sentence() -> None:
    found = run("verify", "x" * 5000)
    assert (found.returncode, len(found.stderr.splitlines())) == (2, 1)
    assert b"5,000 characters" in found.stderr
    assert len(found.stderr) < 300


LEFT_BEHIND = """
import sys, threading
from voice.cli import main
from voice.sound.blocks import Intake

def hold():
    kept = Intake(44100.0, 1)
    held.set()
    threading.Event().wait()

held = threading.Event()
threading.Thread(target=hold, daemon=True).start()
held.wait()
sys.argv = ["gladhand", *sys.argv[1:]]
main()
"""


def test_what_libraries_print_while_the_program_ends_is_not_shown() -> None:
    """The resampler's library lists what a thread still held; but what the command itself says is shown."""
    for arguments, code, lines in (["--version"], 0, 0), (["limits", "show", "nothing"], 2, 1):
        done = subprocess.run([sys.executable, "-c", LEFT_BEHIND, *arguments], capture_output=True, check=False)
        assert (done.returncode, len(done.stderr.splitlines())) == (code, lines), done.stderr
