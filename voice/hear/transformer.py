"""A transformer that scores the phrases it may hear, instead of guessing free text and comparing letters.

Its encoder runs once over the audio, its decoder with a cache over a prefix tree of all the ways the allowed phrases
may be written, many branches at once. The free (unconstrained) decoding of the same audio tells how much better
anything else would fit, which is what rejection needs; it is also the transcript.

A decoder has learnt a language: it likes "okay" whatever it hears. So what each prefix scores on noise alone
(the prior) is taken away, weighted.

What is common to every such model is here; moonshine.py and whisper.py have the models.
"""

from __future__ import annotations

import contextlib
import hashlib
import threading
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import orjson
from numpy.typing import NDArray

from voice.data import durable
from voice.hear.port import Scored
from voice.hear.tokens import PrefixTree, Tree, Vocabulary
from voice.sound.port import RATE, Audio

Floats = NDArray[np.float32]

SPAN = 14.0  # nats: a branch this far below the best is dropped
SHORTEST = RATE  # samples: shorter audio is padded, the models were not trained on less
CHUNK = 12 * RATE  # samples: longest stretch transcribed at once


@dataclass(frozen=True, slots=True)
class Judged:
    """What a transformer makes of a piece of audio.

    scores: phrase -> log-likelihood less the weighted prior, best first (pruned phrases are missing).
    raw: phrase -> plain log-likelihood. prior: phrase -> the same on noise alone.
    free: the unconstrained transcript. free_score: its log-likelihood.
    """

    scores: dict[str, float]
    raw: dict[str, float]
    prior: dict[str, float]
    free: str
    free_score: float


class Transformer(ABC):
    """Recognizer and Transcriber. Safe to use from several threads: one at a time is let in.

    beam: branches kept at each token. A subclass loads its model and vocabulary, then calls this.
    """

    name: str
    model: str

    def __init__(self, vocabulary: Vocabulary, *, prior_weight: float, beam: int) -> None:
        self.vocabulary = vocabulary
        self._weight = prior_weight
        self._beam = beam
        self._lock = threading.Lock()
        self._ends = [vocabulary.end, *(vocabulary.encode("a" + mark)[-1] for mark in ".!?")]
        self._never: list[int] = []  # tokens that the free transcript never has
        self._priors: dict[tuple[int, ...], dict[int, float]] = {}
        self._kept_in: Path | None = None
        self._learnt = False  # more than what is kept
        self._tree = lru_cache(maxsize=64)(lambda phrases: Tree(self.vocabulary, phrases))
        self._noise = self._encode(_prior_noise())

    def score(self, audio: Audio, phrases: Sequence[str]) -> list[Scored]:
        """Log-likelihood of each phrase less its prior, best first; phrases far from the best are left out."""
        return [Scored(text, score) for text, score in self.judge(audio, phrases, free=False).scores.items()]

    def judge(self, audio: Audio, phrases: Sequence[str], *, free: bool = True) -> Judged:
        """Scores of the phrases and, if free, the transcript (else "" and 0) from one run of the encoder."""
        with self._lock:
            hidden = self._encode(padded(audio))
            raw, prior = self._search(hidden, self._tree(tuple(phrases)))
            tokens, free_score = self._greedy(hidden, limit=most_tokens(audio)) if free else ([], 0.0)
        scores = {text: value - self._weight * prior[text] for text, value in raw.items()}
        ordered = dict(sorted(scores.items(), key=lambda item: -item[1]))
        return Judged(ordered, raw, prior, self.vocabulary.decode(tokens), free_score)

    def transcribe(self, audio: Audio) -> str:
        """Free text of up to any length: cut at the quietest place in every stretch that is too long."""
        written = []
        with self._lock:
            for piece in pieces(audio):
                tokens, _ = self._greedy(self._encode(padded(piece)), limit=most_tokens(piece))
                written.append(self.vocabulary.decode(tokens))
        return " ".join(piece for piece in written if piece)

    def warm(self, phrases: Sequence[str]) -> None:
        """Learn the priors of these phrases ahead of time, so that the first answer is as quick as the rest. A few at
        a time, so that another thread can be let in between."""
        root = self._tree(tuple(phrases)).root
        if self._lacking(root):
            with self._lock:
                logp, past = self._start(self._noise)
            self._learn_below([root], logp, past)

    def remember(self, folder: Path) -> None:
        """Take the priors that were kept in this folder, and let `keep` put them there. They are always the same for
        the same model and noise, so what is lost costs only time; a file that cannot be read counts as none."""
        mark = hashlib.sha256(self.model.encode() + _prior_noise().tobytes()).hexdigest()[:12]
        self._kept_in = folder / f"priors-{self.name}-{mark}.json"
        try:
            kept = orjson.loads(self._kept_in.read_bytes())
            read = {
                tuple(map(int, key.split())): {int(token): float(value) for token, value in row.items()}
                for key, row in kept.items()
            }
        except (OSError, ValueError, AttributeError):
            return
        with self._lock:
            self._priors = read | self._priors

    def keep(self) -> None:
        """Write the priors down if there are new ones. A disk that takes no more is no error."""
        with self._lock:
            if self._kept_in is None or not self._learnt:
                return
            rows = {
                " ".join(map(str, prefix)): {str(token): round(value, 4) for token, value in row.items()}
                for prefix, row in self._priors.items()
            }
            self._learnt = False
        with contextlib.suppress(OSError):
            durable.make_folder(self._kept_in.parent)
            durable.replace(self._kept_in, orjson.dumps(rows), sync=False)

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

    # -- search -----------------------------------------------------------------------------------------------

    def _search(self, hidden: Any, tree: Tree) -> tuple[dict[str, float], dict[str, float]]:
        raw: dict[int, float] = {}
        prior: dict[int, float] = {}
        best = -np.inf
        beam: list[tuple[PrefixTree, float, float]] = [(tree.root, 0.0, 0.0)]  # node, log-likelihood, its prior
        logp, past = self._start(hidden)
        while beam:
            priors = self._prior_rows([node for node, _, _ in beam])
            grown: list[tuple[float, int, PrefixTree, float, float]] = []
            for row, (node, sure, before) in enumerate(beam):
                if node.phrases:
                    ended = sure + float(np.logaddexp.reduce(logp[row, self._ends]))
                    end_prior = before + priors[row][self.vocabulary.end]
                    best = max(best, ended - self._weight * end_prior)
                    for phrase in node.phrases:
                        raw[phrase] = float(np.logaddexp(raw.get(phrase, -np.inf), ended))
                        prior[phrase] = float(np.logaddexp(prior.get(phrase, -np.inf), end_prior))
                for token, child in node.children.items():
                    value, below = sure + float(logp[row, token]), before + priors[row][token]
                    grown.append((value - self._weight * below, row, child, value, below))
            grown.sort(key=lambda item: -item[0])
            floor = max(best, grown[0][0] if grown else -np.inf) - SPAN
            kept = [item for item in grown[: self._beam] if item[0] >= floor]
            beam = [(child, value, below) for _, _, child, value, below in kept]
            if beam:
                past = self._pick(past, [row for _, row, _, _, _ in kept])
                tokens = np.array([[child.prefix[-1]] for child, _, _ in beam])
                logp, past = self._run(tokens, hidden, past)
        names = tree.phrases
        return {names[k]: v for k, v in raw.items()}, {names[k]: v for k, v in prior.items()}

    def _greedy(self, hidden: Any, limit: int) -> tuple[list[int], float]:
        logp, past = self._start(hidden)
        tokens: list[int] = []
        total = 0.0
        while len(tokens) < limit:
            logp[0, self._never] = -np.inf
            token = int(logp[0].argmax())
            total += float(logp[0, token])
            if token == self.vocabulary.end:
                break
            tokens.append(token)
            logp, past = self._run(np.array([[token]]), hidden, past)
        return tokens, total

    # -- prior ------------------------------------------------------------------------------------------------

    def _prior_rows(self, nodes: Sequence[PrefixTree]) -> list[dict[int, float]]:
        """For each node: log-probability on noise of each child and of ending; kept for all later questions."""
        missing = [node for node in nodes if not self._known(node)]
        for at in range(0, len(missing), 64):
            self._learn(missing[at : at + 64])
        return [self._priors[node.prefix] for node in nodes]

    def _known(self, node: PrefixTree) -> bool:
        return node.children.keys() <= self._priors.get(node.prefix, {}).keys() and node.prefix in self._priors

    def _lacking(self, node: PrefixTree) -> bool:
        """Whether the prior of this node or of one below is not known."""
        return not self._known(node) or any(self._lacking(child) for child in node.children.values())

    def _learn(self, nodes: Sequence[PrefixTree]) -> None:
        """The priors of nodes of one depth."""
        logp, past = self._start(self._noise)
        if length := len(nodes[0].prefix):
            past = self._pick(past, [0] * len(nodes))
            for at in range(length):
                tokens = np.array([[node.prefix[at]] for node in nodes])
                logp, past = self._run(tokens, self._noise, past)
        self._note(nodes, logp)

    def _learn_below(self, nodes: Sequence[PrefixTree], logp: Floats, past: Any) -> None:
        """The priors of these nodes, whose rows are given, and of all below."""
        with self._lock:
            self._note(nodes, logp)
        grown = [(row, child) for row, node in enumerate(nodes) for child in node.children.values()]
        grown = [(row, child) for row, child in grown if self._lacking(child)]
        for at in range(0, len(grown), 32):
            some = grown[at : at + 32]
            tokens = np.array([[child.prefix[-1]] for _, child in some])
            with self._lock:
                below, cache = self._run(tokens, self._noise, self._pick(past, [row for row, _ in some]))
            self._learn_below([child for _, child in some], below, cache)

    def _note(self, nodes: Sequence[PrefixTree], logp: Floats) -> None:
        self._learnt = True
        ends = np.logaddexp.reduce(logp[:, self._ends], axis=1)
        for row, node in enumerate(nodes):
            known = self._priors.setdefault(node.prefix, {})
            known[self.vocabulary.end] = float(ends[row])
            known.update((token, float(logp[row, token])) for token in node.children)


def log_softmax(logits: Floats) -> Floats:
    """Along the last axis; the array given is used up."""
    logits -= logits.max(axis=-1, keepdims=True)
    logits -= np.log(np.exp(logits).sum(axis=-1, keepdims=True))
    return logits


def _prior_noise() -> Audio:
    """The sound without speech that the prior is taken from: a rumble. Always the same.

    Near silence and pink noise give nearly the same priors (correlation 0.99 over all shipped phrases).
    """
    random = np.random.default_rng(5)
    spectrum = np.fft.rfft(random.standard_normal(SHORTEST))
    frequency = np.fft.rfftfreq(SHORTEST, 1 / RATE)
    rumble = np.fft.irfft(spectrum * np.exp(-frequency / 400), SHORTEST)
    noise: Audio = (0.05 * rumble / np.sqrt(np.mean(rumble**2))).astype(np.float32)
    return noise


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
