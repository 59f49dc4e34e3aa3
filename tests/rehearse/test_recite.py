"""Reading in order, commands in the gaps, one file with chapters."""

import json
import shutil
import subprocess
import tempfile
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.rehearse.parts import PARTS
from voice.errors import DataError, SetupError
from voice.hear.port import Hearing, Speaking
from voice.rehearse.listen.part import Syllabus
from voice.rehearse.recite.player import Gaps, play
from voice.rehearse.recite.recite import Recital, gap, lines, step
from voice.rehearse.recite.render import Chapter, Target, cue_sheet, render
from voice.rehearse.wording import recite_file
from voice.route.model import Section
from voice.sound.port import RATE, Audio
from voice.understand.meaning import Chosen
from voice.understand.question import Question
from voice.walk.event import CueName

FILE = recite_file()
PROGRAMME = Syllabus(
    "invented",
    "Invented route",
    "v",
    (Section(id="engine", title="Engine"), Section(id="steer", title="Steer axle")),
    PARTS,
)
LINES = lines(PROGRAMME, FILE.say, length="normal")


def test_walking_order_with_titles() -> None:
    assert [line.key for line in LINES if not line.is_title] == [part.key for part in PARTS]
    assert [(at, line.section) for at, line in enumerate(LINES) if line.is_title] == [(0, "engine"), (8, "steer")]


@pytest.mark.parametrize(("length", "wanted"), [("terse", "Alternator."), ("normal", "Alternator. securely mounted")])
def test_lengths(length: str, wanted: str) -> None:
    made = lines(PROGRAMME, FILE.say, length=length)  # type: ignore[arg-type]
    assert next(line.text for line in made if line.key == "alternator").startswith(wanted)
    full = next(line.text for line in lines(PROGRAMME, FILE.say) if line.key == "alternator")
    assert PARTS[2].say.full in full


def test_only_one_section_and_unknown_ones_refused() -> None:
    assert {line.section for line in lines(PROGRAMME, FILE.say, section="steer")} == {"steer"}
    with pytest.raises(DataError, match="engine, steer"):
        lines(PROGRAMME, FILE.say, section="roof")


def test_commands() -> None:
    here = Recital(LINES, at=3)
    assert step(here, None, FILE).at == 4
    assert step(here, "again", FILE).at == 3
    assert step(here, "back", FILE).at == 2
    assert step(replace(here, at=0), "back", FILE).at == 0
    assert step(here, "next", FILE).at == 8
    assert step(replace(here, at=9), "next", FILE).over
    slower = step(here, "slower", FILE)
    assert (slower.at, slower.told) == (3, FILE.say.slower)
    assert slower.pace < here.pace < step(here, "faster", FILE).pace
    assert step(here, "stop", FILE).over


def test_pace_stays_within_its_bounds() -> None:
    now = Recital(LINES)
    for _ in range(30):
        now = step(now, "slower", FILE)
    assert now.pace == FILE.pace_least


class Clock:
    def __init__(self) -> None:
        self.seconds = 0.0

    def now(self) -> float:
        return self.seconds


class Voice:
    """Says everything in a tenth of a second a letter, by the clock; keeps what it said."""

    name = "test"

    def __init__(self, clock: Clock, log: list[str], pace: float) -> None:
        self._clock, self._log, self._pace = clock, log, pace

    def say(self, text: str) -> None:
        self._log.append(text)
        self._clock.seconds += 0.1 * len(text) / self._pace

    def cue(self, name: CueName) -> None: ...

    def close(self) -> None: ...


class Ear:
    """Hears these commands, one a listening; else silence for as long as it is patient."""

    def __init__(self, clock: Clock, answers: list[str]) -> None:
        self._clock, self._answers, self.patience = clock, answers, list[float]()

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        self.patience.append(question.patience)
        said = self._answers.pop(0) if self._answers else ""
        if not said:
            self._clock.seconds += question.patience
            return Hearing("silence")
        if said not in question.meanings:
            return Hearing("unclear", words=said)
        return Hearing("heard", question.meanings[said], said, 1.0)

    def close(self) -> None: ...


def test_hands_free() -> None:
    clock, log = Clock(), list[str]()
    ear = Ear(clock, ["", "again", "slower", "securely mounted and so on", "next section", "", "stop"])
    ended = play(Recital(LINES), FILE, lambda pace: Voice(clock, log, pace), Gaps(clock, lambda _: None, ear))
    texts = [line.text for line in LINES]
    assert log == [
        texts[0], texts[1], texts[1], FILE.say.slower, texts[1], texts[2], texts[8], texts[9], FILE.say.stopped
    ]  # fmt: skip
    assert ended.stopped
    assert ear.patience[0] == FILE.title_seconds
    assert ear.patience[1] == pytest.approx(0.1 * len(texts[1]) * FILE.gap_share + FILE.gap_seconds)


def test_every_command_of_the_data_is_understood() -> None:
    for name, texts in FILE.commands.items():
        for text in texts:
            clock, log = Clock(), list[str]()
            ear = Ear(clock, [text])
            play(
                Recital(LINES[:3]),
                FILE,
                partial(Voice, clock, log),
                Gaps(clock, lambda _: None, ear),
            )
            assert (len(log) == 2) == (name in ("stop", "next")), name


def test_without_a_microphone_the_gaps_are_waited_for() -> None:
    clock, log, waits = Clock(), list[str](), list[float]()
    play(Recital(LINES), FILE, lambda pace: Voice(clock, log, pace), Gaps(clock, waits.append))
    assert log[:-1] == [line.text for line in LINES]
    assert len(waits) == len(LINES)


def tone(text: str) -> Audio:
    return np.full(len(text) * 160, 0.1, np.float32)


def test_rendered_file_has_the_chapters_and_length_of_its_lines(tmp_path: Path) -> None:
    done = render(LINES, Target(tmp_path / "r.flac", "Invented"), FILE, tone)
    wanted = sum(len(line.text) / 100 + gap(line, len(line.text) / 100, FILE) for line in LINES)
    audio, rate = soundfile.read(done.path)
    assert rate == RATE
    assert len(audio) / RATE == pytest.approx(done.seconds)
    assert done.seconds == pytest.approx(wanted, abs=0.01)
    assert [chapter.title for chapter in done.chapters] == ["Engine", "Steer axle"]
    assert done.cue is not None
    sheet = done.cue.read_text()
    assert sheet.count("TRACK") == 2
    assert 'FILE "r.flac" WAVE' in sheet
    assert done.chapters[-1].end == pytest.approx(done.seconds)


def test_one_section_has_a_chapter_for_each_part(tmp_path: Path) -> None:
    made = lines(PROGRAMME, FILE.say, section="steer")
    done = render(made, Target(tmp_path / "r.wav", "x", gaps=False), FILE, tone)
    assert len(done.chapters) == len(made)


def test_cue_times_are_in_frames_of_a_75th() -> None:
    """Cue sheets count minutes:seconds:frames at 75 frames a second (the compact disc's sectors, IEC 60908)."""
    sheet = cue_sheet("a.flac", 't"x', [Chapter("one", 0, 125.5), Chapter("two", 125.5, 200)])
    assert "INDEX 01 00:00:00" in sheet
    assert "INDEX 01 02:05:37" in sheet
    assert 'TITLE "t\'x"' in sheet


def test_chapters_inside_a_file_as_ffprobe_reads_them(tmp_path: Path) -> None:
    if shutil.which("ffmpeg") is None or shutil.which("ffprobe") is None:
        pytest.skip("ffmpeg is not installed")
    done = render(LINES, Target(tmp_path / "r.m4b", "Invented; =route"), FILE, tone)
    command = ["ffprobe", "-v", "error", "-show_chapters", "-show_format", "-of", "json", str(done.path)]
    shown = json.loads(subprocess.run(command, capture_output=True, check=True).stdout)
    assert [chapter["tags"]["title"] for chapter in shown["chapters"]] == ["Engine", "Steer axle"]
    assert float(shown["chapters"][1]["start_time"]) == pytest.approx(done.chapters[1].start, abs=0.01)
    assert float(shown["format"]["duration"]) == pytest.approx(done.seconds, abs=0.2)
    assert shown["format"]["tags"]["title"] == "Invented; =route"


def test_a_kill_while_chapters_are_written_leaves_nothing_in_the_temporary_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if shutil.which("ffmpeg") is None:
        pytest.skip("ffmpeg is not installed")
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    found: list[Path] = []

    def watched(text: str) -> Audio:
        found.extend(folder.iterdir())  # what a kill at this moment would leave
        return tone(text)

    render(LINES, Target(tmp_path / "r.m4b", "Invented"), FILE, watched)
    assert found == []


def test_unknown_kinds_of_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="flac"):
        render(LINES, Target(tmp_path / "r.doc", "x"), FILE, tone)


def test_command_phrases_mean_one_thing_each() -> None:
    phrases = [text for texts in FILE.commands.values() for text in texts]
    assert len(phrases) == len(set(phrases))
    assert all(isinstance(Chosen(name), Chosen) for name in FILE.commands)
