"""Performs what the walk asks for and feeds back what happens. The only place that waits.

Order is everything here: the walk decides, the event is on disk, and only then is it acknowledged aloud. So what the
driver has heard acknowledged survives anything.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

from voice.errors import DeviceError, JournalError
from voice.hear.port import Ear, Hearing
from voice.journal.clips import Clips
from voice.journal.journal import Journal
from voice.journal.line import HearingNote
from voice.sound.port import Clock
from voice.speak.overlap import Overlap, Stoppable
from voice.speak.port import Speaker
from voice.understand.change import closest_name
from voice.understand.gist import asked_back, several
from voice.understand.meaning import Command
from voice.understand.question import Question
from voice.walk import denied
from voice.walk.context import Context
from voice.walk.event import (
    Cue,
    Doubted,
    Effect,
    Event,
    Heard,
    Listen,
    Lost,
    Regained,
    Say,
    Silence,
    Unclear,
)
from voice.walk.machine import step
from voice.walk.state import Aside, Stage, State
from voice.walk.turn import IllegalEvent


class Watcher(Protocol):
    """Sees what happens: the screen, the scripted driver, a test."""

    def turned(self, state: State, event: Event) -> None:
        """The event is on disk and the state is new."""
        ...

    def said(self, text: str) -> None: ...

    def asked(self, state: State | None, question: Question) -> None:
        """Listening begins.

        state: None before the walk has begun.
        """
        ...


@dataclass(frozen=True, slots=True)
class Devices:
    """What a walk is heard and spoken through.

    recover: waits until the lost devices are back.
    headset: the speaker, if the driver wears it and may cut in on a prompt.
    """

    ear: Ear
    speaker: Speaker
    clock: Clock
    recover: Callable[[], None]
    headset: Stoppable | None = None


class Loop:
    """One run of a session, from a first event to its close. Raises JournalError (disk).

    state: new, or where the journal ended; session time goes on from its last event.
    clips: where the sound of the answers is kept; None keeps none.
    """

    def __init__(
        self,
        context: Context,
        state: State,
        devices: Devices,
        *,
        journal: Journal,
        clips: Clips | None,
        watchers: tuple[Watcher, ...] = (),
    ) -> None:
        self.context = context
        self.state = state
        self.devices = devices
        self.journal = journal
        self.clips = clips
        self.watchers = watchers
        self._origin = devices.clock.now() - state.at
        self._overlap: Overlap | None = None

    def now(self) -> float:
        """Session seconds; never before the last event."""
        return max(self.devices.clock.now() - self._origin, self.state.at)

    def run(self, event: Event) -> State:
        """Feeds the event and goes on until the walk closes. A device that is lost is waited for."""
        hearing: Hearing | None = None
        while True:
            try:
                effects = self._take(event, hearing)
            except JournalError as error:
                # The driver must hear it: nothing was acknowledged, and nothing before is lost.
                self._alarm(str(error))
                raise
            try:
                question = self._perform(effects)
            except DeviceError as error:
                if self.state.stage is Stage.CLOSED:
                    return self.state  # only the goodbye was lost
                if not error.retry:
                    raise
                event, hearing = Lost(self.now()), None
                continue
            if question is not None:
                event, hearing = self._listen(question)
            elif self.state.aside is Aside.LOST:
                self._alarm(self.context.talk.lost)
                self.devices.recover()
                event, hearing = Regained(self.now()), None
            else:
                return self.state

    def _take(self, event: Event, hearing: Hearing | None) -> tuple[Effect, ...]:
        try:
            state, effects = step(self.context, self.state, event)
        except IllegalEvent:
            if not isinstance(event, Heard | Doubted):
                raise
            # Heard something that cannot be answered here: to the driver that is the same as not understood.
            event, hearing = Unclear(event.at), None
            state, effects = step(self.context, self.state, event)
        self.journal.append(event, time.monotonic(), self._evidence(event, hearing))
        self.state = state
        for watcher in self.watchers:
            watcher.turned(state, event)
        return effects

    def _evidence(self, event: Event, hearing: Hearing | None) -> HearingNote:
        if hearing is None or not isinstance(event, Heard | Doubted):
            return HearingNote()
        evidence = HearingNote(
            engine=hearing.engine,
            model=hearing.model,
            words=hearing.words,
            confidence=round(hearing.confidence, 4),
            noise_db=round(hearing.noise_db, 1),
            snr_db=round(hearing.snr_db, 1),
        )
        if self.clips is not None and hearing.audio is not None and len(hearing.audio):
            evidence |= self.clips.keep(self.journal.count, hearing.audio)
        return evidence

    def _perform(self, effects: tuple[Effect, ...]) -> Question | None:
        """Speaks and sounds in order; gives the question to listen for, or None when there is none."""
        match effects:
            case (*first, Say(text), Cue("listening"), Listen(question)) if self.devices.headset is not None:
                # Only the question goes on beside the listening, never what leads to it (a caution, a read-back); then
                # no tone is needed for the driver's turn.
                for effect in first:
                    self._sound(effect)
                self._tell(text)
                self._overlap = Overlap(self.devices.headset, text, self.devices.clock.now)
                return question
        for effect in effects:
            if isinstance(effect, Listen):
                return effect.question
            self._sound(effect)
        return None

    def _sound(self, effect: Effect) -> None:
        match effect:
            case Say(text):
                self._tell(text)
                self.devices.speaker.say(text)
            case Cue(name):
                self.devices.speaker.cue(name)

    def _tell(self, text: str) -> None:
        for watcher in self.watchers:
            watcher.said(text)

    def _alarm(self, text: str) -> None:
        """Says it if there is still something to say it with: a headset takes both ways with it."""
        with contextlib.suppress(DeviceError):
            self._sound(Cue("trouble"))
            self._sound(Say(text))

    def _listen(self, question: Question) -> tuple[Event, Hearing | None]:
        for watcher in self.watchers:
            watcher.asked(self.state, question)
        early = False
        try:
            hearing = self.devices.ear.listen(question, self._overlap)
            if self._overlap is not None:
                self._overlap.finish()
                early = not self._overlap.heard(hearing.started)
        except DeviceError as error:
            if not error.retry:
                raise
            return Lost(self.now()), None
        finally:
            self._overlap = None
        return self._event(question, hearing, early), hearing

    def _event(self, question: Question, hearing: Hearing, early: bool) -> Event:
        at = self.now()
        onset = min(max(hearing.started - self._origin, self.state.at), at)
        hearing = self._not_denied(hearing)
        if hearing.meaning is not None and hearing.outcome == "heard":
            return Heard(at, hearing.meaning, hearing.words, hearing.confidence, onset, early)
        if hearing.meaning is not None and hearing.outcome == "unsure":
            return Doubted(at, hearing.meaning, hearing.words, hearing.confidence, onset, early)
        if hearing.outcome == "silence":
            return Silence(at)
        if (target := self._change(hearing.words)) is not None:
            return Doubted(at, Command("change", target), hearing.words.lower().strip(" ."), onset=onset)
        noisy = hearing.outcome == "noisy"
        lexicon = self.context.book.lexicon
        many = not noisy and several(hearing.words, question, lexicon)
        if not noisy and (meant := asked_back(hearing.words, question, lexicon)) is not None:
            return Doubted(at, *meant, onset=onset, early=early)
        spoken = not noisy or hearing.audio is not None  # none is kept where nobody had begun to speak
        return Unclear(at, noisy, None if noisy else onset, early, several=many, spoken=spoken)

    def _not_denied(self, hearing: Hearing) -> Hearing:
        """What was denied at this question gives way to the next best guess, which is asked back."""
        at, meaning = (self.context, self.state), hearing.meaning
        if meaning is None or not denied.gives_way(*at, meaning, sure=hearing.outcome == "heard"):
            return hearing
        guess = denied.instead(*at, meaning, hearing.alternatives)
        if guess is None:
            return hearing
        return replace(hearing, outcome="unsure", meaning=guess.meaning, words=guess.text, confidence=0.0)

    def _change(self, transcript: str) -> str | None:
        """The answered step asked for in one breath ("change left steer tread")."""
        names = {step: self.context.steps[step].name for step in self.state.answers}
        return closest_name(transcript, self.context.book.lexicon.change_prefix, names)
