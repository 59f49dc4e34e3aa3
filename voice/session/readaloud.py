"""The guided reading: a driver says each word of an okay three times, and what is heard of it is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.hear.likeness import Reading, counts, reading
from voice.hear.port import Hearing
from voice.session.attuned import Attuned, Shelf
from voice.session.equipment import Equipment
from voice.session.scripted import SAY
from voice.sound.port import Audio
from voice.understand.meaning import Command, Stop
from voice.understand.phrases import Phrasebook
from voice.understand.question import Question, join

# The words that mean "nothing wrong" of anything (thresholds.okays), three times, never the same twice in a row.
WORDS = ("okay", "looks good", "fine", "all clear", "check", "good", "clear", "all good")
ORDER = (*WORDS, *WORDS[3:], *WORDS[:3], *WORDS[5:], *WORDS[:5])
SILENT = 3  # words in a row that nobody said: nobody is there


class AttuneTalk(Strict):
    """prompts/attune.yaml: what is said."""

    hello: str
    resumed: str
    say: str
    again: str
    unheard: str
    noisy: str
    stopped: str
    few: str
    same: str
    learnt: str


def load_talk(file: Path | None = None) -> AttuneTalk:
    path = file or prompts_dir() / "attune.yaml"
    return parse(AttuneTalk, read_yaml(path), path)


def begun(shelf: Shelf, name: str, *, anew: bool = False) -> Attuned:
    """The reading to go on with; from the first word if there is none, or it is whole."""
    one = shelf.current(name)
    if anew or one.asked >= len(ORDER):
        return one.model_copy(update={"asked": 0, "read": ()})
    return one


def read_aloud(
    equipment: Equipment, shelf: Shelf, one: Attuned, show: Callable[[str], None], *, sound: bool = False
) -> Attuned:
    """Asks for every word that is left; each is on the disk before the next is asked. Raises GladhandError.

    one: what was read so far.
    sound: keep that, too.
    """
    asker = _Asker(equipment, show)
    talk = asker.talk
    asker.say(talk.resumed if one.asked else talk.hello)
    silent = 0
    for word in ORDER[one.asked :]:
        heard = asker.word(word)
        silent = silent + 1 if heard.silent else 0
        if heard.stopped or silent == SILENT:
            asker.say(talk.stopped)
            return one
        read = one.read if heard.reading is None else (*one.read, heard.reading)
        one = one.model_copy(update={"asked": one.asked + 1, "read": read})
        shelf.keep(one)
        if sound and heard.audio is not None:
            shelf.keep_sound(one, heard.audio)
        equipment.devices.speaker.cue("understood")
    words = ", ".join(word for word, nears in one.likeness.items() if nears)
    asker.say(talk.few if not one.enough else talk.learnt.format(words=words) if words else talk.same)
    return one


@dataclass(frozen=True, slots=True)
class _Heard:
    """What came of asking for one word.

    reading: None if it was not that word, or none at all.
    """

    reading: Reading | None = None
    audio: Audio | None = None
    silent: bool = False
    stopped: bool = False


class _Asker:
    def __init__(self, equipment: Equipment, show: Callable[[str], None]) -> None:
        self.talk = load_talk()
        self._equipment, self._show = equipment, show
        book = Phrasebook()
        self._phrases = join(book.condition(), book.said("stop", Stop()))
        equipment.ear.attune({})

    def say(self, text: str) -> None:
        self._show(text)
        self._equipment.devices.speaker.say(text)

    def word(self, word: str) -> _Heard:
        """Asks for it, and once more if it was not heard."""
        ear, found = self._equipment.ear, _Heard()
        question = Question("condition", self._phrases, step=SAY + word)
        for text in (self.talk.say, self.talk.again):
            self.say(text.format(word=word))
            self._equipment.devices.speaker.cue("listening")
            for watcher in self._equipment.watchers:
                watcher.asked(None, question)
            hearing = ear.listen(question)
            if _stops(hearing):
                return _Heard(stopped=True)
            if hearing.audio is None:
                self.say(self.talk.noisy if hearing.outcome == "noisy" else self.talk.unheard)
                found = _Heard(silent=True)
                continue
            heard = reading(word, ear.judge(hearing.audio, question))
            if counts(heard):
                return _Heard(heard, hearing.audio)
            found = _Heard()
        return found


def _stops(hearing: Hearing) -> bool:
    """Even if it is not sure: what was read so far is not lost."""
    return hearing.outcome in ("heard", "unsure") and hearing.meaning in (Stop(), Command("pause"))
