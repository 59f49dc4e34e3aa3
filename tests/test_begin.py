"""Before the walk: what is asked by voice, and what is refused before anything is on the disk."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.walk.scripted_walk import DEMO, Transcript
from voice.errors import SetupError
from voice.hear.port import Hearing, Speaking
from voice.journal import folder as session
from voice.journal.folder import Session
from voice.judge import load_limits
from voice.route import load_vehicle, make_plan
from voice.route.vehicle import Vehicle
from voice.session import inspection as run
from voice.session.asking import Asker, Pick
from voice.session.resources import Shop, open_shop
from voice.sound.recording import AudioClock
from voice.understand.question import Question
from voice.walk.event import Started


class Answers:
    """An ear that hears these words in turn; "" is silence, "?" in front makes it unsure."""

    def __init__(self, *texts: str) -> None:
        self.texts = list(texts)

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        text = self.texts.pop(0)
        if not text:
            return Hearing("silence")
        words = text.removeprefix("?")
        return Hearing("unsure" if text.startswith("?") else "heard", question.meanings[words], words, 0.9)

    def close(self) -> None:
        """Nothing is held."""


class Began:
    """An asker with its transcript."""

    def __init__(self, shop: Shop, *texts: str) -> None:
        self.transcript = Transcript(AudioClock())
        self.ear = Answers(*texts)
        self.asker = Asker(self.ear, self.transcript, shop.book, shop.talk.setup)


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return open_shop(tmp_path)


def vehicle(name: str) -> Vehicle:
    return load_vehicle(DEMO / "fleet" / f"{name}.yaml")


def begun(shop: Shop, name: str) -> Session:
    """An open inspection of a vehicle, with nothing answered yet."""
    plan, limits = make_plan(shop.library, vehicle(name)), load_limits()
    new, lock, log = session.create(shop.home, plan, limits, driver=None, drivers=(), odometer=None, length="normal")
    log.append(Started(0.0), 0.0)
    log.close()
    lock.release()
    return new


def test_an_open_inspection_is_offered(shop: Shop) -> None:
    open_ = begun(shop, "truck-7")
    began = Began(shop, "yes")
    assert run._ask_resume(shop, began.asker, None) == open_
    assert "truck seven" in began.transcript.log[0]


def test_with_a_vehicle_only_its_own_open_inspection_is_offered(shop: Shop) -> None:
    truck = begun(shop, "truck-7")
    begun(shop, "tractor-12-trailer-40")
    assert run._ask_resume(shop, Began(shop, "yes").asker, vehicle("truck-7")) == truck
    assert run._ask_resume(shop, Began(shop, "no").asker, vehicle("truck-7")) is None


def test_a_damaged_one_is_passed_over(shop: Shop) -> None:
    good = begun(shop, "truck-7")
    bad = begun(shop, "truck-7")
    bad.journal.write_bytes(bad.journal.read_bytes().replace(b"started", b"stopped"))
    assert run._ask_resume(shop, Began(shop, "yes").asker, None) == good


def test_silence_and_doubt_ask_again_and_nobody_is_told_so(shop: Shop) -> None:
    picks = [Pick("a", ("truck seven",)), Pick("b", ("tractor twelve",))]
    began = Began(shop, "", "?truck seven", "no", "?tractor twelve", "yes")
    assert began.asker.pick("vehicle", "Which?", picks, "Again?") == "b"
    with pytest.raises(SetupError, match="Nobody answered"):
        Began(shop, *[""] * 9).asker.pick("vehicle", "Which?", picks, "Again?")
    with pytest.raises(SetupError, match="Stopped"):
        Began(shop, "stop").asker.pick("vehicle", "Which?", picks, "Again?")


def test_the_damage_names_the_inspection_to_mend(shop: Shop) -> None:
    bad = begun(shop, "truck-7")
    bad.journal.write_bytes(bad.journal.read_bytes().replace(b"started", b"stopped"))
    assert f"gladhand resume {bad.id} --salvage" in run._state_of(shop, bad) + _hint(bad)


def _hint(found: Session) -> str:
    from voice.journal import journal

    with pytest.raises(journal.DamageError) as damage:
        journal.read(found.journal)
    return damage.value.hint


def test_the_drivers_file_must_be_a_list_of_names(shop: Shop) -> None:
    (shop.home / "drivers.yaml").write_text("Rosa Quill: yes\n")
    with pytest.raises(SetupError, match="not a list of names"):
        run.known_drivers(shop.home)
    (shop.home / "drivers.yaml").write_text("- Rosa Quill\n- Ivo Lantern\n")
    assert run.known_drivers(shop.home) == ("Rosa Quill", "Ivo Lantern")
