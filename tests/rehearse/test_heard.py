"""Real audio: a synthetic voice speaks, the ear cuts and transcribes it, the credits come out; through the command."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner

from voice.cli import app
from voice.rehearse.listen.biased import expected
from voice.rehearse.listen.words import TokenReader
from voice.rehearse.progress.students import Students
from voice.sound.port import RATE
from voice.speak.synth import synthesize

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(shutil.which("flite") is None, reason="the synthesizer flite is not installed"),
]
SENTENCES = (
    "Release arm. The release arm is in the locked position, and the safety latch is engaged.",
    "Locking jaws. They are fully closed around the shank of the kingpin.",
    "Kingpin and apron. The kingpin is not bent, and the apron is not cracked.",
    "That is all.",
)


def recording(path: Path) -> Path:
    random = np.random.default_rng(3)
    pieces = [np.zeros(RATE, np.float32)]
    for sentence in SENTENCES:
        pieces += [synthesize(sentence, "flite:slt"), np.zeros(int(1.3 * RATE), np.float32)]
    audio = np.concatenate(pieces)
    soundfile.write(path, 0.5 * audio + 1e-3 * random.standard_normal(len(audio)), RATE)
    return path


def test_rehearse_a_recording(tmp_path: Path) -> None:
    home, wav = tmp_path / "home", recording(tmp_path / "student.wav")
    run = CliRunner().invoke(
        app,
        ["rehearse", "--student", "Invented One", "--section", "fifth-wheel", "--form", "test", "--wav", str(wav),
         "--home", str(home)],
    )  # fmt: skip
    assert run.exit_code == 0, run.output
    students = Students(home)
    (record,) = students.sessions(students.known("Invented One"))
    said = {part.key: set(part.said) for part in record.parts if part.named}
    assert said == {
        "release-arm": {"arm", "latch"},
        "locking-jaws": {"closed", "shank"},
        "kingpin-apron": {"kingpin", "apron"},
    }
    assert (record.points, record.slips) == (3, ())
    assert len(record.utterances) == 3
    assert 10 < record.seconds < 30
    clips = sorted((students.known("Invented One").folder / "clips").rglob("*.flac"))
    assert len(clips) == 3
    assert all(1 < soundfile.info(clip).duration < 10 for clip in clips)
    assert "3 of" in run.output

    listed = CliRunner().invoke(app, ["students", "list", "--home", str(home)])
    assert "Invented One" in listed.output
    page = tmp_path / "page.html"
    shown = CliRunner().invoke(
        app, ["progress", "--html", str(page), "--csv", str(tmp_path / "p.csv"), "--home", str(home)]
    )
    assert shown.exit_code == 0, shown.output
    assert "Invented One" in page.read_text(encoding="utf-8")
    following = CliRunner().invoke(app, ["students", "next", "Invented One", "--minutes", "1", "--home", str(home)])
    assert "not yet" in following.output
    gone = CliRunner().invoke(app, ["students", "delete", "Invented One", "--yes", "--home", str(home)])
    assert "1 rehearsals, 3 clips" in gone.output
    assert not [path for path in (home / "students").rglob("*") if path.is_file()]


def test_recite_renders_a_section_in_both_languages(tmp_path: Path) -> None:
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    lengths = {}
    for language in ("en", "es"):
        path = tmp_path / f"{language}.flac"
        run = CliRunner().invoke(
            app,
            ["recite", "--section", "fifth-wheel", "--length", "full", "--language", language, "--render", str(path)],
        )
        assert run.exit_code == 0, run.output
        sheet = path.with_suffix(".cue").read_text(encoding="utf-8")
        assert sheet.count("TRACK") == 9  # the title and eight parts
        lengths[language] = soundfile.info(path).duration
    assert "Mordazas" in sheet
    assert 60 < lengths["en"] < 240
    assert 60 < lengths["es"] < 300


def test_nothing_that_changes_a_meaning_is_expected() -> None:
    """The recognizer is never nudged towards a "not" or a figure."""
    from voice.rehearse.lesson.course import open_course

    reader = TokenReader.shipped()
    phrases = expected(open_course(None, "tractor-trailer-five-axle", None).syllabus.parts, reader)
    assert len(phrases) > 300
    roles = {token.role for phrase in phrases for token in reader.tokens(phrase)}
    assert roles == {"word", "filler"}, json.dumps(sorted(roles))
