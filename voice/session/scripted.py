"""A scripted driver in place of the microphone: real synthetic speech in engine noise, for the demo and the tests.

They hear what is asked (they are told the state, as a person would follow the prompts) and answer aloud; nothing they
say reaches the walk except as audio. Like a careful driver they say it again when not understood, say no to a wrong
"did you say", and correct an answer that was read back wrongly.
"""

from __future__ import annotations

from collections import Counter, deque
from pathlib import Path

import numpy as np

from voice.errors import DataError, tell
from voice.judge.answer import Answer
from voice.measure.cardinal import cardinal
from voice.measure.counter import counted
from voice.route.answer import Call, Climb, Hold
from voice.route.model import Step
from voice.session.intended import Intended
from voice.session.script import Script, ScriptLine, idle
from voice.sound.port import BLOCK, RATE, Audio
from voice.sound.recording import AudioClock
from voice.speak.synth import synthesize
from voice.understand.meaning import Defect, Meaning
from voice.understand.question import Question
from voice.walk.context import Context
from voice.walk.event import Doubted, Event, Unclear
from voice.walk.state import Aside, Stage, State

MOST_TRIES = 24  # then something is wrong with the script: better an end than an endless walk
MOST_ASKED = 48  # questions about one step, whatever was said: a wrong "did you say" and its no are not the same words
SIGNINGS = 6  # a name that is not understood so often will not be understood
REACTION = 0.35  # seconds from the tone to the first word
SAY = "say:"  # before what a guided reading asks for, as the step of its question
PACES = (1.0, 0.9, 0.85, 1.1)  # said again more slowly when not understood


class ScriptedDriver:
    """Microphone and Watcher in one.

    counts: how often they were asked again, doubted, corrected an answer.
    """

    name = "scripted driver"

    def __init__(self, script: Script, clock: AudioClock, *, keep: Path | None = None) -> None:
        self.script = script
        self.clock = clock
        self.counts: Counter[str] = Counter()
        self.heard_as: list[tuple[str, str]] = []  # what was said, what was understood instead
        self._keep = keep
        self._context: Context | None = None
        self._intended: Intended | None = None
        self._firsts: dict[str, deque[str]] = {}
        self._queue: Audio = np.zeros(0, np.float32)
        self._noise = idle(20.0, script.seed) * 10 ** (script.noise_db / 20)
        self._at = 0
        self._said = ""
        self._listened = ""
        self._tries = 0  # how often the same was said, be it to another question
        self._stuck = 0  # to the same one
        self._where: str | None = None
        self._asked: Counter[str] = Counter()  # by step
        self._fix: str | None = None
        self._signings = 0
        self._random = np.random.default_rng(script.seed)
        self._answers: dict[str, Answer] = {}

    def meet(self, context: Context) -> None:
        """Told which vehicle is walked. What is not due is passed over, and said so once.

        Raises DataError if the script names a step that this walk has not.
        """
        first = self._intended is None
        self._intended, self._context = Intended(self.script, context), context
        for name in self._intended.passed_over if first else ():
            tell(f'the script names "{name}", which is not due today: it is passed over.')

    @property
    def intended(self) -> Intended:
        """What is meant at each step; once the driver has met the vehicle."""
        if self._intended is None:
            raise AssertionError("the driver has met the vehicle")
        return self._intended

    # --- microphone ----------------------------------------------------------------------------------------------

    def read(self) -> Audio:
        start = self._at % len(self._noise)
        block = np.take(self._noise, range(start, start + BLOCK), mode="wrap").astype(np.float32)
        self._at += BLOCK
        voice, self._queue = self._queue[:BLOCK], self._queue[BLOCK:]
        block[: len(voice)] += voice
        self.clock.advance(BLOCK)
        return block

    def flush(self) -> None:
        """They speak after the tone; nothing is dropped."""

    def close(self) -> None:
        """Nothing is held."""

    def speak(self, text: str, wait: float = REACTION) -> None:
        """Queue the words as audio, at the script's ratio over the noise."""
        pace = PACES[min(self._tries, len(PACES) - 1)]
        audio = synthesize(text, self.script.voice, pace=pace, keep=self._keep)
        level = float(np.sqrt(np.mean(audio[np.abs(audio) > 0.01] ** 2))) if np.any(np.abs(audio) > 0.01) else 1.0
        gain = 10 ** ((self.script.noise_db + self.script.snr_db) / 20) / level
        silence = np.zeros(int(wait * RATE), np.float32)
        self._queue = np.concatenate([silence, audio * np.float32(gain)])

    # --- what they notice -----------------------------------------------------------------------------------------

    def turned(self, state: State, event: Event) -> None:
        if isinstance(event, Unclear):
            self.counts["asked again"] += 1
        if isinstance(event, Doubted):
            self.counts["did you say"] += 1
        for step, answer in state.answers.items():
            if self._answers.get(step) is not answer:
                self._answers[step] = answer
                if (
                    self._intended is not None
                    and (wrong := self._intended.differs(answer))
                    and (step == state.last or answer.together)
                ):
                    self.counts["corrected by the driver"] += 1
                    self.heard_as.append((self._said, wrong))
                    self._fix = step

    def said(self, text: str) -> None:
        """They listen."""
        self._listened = text

    def asked(self, state: State | None, question: Question) -> None:
        text, wait = self._reply(state, question)
        self._tries = self._tries + 1 if text == self._said and text else 0
        self._said = text
        here = None if state is None or state.draft is None else state.draft.step
        self._stuck = self._stuck + 1 if self._tries and here == self._where else 0
        self._where = here
        if self._stuck > MOST_TRIES:
            raise DataError(
                f'the scripted driver said "{text}" {self._stuck} times and was not understood.',
                "Give them other words or another voice in the script.",
            )
        if here is not None:
            self._asked[here] += 1
            if self._asked[here] > MOST_ASKED:
                raise DataError(
                    f'the scripted driver is misheard at "{here}" again and again: to "{self._listened}" they last '
                    f'said "{text}".',
                    "Give them other words or another voice in the script, or a higher snr_db.",
                )
        if text:
            # A person's reaction is never twice the same; so the same word does not meet the same noise again.
            words = self._otherwise(text, question)
            if state is None or state.aside is None:
                self._uttered = question.meanings.get(words)
            self.speak(words, wait + float(self._random.uniform(0.0, 0.4)))

    def _otherwise(self, text: str, question: Question) -> str:
        """Not understood twice, they say the same in other words, as people do."""
        meaning = question.meanings.get(text)
        if self._tries < 2 or meaning is None:
            return text
        ways = [phrase.text for phrase in question.phrases if phrase.meaning == meaning and phrase.text != text]
        if isinstance(meaning, Defect) and question.asks != "defect" and self._tries >= 4:
            # They give up naming it outright, and are asked which.
            ways += [phrase.text for phrase in question.phrases if phrase.meaning == Defect()]
        return [text, *ways][(self._tries // 2) % (len(ways) + 1)]

    # --- what they say --------------------------------------------------------------------------------------------

    def _reply(self, state: State | None, question: Question) -> tuple[str, float]:
        if state is None:
            return self._before(question.step or ""), REACTION
        if state.aside is not None:
            return self._aside(state, question), REACTION
        if self._fix is not None and question.asks not in ("quiet", "note", "name"):
            if state.last != self._fix:
                return "change an answer", REACTION
            self._fix = None
            return "correct that", REACTION
        if state.stage is Stage.NAME:
            return f"signed {self.script.name.lower()}", REACTION
        if state.stage is Stage.SIGN:
            self._signings += 1
            if self._signings > SIGNINGS:
                known = self._context is not None and self.script.name in self._context.drivers
                raise DataError(
                    f'the scripted driver "{self.script.name}" is heard as "{state.name}" again and again.',
                    "Give them another voice in the script, or a higher snr_db, so that they are louder."
                    if known
                    else "Give the name as --driver, or put it into drivers.yaml.",
                )
            return ("yes" if state.name == self.script.name else "no"), REACTION
        if self._context is None or state.draft is None:
            return "", REACTION
        return self._step(state, self._context.steps[state.draft.step], question)

    def _before(self, topic: str) -> str:
        """To what is asked before the walk. An odometer is compared with what was read back."""
        setup = self.script.setup
        if topic.startswith(SAY):
            return topic.removeprefix(SAY)
        about, _, of = topic.partition(":")
        if of == "right" and topic not in setup:
            number = counted(setup.get(about, ""))
            return "yes" if number is not None and cardinal(number) in self._listened else "no"
        if about in ("doubt", "one") and of in setup:
            return "yes" if setup[of].lower() in self._listened.lower() else "no"
        return setup.get(topic, "")

    def _aside(self, state: State, question: Question) -> str:
        match state.aside:
            case Aside.DOUBT:
                meant = {phrase.text: phrase.meaning for phrase in question.phrases}.get(self._words)
                return "yes" if state.doubted in (meant, self._meaning, self._uttered) else "no"
            case Aside.PAUSED:
                return "resume"
            case Aside.NOTE:
                if state.draft is None or self._context is None:
                    return ""
                notes = (self.intended.line(step).note for step in self.intended.asked(state))
                return next((note for note in notes if note), "")
            case Aside.NOTED:
                return "yes"
            case Aside.CHANGE if self._fix is not None and self._context is not None:
                name, self._fix = self._context.steps[self._fix].name, None
                return name
            case Aside.FINISHING:
                return "no"
        return "stop"

    _words = ""
    _meaning: Meaning | None = None
    _uttered: Meaning | None = None

    def _step(self, state: State, step: Step, question: Question) -> tuple[str, float]:
        for each in self.intended.asked(state):
            firsts = self._firsts.setdefault(each.id, deque(self.intended.line(each).first))
            if firsts and state.stage in (Stage.ASK, Stage.LOOK):
                self._words = firsts.popleft()
                self._meaning = question.meanings.get(self._words)
                return self._words, REACTION
        text, wait = self._stage(state, step, self.intended.line(step))
        self._words, self._meaning = text, question.meanings.get(text)
        return text, wait

    def _stage(self, state: State, step: Step, line: ScriptLine) -> tuple[str, float]:
        draft, answer = state.draft, step.item.answer
        if draft is None or self._context is None:
            raise AssertionError("a step is asked")
        wants_defect = self.intended.is_defect(step)
        match state.stage:
            case Stage.ASK:
                return self.intended.answer(step), REACTION
            case Stage.LOOK | Stage.PART:
                return self.intended.look(state), REACTION
            case Stage.WHICH:
                return (line.which or self.intended.answer(step)) if wants_defect else "go back", REACTION
            case Stage.DESCRIBE:
                return line.described or "", REACTION
            case Stage.FOLLOW:
                follow = self._context.follow_ups(step, draft)[draft.follow]
                return line.follow.get(follow.id, "skip"), REACTION
            case Stage.TAKE_BACK:
                return ((line.which or self.intended.answer(step)) if wants_defect else "nothing wrong"), REACTION
            case Stage.UNHEARD:
                told = self.intended.look(state) if draft.group else self.intended.answer(step)
                return ("nothing wrong" if self.intended.fine(state) else told), REACTION
            case Stage.MORE:
                return ("no" if wants_defect else "go back"), REACTION
            case Stage.REASON:
                return line.reason or "go back", REACTION
            case Stage.CONFIRM:
                timed = isinstance(answer, Hold | Climb | Call)
                meant = None if timed else self.intended.number(state, step)
                return ("yes" if timed or draft.number == meant else "no"), REACTION
            case Stage.READY | Stage.BEGIN:
                return self.script.usual["ready"] if state.stage is Stage.READY else "start", REACTION
            case Stage.GAUGE:
                return line.reading("start", draft.gauge), REACTION
            case Stage.END:
                return line.reading("end", draft.gauge), REACTION
            case Stage.QUIET:
                return "", 0.0
            case Stage.FIRST:
                return "now", 1.0
            case Stage.SECOND:
                return "now", line.wait
            case Stage.WATCH:
                return line.ask or "now", line.wait
            case Stage.CALLED:
                return line.reading("end", 0), REACTION
        return "", REACTION
