"""A walk on the clock of its speech: what is said and answered takes as long as real synthesizers need for it.

Nobody looks at anything: an answer comes a reaction after the question. What the vehicle needs (a quiet minute, air
that builds up or falls) is left out, the words around it are not.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import cache

from tests.walk.scripted_walk import Quiet
from voice.hear.ear import CONDITIONS, Pauses
from voice.measure.level import Level
from voice.route.answer import Call, Climb, Hold, Measurement
from voice.session.intended import Intended
from voice.session.script import Script
from voice.session.scripted import REACTION
from voice.sound.port import RATE
from voice.speak.cues import length as cue_length
from voice.speak.synth import synthesize
from voice.speak.synthesis import trimmed
from voice.understand.meaning import Number, Words
from voice.understand.question import Question
from voice.walk.context import Context
from voice.walk.event import Cue, Effect, Event, Heard, Listen, Say, Silence, Started
from voice.walk.machine import step
from voice.walk.state import Stage, State

ASSISTANT, DRIVER = "espeak:en-us", "flite:rms"
HESITATION = 0.4  # seconds: a reaction is up to so much longer, as the scripted driver's
PAUSES = Pauses()
WAITS = (Stage.QUIET, Stage.SECOND, Stage.WATCH)  # what is waited for is the vehicle


@cache
def seconds(text: str, voice: str) -> float:
    """How long the words take, without the silence around them."""
    return len(trimmed(synthesize(text, voice))) / RATE


@dataclass(frozen=True, slots=True)
class Pace:
    """One walk.

    questions: how often the ear was opened for an answer.
    words: spoken to the driver.
    talk: seconds of speech, tones, reactions and answers.
    closing: seconds of the speech that ends in the sign-off.
    first_finding: seconds of talk until the first defect was kept; None if there was none.
    """

    questions: int
    words: int
    talk: float
    closing: float
    first_finding: float | None


class Walked:
    """Runs a script through the walk and adds up."""

    def __init__(self, context: Context, state: State, script: Script) -> None:
        self.context, self.state = context, state
        self.driver = Quiet(script)
        self.driver.meet(context)
        self.random = random.Random(script.seed)
        self.questions = self.words = 0
        self.talk = self.closing = 0.0
        self.first: float | None = None
        self.waited = 0.0

    def run(self) -> Pace:
        event: Event = Started(0.0)
        while True:
            self.state, effects = step(self.context, self.state, event)
            self.driver.turned(self.state, event)
            if self.first is None and any(answer.defects for answer in self.state.answers.values()):
                self.first = self.talk
            question = self._perform(effects)
            if question is None:
                return Pace(self.questions, self.words, self.talk, self.closing, self.first)
            event = self._answer(question)

    def _perform(self, effects: tuple[Effect, ...]) -> Question | None:
        spoken = 0.0
        for effect in effects:
            match effect:
                case Say(text):
                    spoken += seconds(text, ASSISTANT)
                    self.words += len(text.split())
                case Cue(name):
                    spoken += cue_length(name)
        self.talk += spoken
        if self.state.stage is Stage.NAME and not self.closing:
            self.closing = spoken
        return next((effect.question for effect in effects if isinstance(effect, Listen)), None)

    def _answer(self, question: Question) -> Event:
        self.driver.asked(self.state, question)
        text, wait = self.driver.line
        self.driver.line = ("", 0.0)
        if not text:
            self.waited += question.patience
            return Silence(self._now())
        self.questions += 1
        if self.state.stage in WAITS:
            self.waited += wait
            wait = 0.0
        meaning = question.meanings.get(text)
        if meaning is None and question.free:
            meaning = Words(text)
        assert meaning is not None, f'"{text}" cannot be said to {self.state.stage} of {self.state.draft}'
        self.talk += max(wait, REACTION) + self.random.uniform(0.0, HESITATION)
        onset = self._now()
        soon = PAUSES.breath if question.asks in CONDITIONS else PAUSES.early
        pause = PAUSES.full if isinstance(meaning, Number) else PAUSES.free if question.free else soon
        self.talk += seconds(text, DRIVER) + pause
        return Heard(self._now(), meaning, text, onset=onset)

    def _now(self) -> float:
        return self.talk + self.waited


def sound(script: Script, context: Context) -> Script:
    """The script without its planted faults and its detours: all is well, and the driver just answers."""
    asked = tuple(line for line in script.steps if line.step in context.steps)
    meant = Intended(script.model_copy(update={"steps": asked}), context)
    lines = []
    for line in asked:
        at = context.steps[line.step]
        if isinstance(at.item.answer, Hold):
            lines.append(line.model_copy(update={"end": line.start}))
        elif isinstance(at.item.answer, Climb | Call):
            lines.append(line)
        elif isinstance(at.item.answer, Measurement) and not meant.is_defect(at):
            said = context.book.own(at.item.answer)
            number = next(phrase.meaning for phrase in said if phrase.text == line.ask)
            assert isinstance(number, Number)
            found = context.findings(at, at.item.answer.quantity, number.value)
            if all(each.level is Level.WITHIN for each in found):
                lines.append(line)
    return script.model_copy(update={"steps": tuple(lines)})
