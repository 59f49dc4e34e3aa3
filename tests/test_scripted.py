"""A scripted driver whose answer is never understood comes to an end, with a sentence that says where."""

from __future__ import annotations

import pytest

from tests.walk.talkative import Talk, context
from voice.data.folders import prompts_dir
from voice.errors import DataError
from voice.session.intended import Intended
from voice.session.script import ScriptLine, load_script
from voice.session.scripted import ScriptedDriver
from voice.sound.recording import AudioClock
from voice.understand.meaning import Defect, Meaning, NotApplicable
from voice.walk.event import Doubted, Heard, Say

DEMO = prompts_dir().parent / "demo"
MOST = 500  # questions; a driver who has not given up by then never does


class Silent(ScriptedDriver):
    """Their words are not turned into sound: what is heard of them is given by the test."""

    words = ""

    def speak(self, text: str, wait: float = 0.0) -> None:
        self.words = text


def misheard(meaning: Meaning, *, sure: bool) -> Talk:
    """A walk in which "okay" is heard as this; all else is heard well."""
    known = context(only=("hoses", "belts", "radiator"))
    driver, talk = Silent(load_script(DEMO / "short.yaml"), AudioClock()), Talk(known)
    driver.meet(known)
    for _ in range(MOST):
        for effect in talk.effects:
            if isinstance(effect, Say):
                driver.said(effect.text)
        driver.asked(talk.state, talk.question)
        talk.clock += 2
        wrong = driver.words == "okay"
        event = Heard if sure or not wrong else Doubted
        heard = meaning if wrong else talk.meaning(driver.words)
        talk.send(event(talk.clock, heard, driver.words, onset=talk.clock))
        driver.turned(talk.state, talk.events[-1])
        if talk.closed:
            break
    return talk


WRONG = [Defect("leaking"), Defect(), NotApplicable()]


@pytest.mark.parametrize("meaning", WRONG)
def test_a_driver_who_is_misheard_again_and_again_gives_up(meaning: Meaning) -> None:
    with pytest.raises(DataError, match='misheard at "hoses" again and again') as told:
        misheard(meaning, sure=True)
    assert "in the script" in str(told.value)


@pytest.mark.parametrize("meaning", WRONG)
def test_one_whose_answer_is_doubted_again_and_again_says_it_in_other_words(meaning: Meaning) -> None:
    assert misheard(meaning, sure=False).closed


def test_a_script_without_a_gauge_s_reading_says_which_step_lacks_it() -> None:
    line = ScriptLine(step="air-leak-static", end=("100 psi",))
    assert line.reading("end", 0) == "100 psi"
    with pytest.raises(DataError, match="air-leak-static"):
        line.reading("start", 0)
    with pytest.raises(DataError, match="gauge 2"):
        line.reading("end", 1)


def test_an_answer_that_is_not_listened_for_is_refused_before_anything_is_said() -> None:
    """Else the driver would say something else, in a look at least, and nobody would notice."""
    line = ScriptLine(step="hoses", ask="she's about to burst")
    script = load_script(DEMO / "short.yaml").model_copy(update={"steps": (line,)})
    with pytest.raises(DataError, match='answers "she\'s about to burst" at "hoses", which is not listened for'):
        Intended(script, context(only=("hoses",)))


def test_a_follow_up_that_the_step_has_not_is_refused_before_anything_is_said() -> None:
    line = ScriptLine(step="brake-lights", ask="defect", which="lamp out", follow={"sides": "left"})
    script = load_script(DEMO / "short.yaml").model_copy(update={"steps": (line,)})
    with pytest.raises(DataError, match='the follow-up "sides" of "brake-lights", which is not there') as refused:
        Intended(script, context(only=("brake-lights",)))
    assert "side" in refused.value.hint


def test_a_defect_that_is_not_listened_for_is_refused_before_anything_is_said() -> None:
    """Else it would be said over and over, and never understood."""
    line = ScriptLine(step="hoses", ask="defect", which="purple")
    script = load_script(DEMO / "short.yaml").model_copy(update={"steps": (line,)})
    with pytest.raises(DataError, match='says "purple" is wrong at "hoses", which is not listened for') as refused:
        Intended(script, context(only=("hoses",)))
    assert "leaking" in refused.value.hint
