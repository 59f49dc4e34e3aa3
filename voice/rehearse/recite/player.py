"""Performs a recital: reads each line and listens in the gap for a command."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from voice.hear.port import Ear
from voice.rehearse.recite.recite import Recital, gap, step
from voice.rehearse.wording import ReciteCommand, ReciteFile
from voice.sound.port import Clock
from voice.speak.port import Speaker
from voice.understand.meaning import Chosen
from voice.understand.question import Phrase, Question

_COMMANDS: tuple[ReciteCommand, ...] = ("again", "slower", "faster", "back", "next", "stop")


class Listener(Protocol):
    """Is told of every line before it is read."""

    def reading(self, recital: Recital) -> None: ...


def question(file: ReciteFile, patience: float) -> Question:
    """All that can be said in a gap, waiting so many seconds. Anything else is the student repeating."""
    phrases = tuple(Phrase(text, Chosen(name)) for name, texts in file.commands.items() for text in texts)
    return Question("choice", phrases, patience=patience)


@dataclass(frozen=True, slots=True)
class Gaps:
    """What fills the gaps between the lines.

    clock: by which the lines are timed.
    wait: makes a gap of so many seconds where there is no ear.
    ear: listens for a command in the gap.
    """

    clock: Clock
    wait: Callable[[float], None]
    ear: Ear | None = None


def play(
    recital: Recital,
    file: ReciteFile,
    voice: Callable[[float], Speaker],
    gaps: Gaps,
    listeners: tuple[Listener, ...] = (),
) -> Recital:
    """Reads on until the end or "stop"; the recital as it stood then.

    voice: a speaker for a pace.
    """
    now = recital
    while not now.over:
        speaker = voice(now.pace)
        if now.told:
            speaker.say(now.told)
        for listener in listeners:
            listener.reading(now)
        begun = gaps.clock.now()
        speaker.say(now.line.text)
        pause = gap(now.line, gaps.clock.now() - begun, file)
        command: ReciteCommand | None = None
        if gaps.ear is not None:
            command = _heard(gaps.ear, file, pause)
        else:
            gaps.wait(pause)
        now = step(now, command, file)
    voice(now.pace).say(now.told or file.say.end)
    return now


def _heard(ear: Ear, file: ReciteFile, patience: float) -> ReciteCommand | None:
    hearing = ear.listen(question(file, patience))
    meaning = hearing.meaning
    if hearing.outcome != "heard" or not isinstance(meaning, Chosen):
        return None
    return next((name for name in _COMMANDS if name == meaning.id), None)
