"""The guided reading: what is asked, kept, used, listed and deleted."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from tests.walk.scripted_walk import Transcript
from tests.walk.talkative import context
from voice.cli import app
from voice.errors import RecordError
from voice.hear.ear import VoiceEar
from voice.hear.likeness import Reading
from voice.hear.port import Hearing, Speaking
from voice.hear.thresholds import DEFAULT
from voice.hear.transformer import Judged, Spelled
from voice.journal import folder as session
from voice.journal.clips import Clips
from voice.journal.folder import Beginning
from voice.session.attuned import ENOUGH, Attuned, Shelf, likeness_of, model
from voice.session.confirmed import learn
from voice.session.equipment import Equipment
from voice.session.loop import Devices
from voice.session.readaloud import ORDER, WORDS, begun, read_aloud
from voice.sound.port import Audio
from voice.sound.recording import ArrayMicrophone, AudioClock
from voice.understand.meaning import Defect, No, Ok, Stop, Yes
from voice.understand.question import Question
from voice.walk.event import Doubted, Event, Heard, Silence, Started

OKIE = Reading("okay", {"okay": -3.0, "okie": -0.5}, {"okay": -9.0, "okie": -2.0}, 0.0)


class Reader(VoiceEar):
    """Hears what was to be read, as said by someone whose okay is heard as "okie"; "" is silence, "stop" stops."""

    def __init__(self, instead: Sequence[str] = ()) -> None:
        self.instead = list(instead)
        self.asked: list[str] = []
        self.attuned: list[object] = []

    def attune(self, like: object) -> None:
        self.attuned.append(like)

    def close(self) -> None:
        """Nothing is held."""

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        self.asked.append((question.step or "").removeprefix("say:"))
        self.said = self.instead.pop(0) if self.instead else self.asked[-1]
        if not self.said:
            return Hearing("silence")
        if self.said == "stop":
            return Hearing("heard", Stop(), "stop", 0.99, audio=np.zeros(1600, np.float32))
        return Hearing("unsure", audio=np.zeros(1600, np.float32))

    def judge(self, audio: Audio, question: Question) -> Judged:
        said = {"okay": {"okay": -3.0, "okie": -0.5}}.get(self.said, {self.said: -0.2})
        return Judged(said, -14.0, self.said, -0.2, Spelled({text: 3 * n for text, n in said.items()}, 0.0, -40.0))


def equipment(*instead: str) -> tuple[Equipment, Reader]:
    ear, clock = Reader(instead), AudioClock()
    return Equipment(Devices(ear, Transcript(clock), clock, lambda: None)), ear


def test_every_plain_okay_is_read_three_times_and_never_twice_running() -> None:
    assert set(WORDS) == DEFAULT.okays
    assert all(ORDER.count(word) == 3 for word in WORDS)
    assert len(ORDER) == 24
    assert all(a != b for a, b in pairwise(ORDER))


def test_a_whole_reading_is_kept_as_numbers_and_used_by_that_drivers_walks(tmp_path: Path) -> None:
    devices, ear = equipment()
    shelf = Shelf(tmp_path)
    done = read_aloud(devices, shelf, begun(shelf, "Rosa Quill"), lambda text: None)
    assert ear.asked == list(ORDER)
    assert done == shelf.load("rosa  quill")
    assert [file.name for file in (tmp_path / "attuned").iterdir()] == [shelf.file("Rosa Quill").name]
    assert shelf.file("Rosa Quill").stat().st_mode & 0o077 == 0
    assert likeness_of(tmp_path, "Rosa Quill") == {"okay": ("okie",)}
    assert likeness_of(tmp_path, "Somebody Else") == {}
    assert likeness_of(tmp_path, None) == {}
    Equipment(devices.devices, home=tmp_path).attune("Rosa Quill")
    assert ear.attuned == [{}, {"okay": ("okie",)}]  # read as anybody, heard as Rosa Quill


def test_the_real_ear_hears_as_it_is_told() -> None:
    class Engine:
        name, model, spells = "engine", "test", True

        def judge(self, audio: Audio, phrases: Sequence[str], names: Sequence[str] = ()) -> Judged:
            scores = {"okie": -0.2, "okay": -3.0}
            assert set(scores) <= set(phrases)
            return Judged(scores, -14.0, "okie", -0.1, Spelled({"okie": -1.4, "okay": -7.0}, -1.0, -40.0))

    from tests.hear.test_fusion import QUESTION

    ear = VoiceEar(ArrayMicrophone(), Engine(), Engine())  # type: ignore[arg-type]
    audio = np.zeros(1600, np.float32)
    assert ear._decide(audio, QUESTION).outcome != "heard"
    assert ear._hearing(QUESTION, ear._decide(audio, QUESTION), audio, 0.0).engine == "engine"
    ear.attune({"okay": ("okie",)})
    decision = ear._decide(audio, QUESTION)
    assert decision.phrase is not None
    assert decision.phrase.text == "okay"
    assert ear._hearing(QUESTION, decision, audio, 0.0).engine == "engine+attuned"  # the record says so


def test_stopped_it_goes_on_where_it_stopped(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    devices, _ = equipment("okay", "looks good", "stop")
    stopped = read_aloud(devices, shelf, begun(shelf, "Rosa Quill"), lambda text: None)
    assert stopped.asked == 2
    assert likeness_of(tmp_path, "Rosa Quill") == {}  # too little was read
    devices, ear = equipment()
    read_aloud(devices, shelf, begun(shelf, "Rosa Quill"), lambda text: None)
    assert ear.asked == list(ORDER[2:])
    assert begun(shelf, "Rosa Quill").asked == 0  # whole: the next reading takes its place
    assert begun(shelf, "Rosa Quill", anew=True).asked == 0


def test_when_nobody_reads_it_ends(tmp_path: Path) -> None:
    devices, ear = equipment(*[""] * 99)
    read_aloud(devices, Shelf(tmp_path), begun(Shelf(tmp_path), "Rosa Quill"), lambda text: None)
    assert len(ear.asked) == 6  # three words, each asked twice


def test_a_reading_of_other_words_changes_nothing(tmp_path: Path) -> None:
    devices, _ = equipment(*["cracked"] * 99)
    done = read_aloud(devices, Shelf(tmp_path), begun(Shelf(tmp_path), "Rosa Quill"), lambda text: None)
    assert done.read == ()
    assert likeness_of(tmp_path, "Rosa Quill") == {}


def test_half_of_it_must_be_understood() -> None:
    few = Attuned(name="Rosa Quill", model=model(), asked=24, read=(OKIE,) * (ENOUGH - 1))
    assert few.likeness == {}
    assert few.model_copy(update={"read": (OKIE,) * ENOUGH}).likeness == {"okay": ("okie",)}


def test_of_another_model_or_damaged_it_is_not_used_and_that_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shelf = Shelf(tmp_path)
    shelf.keep(Attuned(name="Rosa Quill", model="old", asked=24, read=(OKIE,) * 24))
    assert likeness_of(tmp_path, "Rosa Quill") == {}
    assert "earlier model" in capsys.readouterr().err
    shelf.file("Rosa Quill").write_text("{")
    assert likeness_of(tmp_path, "Rosa Quill") == {}
    assert "is damaged" in capsys.readouterr().err
    with pytest.raises(RecordError, match="damaged"):
        begun(shelf, "Rosa Quill")


def walked(home: Path, driver: str, answers: Sequence[tuple[Event, Event]]) -> None:
    """A session of this driver with these events, each with the recording of a second."""
    known = context(only=("wipers",))
    found, lock, log = session.create(home, known.plan, known.limits, Beginning(driver, (driver,)))
    with lock:
        log.append(Started(0.0), 0.0)
        for events in answers:
            for event in events:
                log.append(event, 0.0, Clips(found.clips).keep(log.count, np.zeros(16000, np.float32)))
        log.close()


class Okie:
    """A model that hears every okay as "okie"."""

    spells = True

    def judge(self, audio: Audio, phrases: Sequence[str], names: Sequence[str] = ()) -> Judged:
        assert {"okay", "okie"} <= set(phrases)
        return Judged({"okay": -3.0, "okie": -0.5}, -14.0, "", 0.0, Spelled({"okay": -9.0, "okie": -2.0}, 0.0, -40.0))


def test_okays_that_were_asked_back_and_confirmed_teach(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    okay, yes = Doubted(1.0, Ok(), "okay", 0.8), Heard(1.0, Yes(), "yes", 0.99)
    others: list[tuple[Event, Event]] = [
        (okay, Heard(1.0, No(), "no", 0.99)),
        (okay, Silence(1.0)),
        (Doubted(1.0, Defect("cracked"), "cracked", 0.8), yes),
        (Doubted(1.0, Ok(), "not leaking", 0.8), yes),
        (okay, Heard(1.0, Yes(), "yes", 0.99, early=True)),
        (Heard(1.0, Ok(), "okay", 0.99), yes),
    ]
    walked(tmp_path, "Rosa Quill", [(okay, yes), *others, (okay, yes)])
    walked(tmp_path, "Bo Tally", [(okay, yes)])
    shelf = Shelf(tmp_path)
    one = learn(tmp_path, shelf.current("rosa quill"), Okie())  # type: ignore[arg-type]
    assert [key.rpartition("/")[2] for key in one.confirmed] == ["1", "15"]
    assert one.likeness == {"okay": ("okie",)}
    assert learn(tmp_path, one, Okie()) == one  # type: ignore[arg-type] # nothing counts twice
    first = next(iter(one.confirmed)).partition("/")[0]
    (tmp_path / "sessions" / first / "clips" / "00001.flac").write_bytes(b"damaged")
    (tmp_path / "sessions" / first / "clips" / "00015.flac").unlink()
    assert learn(tmp_path, shelf.current("rosa quill"), Okie()).confirmed == {}  # type: ignore[arg-type]
    assert "cannot be read" in capsys.readouterr().err


def test_all_of_it_can_be_listed_and_deleted(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    devices, _ = equipment()
    read_aloud(devices, shelf, begun(shelf, "Rosa Quill"), lambda text: None, sound=True)
    shelf.keep(Attuned(name="Bo Tally", model=model()))
    sounds = shelf.file("Rosa Quill").with_suffix("")
    assert len(list(sounds.iterdir())) == 24
    run = CliRunner().invoke
    listed = run(app, ["attune", "list", "--home", str(tmp_path)]).output
    assert "Rosa Quill: 24 of 24 words understood" in listed
    assert '"okay" may sound like "okie"' in listed
    assert run(app, ["attune", "forget", "ROSA QUILL", "--home", str(tmp_path)]).exit_code == 0
    assert [file.name for file in (tmp_path / "attuned").iterdir()] == [shelf.file("Bo Tally").name]
    assert run(app, ["attune", "forget", "Rosa Quill", "--home", str(tmp_path)]).exit_code != 0
    assert run(app, ["attune", "forget", "x" * 101, "--home", str(tmp_path)]).exit_code != 0
    shelf.file("Bo Tally").write_text("damaged")
    assert run(app, ["attune", "forget", "Bo Tally", "--home", str(tmp_path)]).exit_code == 0
    assert list((tmp_path / "attuned").iterdir()) == []
