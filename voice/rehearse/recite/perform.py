"""Performs a rehearsal with ears and a voice; keeps the sound of each utterance if asked to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from voice.errors import DeviceError
from voice.hear.port import Ear
from voice.rehearse.recite.coach import Coach, Quiet, Rehearsal, Utterance
from voice.sound.port import Audio
from voice.speak.port import Speaker
from voice.understand.meaning import Words
from voice.understand.question import Phrase, Question

Keep = Callable[[int, Audio], None]


@dataclass(frozen=True, slots=True)
class Performed:
    """A rehearsal that is over.

    state: all that was said.
    trouble: the microphone was lost, so it ended before its time.
    """

    state: Rehearsal
    trouble: DeviceError | None = None


def perform(
    coach: Coach,
    title: str,
    ear: Ear,
    speaker: Speaker,
    *,
    keep: Keep | None = None,
    heard: Callable[[Utterance], None] | None = None,
) -> Performed:
    """Runs to the end, or until the microphone is lost.

    keep: gets the number and sound of each utterance.
    heard: is told each one at once.
    """
    speaker.say(coach.begin(title))
    speaker.cue("listening")
    finish = tuple(Phrase(text, Words(text)) for text in coach.finish)
    fresh = Question("note", finish, free=True, patience=coach.patience)
    # what was captured while the tool itself was silent is kept, so that a student who goes on talking is not cut
    going_on = Question("note", finish, free=True, patience=coach.patience, cut_in=True)
    question = fresh
    state = Rehearsal()
    while not state.over:
        try:
            hearing = ear.listen(question)
        except DeviceError as error:
            return Performed(state, error)
        event: Utterance | Quiet
        if hearing.words.strip() and hearing.outcome not in ("silence", "noisy"):
            event = Utterance(hearing.words.strip(), hearing.started, hearing.ended)
            if heard is not None:
                heard(event)
        else:
            event = Quiet(coach.patience)
        before = len(state.said)
        state, text = coach.step(state, event)
        if keep is not None and hearing.audio is not None and len(state.said) > before:
            keep(before, hearing.audio)
        question = going_on
        if text:
            speaker.say(text)
            question = fresh
    speaker.cue("end")
    return Performed(state)


def seconds(state: Rehearsal) -> float:
    """From the first word to the last."""
    return state.said[-1].ended - state.said[0].started if state.said else 0.0
