"""Listening to one answer: microphone, endpointing, the engines, the decision."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

from voice.hear.decoys import decoys
from voice.hear.endpoint import STEP, Endpointer
from voice.hear.fusion import Decision, Opinions, decide
from voice.hear.likeness import Likeness, standing_in
from voice.hear.noise import NoiseFloor
from voice.hear.port import Hearing, Outcome, Recognizer, Speaking, Transcriber
from voice.hear.thresholds import DEFAULT
from voice.hear.transformer import Judged, Transformer
from voice.sound.port import Audio, Clock, Microphone
from voice.understand.meaning import Words
from voice.understand.question import Question

PATIENT = ("quiet", "paused")  # what is asked where other talk may go on
CONDITIONS = ("condition", "look")  # what is asked where a defect may be told


@dataclass(frozen=True, slots=True)
class Pauses:
    """Seconds of silence.

    dip: after which the engines start.
    early: after which a complete answer is taken.
    breath: the same of a part's condition, where more may follow in the same breath ("fine, cords showing").
    again: after which the engines run once more if they were not sure.
    full: after which any answer is over.
    open: the same if a longer answer may follow ("twenty ...").
    free: of a note.
    longest, longest_free: most seconds of an answer, of a note.
    overtime: by how much speech that has begun may overrun a timed minute.
    """

    dip: float = 0.09
    early: float = 0.19
    breath: float = 0.40
    again: float = 0.27
    full: float = 0.50
    open: float = 0.70
    free: float = 1.20
    longest: float = 8.0
    longest_free: float = 30.0
    overtime: float = 1.0


class VoiceEar:
    """Ear made of a microphone, endpointing and a model.

    judge: the model that scores what may be heard.
    writer: writes down free speech.
    tail: seconds of audio dropped at the start of each listening: the tool's own voice dying away in the room.
    More engines may vote, see `add`. Not for use from several threads.
    """

    def __init__(
        self,
        microphone: Microphone,
        judge: Transformer,
        writer: Transcriber,
        *,
        clock: Clock | None = None,
        tail: float = 0.0,
    ) -> None:
        self.microphone = microphone
        self._judge, self._writer = judge, writer
        self._more: list[Recognizer] = []
        self._like: Likeness = {}
        self._clock = clock
        self._pauses = Pauses()
        self._tail = tail
        self.floor = NoiseFloor()
        self._endpoint = Endpointer(self.floor)
        self._decided: tuple[float, Decision] | None = None  # at which end of speech, and what
        self._read = 0.0  # seconds of audio read by this ear: its clock when it is given none

    def add(self, engine: Recognizer) -> None:
        """Let one more engine vote from now on."""
        self._more.append(engine)

    def attune(self, like: Likeness) -> None:
        """Hear this driver from now on; of nobody's reading: {}."""
        self._like = like

    def judge(self, audio: Audio, question: Question) -> Judged:
        """What the model makes of it, of all that can be answered and of words that are no answer."""
        texts = list(question.meanings)
        names = [phrase.text for phrase in question.phrases if phrase.meaning.kind == "signed"]
        return self._judge.judge(audio, [*texts, *decoys(texts)], names)

    @property
    def complete(self) -> bool:
        """Whether both opinions that an okay needs are there."""
        return self._judge.spells

    def use(self, microphone: Microphone, clock: Clock | None = None) -> None:
        """Listen to another microphone from now on (another device, the next recording)."""
        self.microphone, self._clock = microphone, clock

    def close(self) -> None:
        self.microphone.close()

    def listen(self, question: Question, speaking: Speaking | None = None) -> Hearing:
        """Wait for an answer, at most the question's patience. Raises DeviceError if the microphone is lost."""
        if not question.cut_in:
            self.microphone.flush()
        if not question.cut_in and speaking is None:
            for _ in range(round(self._tail / STEP)):
                self._block()
        endpoint = self._endpoint
        endpoint.reset()
        self._decided = None
        begun = self._now()
        patient = question.asks in PATIENT
        spent = 0.0
        prompt = 0.0  # seconds for which the prompt went on while this ear was listening
        while True:
            if speaking is not None:
                if endpoint.started:
                    speaking.stop()
                    speaking = None
                else:
                    prompt = endpoint.elapsed
                    speaking = None if speaking.over else speaking
            late = patient and endpoint.elapsed >= prompt + question.patience + self._pauses.overtime
            if late or (not endpoint.started and endpoint.elapsed >= prompt + question.patience):
                loud = self.floor.db > DEFAULT.noisy_db
                return Hearing(
                    "noisy" if loud else "silence", noise_db=self.floor.db, ended=self._now(), compute_s=spent
                )
            endpoint.push(self._block())
            if not endpoint.started:
                continue
            if not endpoint.enough:
                if endpoint.silence > self._pauses.full:
                    endpoint.drop()
                continue
            hearing, cost = self._answer(question, begun)
            spent += cost
            if hearing is None:
                continue
            if hearing.outcome == "heard" or not patient:
                return replace(hearing, compute_s=spent)
            endpoint.drop()

    def _answer(self, question: Question, begun: float) -> tuple[Hearing | None, float]:
        """The answer so far if it is over, else None; and the seconds spent on it.

        The engines run as soon as the voice dips; by the time the pause is long enough to count, the decision is
        mostly there. If it was not sure enough, they run once more a little later: a soft last consonant is not noticed
        as speech.
        """
        endpoint, pauses = self._endpoint, self._pauses
        over = endpoint.length >= (pauses.longest_free if question.free else pauses.longest)
        early = self._decided[1] if self._decided is not None and self._decided[0] == endpoint.last else None
        sure = early is not None and early.outcome == "heard"
        start = time.perf_counter()
        if not question.free and not over:
            if _crosses(endpoint.silence, pauses.dip) or (_crosses(endpoint.silence, pauses.again) and not sure):
                early = self._decide(endpoint.audio(), question)
                self._decided = (endpoint.last, early)
                return None, time.perf_counter() - start
            if early is not None:
                soon = pauses.breath if question.asks in CONDITIONS else pauses.early
                full = pauses.open if early.open else soon if sure else pauses.full
                if endpoint.silence < full:
                    return None, 0.0
                return self._hearing(question, early, endpoint.audio(), begun), 0.0
        if not over and endpoint.silence < (pauses.free if question.free else pauses.full):
            return None, 0.0
        audio = endpoint.audio()
        hearing = self._hearing(question, self._decide(audio, question), audio, begun)
        return hearing, time.perf_counter() - start

    def _decide(self, audio: Audio, question: Question) -> Decision:
        judged, snr_db = self.judge(audio, question), self._endpoint.snr_db()
        if snr_db >= DEFAULT.quiet_db:
            judged = standing_in(judged, question, self._like)
        votes = {engine.name: engine.score(audio, list(question.meanings)) for engine in self._more}
        return decide(question, Opinions(judged, snr_db, votes))

    def _hearing(self, question: Question, decision: Decision, audio: Audio, begun: float) -> Hearing:
        endpoint = self._endpoint
        outcome: Outcome = decision.outcome
        meaning = decision.phrase.meaning if decision.phrase and outcome != "unclear" else None
        words = decision.phrase.text if meaning is not None and decision.phrase else decision.free
        confidence = decision.confidence
        snr = endpoint.snr_db()
        engines = [self._judge, *self._more]
        if question.free and outcome != "heard":
            text = self._writer.transcribe(audio)
            if any(letter.isalnum() for letter in text):
                known = question.meanings.get(text.strip(" .,!?").lower())  # nothing but a phrase was said
                outcome, meaning, words, confidence = "heard", known or Words(text), text, 0.5
        elif outcome == "unclear" and self._loud(snr):
            outcome = "noisy"
        elif outcome == "unclear" and question.asks not in PATIENT:
            words = self._writer.transcribe(audio)  # it may name an item, and our model knows answers best
        return Hearing(
            outcome, meaning, words, confidence,
            alternatives=tuple(p for p in (decision.phrase, *decision.alternatives) if p and p.meaning != meaning),
            engine="+".join([*(engine.name for engine in engines), *(["attuned"] if self._like else [])]),
            model="; ".join(engine.model for engine in engines),
            started=begun + endpoint.onset, ended=begun + endpoint.last,
            noise_db=self.floor.db, snr_db=snr, audio=audio,
        )  # fmt: skip

    def _loud(self, snr: float) -> bool:
        """Whether it was the noise that kept an answer from being understood."""
        limits, floor = DEFAULT, self.floor.db
        return floor > limits.noisy_db or (floor > limits.still_db and snr < limits.noisy_snr_db)

    def _block(self) -> Audio:
        block = self.microphone.read()
        self._read += STEP
        return block

    def _now(self) -> float:
        return self._clock.now() if self._clock else self._read


def _crosses(silence: float, limit: float) -> bool:
    """Whether this block is the first at which the silence has reached the limit."""
    return silence >= limit > silence - STEP
