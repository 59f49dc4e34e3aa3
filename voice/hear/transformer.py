"""A transformer that scores the phrases it may hear, instead of guessing free text and comparing letters.

Its encoder runs once over the audio, its decoder with a cache over a prefix tree of all the ways the allowed phrases
may be written, many branches at once. The free (unconstrained) decoding of the same audio tells how much better
anything else would fit, which is what rejection needs; it is also the transcript.

What is common to every such model is here; whisper.py and moonshine.py have the models.
"""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from voice.hear.port import Scored
from voice.hear.tokens import Forms, PrefixTree, Tree, Vocabulary
from voice.hear.written import written
from voice.sound.port import RATE, Audio

Floats = NDArray[np.float32]

SPAN = 14.0  # nats: a branch this far below the best is dropped
SHORTEST = RATE  # samples: shorter audio is padded, the models were not trained on less
CHUNK = 12 * RATE  # samples: longest stretch transcribed at once


@dataclass(frozen=True, slots=True)
class Spelled:
    """What a second head on the same encoder makes of the best phrases, spelling them in phonemes.

    scores: phrase -> log-likelihood.
    best: of the likeliest phonemes, whatever they spell.
    nothing: of none at all.
    """

    scores: Mapping[str, float] = field(default_factory=dict)
    best: float = 0.0
    nothing: float = 0.0


@dataclass(frozen=True, slots=True)
class Judged:
    """What a transformer makes of a piece of audio.

    scores: phrase -> log-likelihood, best first (pruned phrases are missing).
    nothing: log-likelihood of no text at all.
    free: the unconstrained transcript.
    free_score: its log-likelihood.
    spelled: the second opinion, if the model has one.
    """

    scores: dict[str, float]
    nothing: float
    free: str
    free_score: float
    spelled: Spelled = Spelled()


class _Found(NamedTuple):
    """What a search has found.

    scores, nothing, free_score: as in Judged.
    free: tokens of the unconstrained transcript.
    """

    scores: dict[str, float]
    nothing: float
    free: list[int]
    free_score: float


class Transformer(ABC):
    """Recognizer and Transcriber. Safe to use from several threads: one at a time is let in.

    beam: branches kept at each token.
    forms: the ways the model may write a phrase.
    marks: what it may end one with.
    A subclass loads its model and vocabulary, then calls this.
    """

    name: str
    model: str
    spells = False  # whether it has a second opinion

    def __init__(self, vocabulary: Vocabulary, *, beam: int, forms: Forms = written, marks: str = ".!?") -> None:
        self.vocabulary = vocabulary
        self._beam = beam
        self._lock = threading.Lock()
        self._ends = [vocabulary.end, *(vocabulary.encode("a" + mark)[-1] for mark in marks)]
        self._tree = lru_cache(maxsize=64)(lambda phrases: Tree(self.vocabulary, phrases, forms))

    def score(self, audio: Audio, phrases: Sequence[str]) -> list[Scored]:
        """Log-likelihood of each phrase, best first; phrases far from the best are left out."""
        with self._lock:
            found = self._search(self._encode(padded(audio)), self._tree(tuple(phrases)))
        return [Scored(text, score) for text, score in found.scores.items()]

    def judge(self, audio: Audio, phrases: Sequence[str], names: Sequence[str] = ()) -> Judged:
        """Scores of the phrases and the transcript from one run of the encoder.

        names: of the phrases, those that the second head is always asked about: the decoder knows no names.
        """
        with self._lock:
            hidden = self._encode(padded(audio))
            found = self._search(hidden, self._tree(tuple(phrases)), longest=most_tokens(audio))
            spelled = self._spelled(hidden, list(dict.fromkeys([*names, *found.scores])))
        return Judged(found.scores, found.nothing, self.vocabulary.decode(found.free), found.free_score, spelled)

    def transcribe(self, audio: Audio) -> str:
        """Free text of up to any length: cut at the quietest place in every stretch that is too long."""
        texts = []
        with self._lock:
            for piece in pieces(audio):
                found = self._search(self._encode(padded(piece)), self._tree(()), longest=most_tokens(piece))
                texts.append(self.vocabulary.decode(found.free))
        return " ".join(piece for piece in texts if piece)

    # -- the model, by the subclass ---------------------------------------------------------------------------

    @abstractmethod
    def _encode(self, audio: Audio) -> Any:
        """What the decoder attends to."""

    @abstractmethod
    def _start(self, hidden: Any) -> tuple[Floats, Any]:
        """Log-probabilities (1, vocabulary) of the first token, and the cache after what comes before it."""

    @abstractmethod
    def _run(self, tokens: NDArray[np.int64], hidden: Any, past: Any) -> tuple[Floats, Any]:
        """One step: tokens (branches, 1) -> log-probabilities (branches, vocabulary) of the next, and the cache."""

    @abstractmethod
    def _pick(self, past: Any, rows: Sequence[int]) -> Any:
        """The cache of these branches, in this order; a branch may be there several times."""

    def _spelled(self, hidden: Any, phrases: Sequence[str]) -> Spelled:
        """The second opinion on the first of these phrases; of a subclass that spells."""
        return Spelled()

    # -- search -----------------------------------------------------------------------------------------------

    def _search(self, hidden: Any, tree: Tree, longest: int = 0) -> _Found:
        """Down the tree, the best branches at once; beside them, as one branch more, up to `longest` tokens of whatever
        is likeliest. A step reads all weights of the decoder: one branch more costs hardly anything.
        """
        ended: dict[int, float] = {}
        best = -np.inf
        beam: list[tuple[PrefixTree, float]] = [(tree.root, 0.0)]  # node, log-likelihood
        free: list[int] = []
        free_score, free_row = 0.0, 0 if longest else None
        logp, past = self._start(hidden)
        nothing = float(logp[0, self.vocabulary.end])
        while True:
            grown: list[tuple[float, int, PrefixTree]] = []
            for row, (node, sure) in enumerate(beam):
                if node.phrases:
                    value = sure + float(np.logaddexp.reduce(logp[row, self._ends]))
                    best = max(best, value)
                    for phrase in node.phrases:
                        ended[phrase] = float(np.logaddexp(ended.get(phrase, -np.inf), value))
                for token, child in node.children.items():
                    grown.append((sure + float(logp[row, token]), row, child))
            grown.sort(key=lambda item: -item[0])
            floor = max(best, grown[0][0] if grown else -np.inf) - SPAN
            kept = [item for item in grown[: self._beam] if item[0] >= floor]
            beam = [(child, value) for value, _, child in kept]
            rows = [row for _, row, _ in kept]
            tokens = [child.prefix[-1] for child, _ in beam]
            if free_row is not None:
                token = int(logp[free_row].argmax())
                free_score += float(logp[free_row, token])
                if token != self.vocabulary.end:
                    free.append(token)
                if token == self.vocabulary.end or len(free) == longest:
                    free_row = None
                else:
                    rows.append(free_row)
                    tokens.append(token)
                    free_row = len(beam)
            if not rows:
                break
            logp, past = self._run(np.array(tokens)[:, None], hidden, self._pick(past, rows))
        scores = {tree.phrases[number]: value for number, value in ended.items()}
        return _Found(dict(sorted(scores.items(), key=lambda item: -item[1])), nothing, free, free_score)


def log_softmax(logits: Floats) -> Floats:
    """Along the last axis; the array given is used up."""
    logits -= logits.max(axis=-1, keepdims=True)
    logits -= np.log(np.exp(logits).sum(axis=-1, keepdims=True))
    return logits


def padded(audio: Audio) -> Audio:
    """At least SHORTEST samples, the speech kept at its place, silence added behind."""
    if len(audio) >= SHORTEST:
        return np.ascontiguousarray(audio, np.float32)
    return np.concatenate([audio, np.zeros(SHORTEST - len(audio), np.float32)]).astype(np.float32)


def most_tokens(audio: Audio) -> int:
    """Most tokens that can be spoken in this time; more is the model running on by itself."""
    return 6 + int(8 * len(audio) / RATE)


def pieces(audio: Audio) -> list[Audio]:
    """Stretches of at most CHUNK samples, cut where the sound is weakest in the second half of each."""
    found = []
    while len(audio) > CHUNK:
        frame = RATE // 20
        tail = audio[CHUNK // 2 : CHUNK]
        levels = np.square(tail[: len(tail) // frame * frame].reshape(-1, frame)).mean(axis=1)
        smooth = np.convolve(levels, np.ones(5) / 5, mode="same")
        cut = CHUNK // 2 + int(smooth.argmin()) * frame + frame // 2
        found.append(audio[:cut])
        audio = audio[cut:]
    return [*found, audio] if len(audio) else found
