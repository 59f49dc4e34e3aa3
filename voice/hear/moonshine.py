"""A transformer that scores the phrases it may hear, instead of guessing free text and comparing letters.

The English "tiny" model is inside the wheel of moonshine-voice 0.1.0 (MIT). Only its files are used, by onnxruntime:
the encoder runs once over the audio, the decoder with its cache over a prefix tree of all the ways the allowed
phrases may be written, many branches at once. The free (unconstrained) decoding of the same audio tells how
much better anything else would fit, which is what rejection needs; it is also the transcript.

A decoder has learnt a language: it likes "okay" whatever it hears. So what each prefix scores on noise alone
(the prior) is taken away, weighted.
"""

from __future__ import annotations

import importlib.metadata
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from voice.errors import SetupError
from voice.hear.port import RATE, Audio, Scored
from voice.hear.tokens import END, START, Node, Tree, Vocabulary

Floats = NDArray[np.float32]

LAYERS, HEADS, WIDTH = 6, 8, 36
BEAM = 40  # branches kept at each token
SPAN = 14.0  # nats: a branch this far below the best is dropped
PRIOR_WEIGHT = 0.6
SHORTEST = RATE  # samples: shorter audio is padded with itself faded, the model was not trained on less
CHUNK = 12 * RATE  # samples: longest stretch transcribed at once


@dataclass(frozen=True, slots=True)
class Judged:
    """What the transformer makes of a piece of audio.

    scores: phrase -> log-likelihood less the weighted prior, best first (pruned phrases are missing).
    raw: phrase -> plain log-likelihood. prior: phrase -> the same on noise alone.
    free: the unconstrained transcript. free_score: its log-likelihood.
    """

    scores: dict[str, float]
    raw: dict[str, float]
    prior: dict[str, float]
    free: str
    free_score: float


def model_folder() -> Path:
    """Folder of the model's files inside the installed wheel, found without importing it (its import is heavy).

    Raises SetupError if the wheel is missing or carries no model.
    """
    try:
        wheel = importlib.metadata.distribution("moonshine-voice")
    except importlib.metadata.PackageNotFoundError:
        raise SetupError(
            "The speech model is not installed.", "Install it: pip install moonshine-voice==0.1.0"
        ) from None
    folder = Path(str(wheel.locate_file("moonshine_voice/assets/tiny-en")))
    missing = [name for name in _FILES if not (folder / name).is_file()]
    if missing:
        raise SetupError(
            f"The installed moonshine-voice {wheel.version} carries no English model ({missing[0]} is missing).",
            "Install the version that does: pip install moonshine-voice==0.1.0",
        )
    return folder


_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")


class Moonshine:
    """Recogniser and Transcriber. Safe to use from several threads: one at a time is let in."""

    name = "moonshine"

    def __init__(
        self, folder: Path | None = None, *, threads: int = 2, prior_weight: float = PRIOR_WEIGHT, beam: int = BEAM
    ) -> None:
        import onnxruntime

        folder = folder or model_folder()
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads
        options.inter_op_num_threads = 1
        options.add_session_config_entry("session.intra_op.allow_spinning", "0")  # leave the cores to the rest
        try:
            self._encoder = onnxruntime.InferenceSession(str(folder / _FILES[0]), options)
            self._decoder = onnxruntime.InferenceSession(str(folder / _FILES[1]), options)
        except Exception as error:  # onnxruntime's own exceptions share no base
            raise SetupError(f"The speech model in {folder} cannot be loaded: {error}", "Reinstall it.") from error
        self.vocabulary = Vocabulary(folder / _FILES[2])
        self.model = f"tiny-en of {importlib.metadata.version('moonshine-voice')}"
        self._outputs = [output.name for output in self._decoder.get_outputs()]
        self._weight = prior_weight
        self._beam = beam
        self._lock = threading.Lock()
        self._ends = [END, *(self.vocabulary.encode("a" + mark)[-1] for mark in ".!?")]
        self._noise = self._encode(_prior_noise())
        self._priors: dict[tuple[int, ...], dict[int, float]] = {}
        self._tree = lru_cache(maxsize=64)(lambda phrases: Tree(self.vocabulary, phrases))

    def score(self, audio: Audio, phrases: Sequence[str]) -> list[Scored]:
        """Log-likelihood of each phrase less its prior, best first; phrases far from the best are left out."""
        return [Scored(text, score) for text, score in self.judge(audio, phrases).scores.items()]

    def judge(self, audio: Audio, phrases: Sequence[str]) -> Judged:
        """Scores of the phrases and the free transcript from one run of the encoder."""
        with self._lock:
            hidden = self._encode(_padded(audio))
            raw, prior = self._search(hidden, self._tree(tuple(phrases)))
            free, free_score = self._greedy(hidden, limit=_limit(audio))
        scores = {text: value - self._weight * prior[text] for text, value in raw.items()}
        ordered = dict(sorted(scores.items(), key=lambda item: -item[1]))
        return Judged(ordered, raw, prior, self.vocabulary.decode(free), free_score)

    def transcribe(self, audio: Audio) -> str:
        """Free text of up to any length: cut at the quietest place in every stretch that is too long."""
        pieces = []
        with self._lock:
            for piece in _chunks(audio):
                tokens, _ = self._greedy(self._encode(_padded(piece)), limit=_limit(piece))
                pieces.append(self.vocabulary.decode(tokens))
        return " ".join(piece for piece in pieces if piece)

    def warm(self, phrases: Sequence[str]) -> None:
        """Build the tree and its first priors ahead of time, so that the first answer is as quick as the rest."""
        self.judge(np.zeros(RATE, np.float32), phrases)

    # -- the model --------------------------------------------------------------------------------------------

    def _encode(self, audio: Audio) -> Floats:
        feeds = {"input_values": audio[None], "attention_mask": np.ones((1, len(audio)), np.int64)}
        hidden: Floats = self._encoder.run(None, feeds)[0]
        return hidden

    def _start(self, hidden: Floats) -> tuple[Floats, dict[str, Floats]]:
        """Log-probabilities of the first token and the cache after the start token."""
        empty = {
            f"past_key_values.{layer}.{side}.{kind}": np.zeros(
                (1, HEADS, 0 if side == "decoder" else hidden.shape[1], WIDTH), np.float32
            )
            for layer in range(LAYERS)
            for side in ("decoder", "encoder")
            for kind in ("key", "value")
        }
        return self._run(np.array([[START]]), hidden, empty, cached=False)

    def _run(
        self, tokens: NDArray[np.int64], hidden: Floats, past: dict[str, Floats], *, cached: bool = True
    ) -> tuple[Floats, dict[str, Floats]]:
        """One decoder step for a batch of branches. The encoder's part of the cache stays one row: it broadcasts."""
        feeds: dict[str, Any] = {
            "input_ids": tokens,
            "encoder_hidden_states": np.broadcast_to(hidden, (len(tokens), *hidden.shape[1:])),
            # one column for all frames: the graph takes every 384th, and a longer mask breaks after 9.2 s of audio
            "encoder_attention_mask": np.ones((len(tokens), 1), np.int64),
            "use_cache_branch": np.array([cached]),
            **past,
        }
        outputs = dict(zip(self._outputs, self._decoder.run(None, feeds), strict=True))
        logits = outputs.pop("logits")[:, -1]
        now = {}
        for name, value in outputs.items():
            key = name.replace("present", "past_key_values")
            now[key] = past[key] if cached and ".encoder." in name else value
        logits -= logits.max(axis=1, keepdims=True)
        return logits - np.log(np.exp(logits).sum(axis=1, keepdims=True)), now

    # -- search -----------------------------------------------------------------------------------------------

    def _search(self, hidden: Floats, tree: Tree) -> tuple[dict[str, float], dict[str, float]]:
        raw: dict[int, float] = {}
        prior: dict[int, float] = {}
        best = -np.inf
        beam: list[tuple[Node, float, float]] = [(tree.root, 0.0, 0.0)]  # node, log-likelihood, its prior
        logp, past = self._start(hidden)
        while beam:
            priors = self._prior_rows([node for node, _, _ in beam])
            grown: list[tuple[float, int, Node, float, float]] = []
            for row, (node, sure, before) in enumerate(beam):
                if node.phrases:
                    ended = sure + float(np.logaddexp.reduce(logp[row, self._ends]))
                    end_prior = before + priors[row][END]
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
                rows = [row for _, row, _, _, _ in kept]
                past = {key: value if ".encoder." in key else value[rows] for key, value in past.items()}
                tokens = np.array([[child.prefix[-1]] for child, _, _ in beam])
                logp, past = self._run(tokens, hidden, past)
        names = tree.phrases
        return {names[k]: v for k, v in raw.items()}, {names[k]: v for k, v in prior.items()}

    def _greedy(self, hidden: Floats, limit: int) -> tuple[list[int], float]:
        logp, past = self._start(hidden)
        tokens: list[int] = []
        total = 0.0
        while len(tokens) < limit:
            token = int(logp[0].argmax())
            total += float(logp[0, token])
            if token == END:
                break
            tokens.append(token)
            logp, past = self._run(np.array([[token]]), hidden, past)
        return tokens, total

    # -- prior ------------------------------------------------------------------------------------------------

    def _prior_rows(self, nodes: Sequence[Node]) -> list[dict[int, float]]:
        """For each node: log-probability on noise of each child and of ending; kept for all later questions."""
        missing = []
        for node in nodes:
            known = self._priors.get(node.prefix)
            if known is None or not node.children.keys() <= known.keys():
                missing.append(node)
        for at in range(0, len(missing), 64):
            self._learn_priors(missing[at : at + 64])
        return [self._priors[node.prefix] for node in nodes]

    def _learn_priors(self, nodes: Sequence[Node]) -> None:
        logp, past = self._start(self._noise)
        if length := len(nodes[0].prefix):
            past = {k: v if ".encoder." in k else np.repeat(v, len(nodes), axis=0) for k, v in past.items()}
            for at in range(length):
                tokens = np.array([[node.prefix[at]] for node in nodes])
                logp, past = self._run(tokens, self._noise, past)
        ends = np.logaddexp.reduce(logp[:, self._ends], axis=1)
        for row, node in enumerate(nodes):
            known = self._priors.setdefault(node.prefix, {})
            known[END] = float(ends[row])
            known.update((token, float(logp[row, token])) for token in node.children)


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


def _padded(audio: Audio) -> Audio:
    """At least SHORTEST samples, the speech kept at its place, silence added behind."""
    if len(audio) >= SHORTEST:
        return np.ascontiguousarray(audio, np.float32)
    return np.concatenate([audio, np.zeros(SHORTEST - len(audio), np.float32)]).astype(np.float32)


def _limit(audio: Audio) -> int:
    """Most tokens that can be spoken in this time; more is the model running on by itself."""
    return 6 + int(8 * len(audio) / RATE)


def _chunks(audio: Audio) -> list[Audio]:
    """Stretches of at most CHUNK samples, cut where the sound is weakest in the second half of each."""
    pieces = []
    while len(audio) > CHUNK:
        frame = RATE // 20
        tail = audio[CHUNK // 2 : CHUNK]
        levels = np.square(tail[: len(tail) // frame * frame].reshape(-1, frame)).mean(axis=1)
        smooth = np.convolve(levels, np.ones(5) / 5, mode="same")
        cut = CHUNK // 2 + int(smooth.argmin()) * frame + frame // 2
        pieces.append(audio[:cut])
        audio = audio[cut:]
    return [*pieces, audio] if len(audio) else pieces
