"""A scripted driver in place of the microphone: real synthetic speech in engine noise, for the demo and the tests.

He hears what is asked (he is told the state, as a person would follow the prompts) and answers aloud; nothing he says
reaches the walk except as audio. Like a careful driver he repeats himself when not understood, says no to a wrong "did
you say", and corrects an answer that was read back wrongly.
"""

from __future__ import annotations

from collections import Counter, deque
from pathlib import Path

import numpy as np

from voice.errors import DataError
from voice.judge.answer import Answer, Kind
from voice.route.answer import Call, Choice, Climb, Done, Hold, Measurement
from voice.route.model import Step
from voice.session.script import Line, Script, idle
from voice.sound.port import BLOCK, RATE, Audio
from voice.sound.recording import AudioClock
from voice.speak.synth import synthesize
from voice.understand.meaning import Chosen, Defect, Meaning, NotApplicable, Number
from voice.understand.question import Question
from voice.walk.context import Context
from voice.walk.event import Doubted, Event, Unclear
from voice.walk.state import Aside, Stage, State

MOST_TRIES = 24  # then something is wrong with the script: better an end than an endless walk
SIGNINGS = 6  # a name that is not understood so often will not be understood
REACTION = 0.35  # seconds from the tone to the first word
PACES = (1.0, 0.9, 0.85, 1.1)  # said again more slowly when not understood


class ScriptedDriver:
    """Microphone and Watcher in one.

    counts: how often he was asked again, doubted, corrected an answer.
    """

    name = "scripted driver"

    def __init__(self, script: Script, clock: AudioClock, *, keep: Path | None = None) -> None:
        self.script = script
        self.clock = clock
        self.counts: Counter[str] = Counter()
        self.heard_as: list[tuple[str, str]] = []  # what was said, what was understood instead
        self._keep = keep
        self._context: Context | None = None
        self._lines = {line.step: line for line in script.steps}
        self._firsts: dict[str, deque[str]] = {}
        self._queue: Audio = np.zeros(0, np.float32)
        self._noise = idle(20.0, script.seed) * 10 ** (script.noise_db / 20)
        self._at = 0
        self._said = ""
        self._tries = 0
        self._fix: str | None = None
        self._signings = 0
        self._random = np.random.default_rng(script.seed)
        self._answers: dict[str, Answer] = {}

    def meet(self, context: Context) -> None:
        """Told which vehicle is walked. Raises DataError if the script names a step that this walk has not."""
        for name in self._lines:
            if name not in context.steps:
                raise DataError(f'the script names "{name}", which is not on this walk.', "Correct the script.")
        self._context = context

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
        """He speaks after the tone; nothing of his is dropped."""

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

    # --- what he notices -----------------------------------------------------------------------------------------

    def turned(self, state: State, event: Event) -> None:
        if isinstance(event, Unclear):
            self.counts["asked again"] += 1
        if isinstance(event, Doubted):
            self.counts["did you say"] += 1
        for step, answer in state.answers.items():
            if self._answers.get(step) is not answer:
                self._answers[step] = answer
                if (wrong := self.differs(answer)) and step == state.last:
                    self.counts["corrected by the driver"] += 1
                    self.heard_as.append((self._said, wrong))
                    self._fix = step

    def said(self, text: str) -> None:
        """He listens."""

    def asked(self, state: State | None, question: Question) -> None:
        text, wait = self._reply(state, question)
        self._tries = self._tries + 1 if text == self._said and text else 0
        self._said = text
        if self._tries > MOST_TRIES:
            raise DataError(
                f'the scripted driver said "{text}" {self._tries} times and was not understood.',
                "Give him other words or another voice in the script.",
            )
        if text:
            # A person's reaction is never twice the same; so the same word does not meet the same noise again.
            words = self._otherwise(text, question)
            if state is None or state.aside is None:
                self._uttered = question.meanings.get(words)
            self.speak(words, wait + float(self._random.uniform(0.0, 0.4)))

    def _otherwise(self, text: str, question: Question) -> str:
        """Not understood twice, he says the same in other words, as people do."""
        meaning = question.meanings.get(text)
        if self._tries < 2 or meaning is None:
            return text
        ways = [phrase.text for phrase in question.phrases if phrase.meaning == meaning and phrase.text != text]
        if isinstance(meaning, Defect) and question.asks != "defect" and self._tries >= 4:
            # He gives up naming it outright, and is asked which.
            ways += [phrase.text for phrase in question.phrases if phrase.meaning == Defect()]
        return [text, *ways][(self._tries // 2) % (len(ways) + 1)]

    # --- what he says --------------------------------------------------------------------------------------------

    def _reply(self, state: State | None, question: Question) -> tuple[str, float]:
        if state is None:
            return self.script.setup.get(question.step or "", ""), REACTION
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
                raise DataError(
                    f'the scripted driver "{self.script.name}" is heard as "{state.name}" again and again.',
                    "Put the name into drivers.yaml, or give it as --driver.",
                )
            return ("yes" if state.name == self.script.name else "no"), REACTION
        if self._context is None or state.draft is None:
            return "", REACTION
        return self._step(state, self._context.steps[state.draft.step], question)

    def _aside(self, state: State, question: Question) -> str:
        match state.aside:
            case Aside.DOUBT:
                meant = {phrase.text: phrase.meaning for phrase in question.phrases}.get(self._intended)
                return "yes" if state.doubted in (meant, self._meaning, self._uttered) else "no"
            case Aside.PAUSED:
                return "resume"
            case Aside.NOTE:
                line = self._lines.get(state.draft.step) if state.draft else None
                return (line.note if line and line.note else "") or ""
            case Aside.CHANGE if self._fix is not None and self._context is not None:
                name, self._fix = self._context.steps[self._fix].name, None
                return name
            case Aside.FINISHING:
                return "no"
        return "stop"

    _intended = ""
    _meaning: Meaning | None = None
    _uttered: Meaning | None = None

    def _step(self, state: State, step: Step, question: Question) -> tuple[str, float]:
        line = self._lines.get(step.id) or Line(step=step.id)
        firsts = self._firsts.setdefault(step.id, deque(line.first))
        if firsts and state.stage is Stage.ASK:
            self._intended = firsts.popleft()
            self._meaning = question.meanings.get(self._intended)
            return self._intended, REACTION
        text, wait = self._stage(state, step, line)
        self._intended, self._meaning = text, question.meanings.get(text)
        return text, wait

    def _stage(self, state: State, step: Step, line: Line) -> tuple[str, float]:
        draft, answer = state.draft, step.item.answer
        if draft is None or self._context is None:
            raise AssertionError("a step is asked")
        wants_defect = line.which is not None or self._outright(step, line) == "defect"
        match state.stage:
            case Stage.ASK:
                return self._answer(step, line), REACTION
            case Stage.WHICH:
                return (line.which or self._answer(step, line)) if wants_defect else "go back", REACTION
            case Stage.DESCRIBE:
                return line.described or "", REACTION
            case Stage.FOLLOW:
                follow = self._context.follow_ups(step, draft)[draft.follow]
                return line.follow.get(follow.id, "skip"), REACTION
            case Stage.TAKE_BACK:
                return ((line.which or self._answer(step, line)) if wants_defect else "nothing wrong"), REACTION
            case Stage.MORE:
                return ("no" if wants_defect else "go back"), REACTION
            case Stage.REASON:
                return line.reason or "go back", REACTION
            case Stage.CONFIRM:
                timed = isinstance(answer, Hold | Climb | Call)
                meant = None if timed else self._number(state, step, line)
                return ("yes" if timed or draft.number == meant else "no"), REACTION
            case Stage.READY | Stage.BEGIN:
                return self.script.usual["ready"] if state.stage is Stage.READY else "start", REACTION
            case Stage.GAUGE:
                return line.start[draft.gauge], REACTION
            case Stage.END:
                return line.end[draft.gauge], REACTION
            case Stage.QUIET:
                return "", 0.0
            case Stage.FIRST:
                return "now", 1.0
            case Stage.SECOND:
                return "now", line.wait
            case Stage.WATCH:
                return line.ask or "now", line.wait
            case Stage.CALLED:
                return line.end[0], REACTION
        return "", REACTION

    def _answer(self, step: Step, line: Line) -> str:
        if line.ask is not None:
            return line.ask
        match step.item.answer:
            case Measurement() as reading:
                return self.script.readings[reading.quantity]
            case Choice() as choice:
                usual = self.script.choices.get(step.item.id)
                return usual or next(o.say[0] for o in choice.options if o.defect is None)
            case Done():
                return self.script.usual["done"]
        return self.script.usual["condition"]

    def _phrases(self, step: Step) -> dict[str, Meaning]:
        """What could be said to the step's own question."""
        if self._context is None:
            raise AssertionError("the driver has met the vehicle")
        book, item, answer = self._context.book, step.item, step.item.answer
        said = {defect.id: defect.say for defect in self._context.defects_of(step)}
        match answer:
            case Measurement():
                phrases = book.number(answer.unit, answer.low, answer.high, answer.step, item, said)
            case Choice():
                phrases = book.choice(answer.options, item, said)
            case Done():
                phrases = book.done(item, said)
            case Call():
                phrases = book.number(answer.unit, answer.low, answer.high, answer.step, item, said)
            case _:
                phrases = book.condition(item, said)
        return {phrase.text: phrase.meaning for phrase in phrases}

    def _outright(self, step: Step, line: Line) -> str:
        meaning = self._phrases(step).get(self._answer(step, line)) if line.ask else None
        return "defect" if isinstance(meaning, Defect) else ""

    def _number(self, state: State, step: Step, line: Line) -> object:
        if self._context is None or state.draft is None:
            raise AssertionError("a step is asked")
        phrases, text = self._phrases(step), self._answer(step, line)
        if state.draft.outcome is not None:
            follow = self._context.follow_ups(step, state.draft)[state.draft.follow]
            text = line.follow.get(follow.id, "")
            if isinstance(follow.answer, Measurement):
                wanted = follow.answer
                numbers = self._context.book.number(wanted.unit, wanted.low, wanted.high, wanted.step)
                phrases = {phrase.text: phrase.meaning for phrase in numbers}
        meaning = phrases.get(text)
        return meaning.value if isinstance(meaning, Number) else None

    # --- what he meant -------------------------------------------------------------------------------------------

    def meant(self, step: Step) -> tuple[Kind, str]:
        """The outcome intended for a step, with the value, option or defect as text ("" where there is none)."""
        line = self._lines.get(step.id) or Line(step=step.id)
        if isinstance(step.item.answer, Hold | Climb | Call):
            return "reading", line.ask or ""
        meaning = self._phrases(step).get(self._answer(step, line))
        match meaning:
            case Number(value):
                return "reading", str(value.value)
            case Chosen(option):
                chosen = next(o for o in getattr(step.item.answer, "options", ()) if o.id == option)
                return ("choice", option) if chosen.defect is None else ("defect", chosen.defect)
            case NotApplicable():
                return "not-applicable", ""
            case Defect(None):
                named = self._phrases(step).get(line.which or "")
                return "defect", (named.id or "") if isinstance(named, Defect) else ""
            case Defect(name):
                return "defect", name or ""
        return ("done" if isinstance(step.item.answer, Done) else "ok"), ""

    def differs(self, answer: Answer) -> str:
        """What the stored answer says where it is not what was meant; empty if it is."""
        if self._context is None:
            return ""
        step = self._context.steps[answer.step]
        kind, value = self.meant(step)
        got = [defect.defect for defect in answer.defects]
        if answer.kind != kind:
            return f"{answer.kind} {' '.join(got)}".strip()
        if kind == "defect" and got != [value]:
            return " ".join(got)
        if kind == "choice" and answer.choice != value:
            return answer.choice or ""
        if kind == "reading" and isinstance(step.item.answer, Measurement):
            found = str(answer.taken[0].value.value)
            return found if found != value else ""
        if isinstance(step.item.answer, Climb):
            line, seconds = self._lines.get(step.id) or Line(step=step.id), float(answer.taken[-1].value.value)
            # From his first word to his second: the wait, and the prompt and his reaction in between.
            return "" if line.wait <= seconds <= line.wait + 10 else f"{seconds:.0f} s"
        if isinstance(step.item.answer, Call) and value:
            meaning = self._phrases(step).get(value)
            if isinstance(meaning, Number) and answer.taken[-1].value != meaning.value:
                return str(answer.taken[-1].value.value)
        return ""
