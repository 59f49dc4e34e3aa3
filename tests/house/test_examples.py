"""The small examples run as they say they are run, and show what they say."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.record.walks import signed
from tests.route.test_route_cli import run as gladhand
from voice.speak.synth import program

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "demo" / "examples"


def run(name: str, *arguments: str, code: int = 0) -> str:
    command = [sys.executable, str(EXAMPLES / f"{name}.py"), *arguments]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == code, done.stdout + done.stderr
    assert done.stderr == ""
    return done.stdout


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.py")), ids=lambda path: path.stem)
def test_each_is_small_and_says_what_it_shows_and_how_it_is_run(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert f"python demo/examples/{path.name}" in (ast.get_docstring(ast.parse(text)) or "")
    assert len(text.splitlines()) <= 60


def test_a_reading_is_judged_with_limit_and_source() -> None:
    said = run("judge_reading")
    assert "repair: at least 4/32 in" in said
    assert "49 CFR 393.75(b) (read), from us-federal.yaml" in said
    assert "repair" not in run("judge_reading", "5/32")


def test_sentences_are_understood_as_answers_to_an_item() -> None:
    said = run("understand")
    assert '"leaking": the defect "leaking"' in said
    assert '"the weather is fine": not understood' in said
    assert '"9/32": 9/32 in' in run("understand", "tire-tread", "9/32")


@pytest.mark.slow
@pytest.mark.skipif(program("espeak") is None, reason="the synthesizer espeak-ng is not installed")
def test_a_word_in_noise_is_heard_and_a_drowned_one_is_not_taken_as_okay() -> None:
    assert '"leaking": heard, as "leaking"' in run("hear_a_word")
    assert '"okay": heard' not in run("hear_a_word", "okay", "-5")


def test_a_walk_without_sound_is_a_conversation() -> None:
    said = run("walk_without_sound")
    assert "you: three thirty seconds" in said
    assert "The limit is at least four thirty seconds of an inch. Is that right?" in said
    assert "Repair before leaving, two: hoses leaking, left steer tread." in said
    (transcript,) = [
        part for part in (ROOT / "README.md").read_text(encoding="utf-8").split("\n\n") if "you: leaking" in part
    ]
    assert transcript.split() == said.split(), "the README wraps it"


def test_a_record_is_verified(tmp_path: Path) -> None:
    record = signed(tmp_path)
    (path,) = tmp_path.glob("sessions/*/record.json")
    said = run("verify_record", str(path), str(tmp_path), code=0)
    assert f"unchanged since it was sealed, {record.record_sha256[:16]}" in said
    path.write_text(path.read_text().replace(record.vehicle.name, "another", 1))
    assert "record: " in run("verify_record", str(path), str(tmp_path), code=1)
    alone = subprocess.run(
        [sys.executable, str(EXAMPLES / "verify_record.py")], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert alone.returncode == 1
    assert alone.stderr.startswith("Give the record's file: python demo/examples/verify_record.py RECORD.json")
    assert len(alone.stderr.splitlines()) == 1


def test_the_folder_of_ones_own_that_the_readme_copies(tmp_path: Path) -> None:
    """One prompt worded anew, and an item with a limit of its own."""
    shutil.copytree(ROOT / "demo" / "own", tmp_path, dirs_exist_ok=True)
    assert "No mistakes" in gladhand("check", home=tmp_path).stdout
    assert "Every hose whole and dry" in gladhand("say", "leaking", "--item", "hoses", home=tmp_path).stdout
    said = gladhand("say", "one sixty one", "--item", "load height", home=tmp_path)
    assert "load-height: at most 160 in (our gate is 162 inches high): repair before leaving." in said.stdout
    assert "repair" not in gladhand("say", "one sixty", "--item", "load height", home=tmp_path).stdout
