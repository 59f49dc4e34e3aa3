"""Our own acoustic model for the yard: Whisper tiny.en (MIT), taught further (models/EAR.md, models/training).

No runtime for such a model lets the decoder be led along a tree of phrases with the audio attended to once, which is
what makes scoring them quick; the model is small, so it is worked out here, in numpy. Model and features: Radford et
al. 2022, "Robust Speech Recognition via Large-Scale Weak Supervision", section 2.2. A second head on the encoder spells
phonemes (spelling.py). The tests hold every part against ctranslate2 or a plain reference.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from voice.hear.mel import log_mel
from voice.hear.pronounce import Dictionary
from voice.hear.spelling import BLANK, NUMBER, likelihoods
from voice.hear.transformer import Floats, Spelled, Transformer, log_softmax
from voice.hear.weights import damaged, read_weights
from voice.sound.port import RATE, Audio

HEADS, LAYERS, WIDTH = 6, 4, 384
LONGEST_S = 10.0
BEAM = 20
SPELLED = 24  # phrases that the second head is asked about; more of no question are near enough to matter


@dataclass(slots=True)
class _Linear:
    """weight: (in, out)."""

    weight: Floats
    bias: Floats

    def __call__(self, x: Floats) -> Floats:
        out: Floats = x.reshape(-1, x.shape[-1]) @ self.weight  # one product, not one for every branch
        out += self.bias
        return out.reshape(*x.shape[:-1], -1)


@dataclass(slots=True)
class _Norm:
    gamma: Floats
    beta: Floats

    def __call__(self, x: Floats) -> Floats:
        centered = x - x.mean(axis=-1, keepdims=True)
        centered /= np.sqrt(np.square(centered).mean(axis=-1, keepdims=True) + 1e-5)
        out: Floats = centered * self.gamma + self.beta
        return out


@dataclass(slots=True)
class _Block:
    """A layer of the encoder, and what a layer of the decoder has of it.

    itself: query, key and value in one.
    """

    norm: _Norm
    itself: _Linear
    itself_out: _Linear
    wide_norm: _Norm
    wide: _Linear
    narrow: _Linear

    def feed_forward(self, x: Floats) -> Floats:
        return x + self.narrow(_gelu(self.wide(self.wide_norm(x))))


@dataclass(slots=True)
class _Across:
    """What a layer of the decoder has to look at the encoder's output.

    keys_values: both in one.
    """

    norm: _Norm
    query: _Linear
    keys_values: _Linear
    out: _Linear


@dataclass(frozen=True, slots=True)
class Encoded:
    """frames: the encoder's output.
    keys, values: of it for each layer of the decoder, (heads, frames, width of a head).
    """

    frames: Floats
    keys: tuple[Floats, ...]
    values: tuple[Floats, ...]


@dataclass(frozen=True, slots=True)
class Decoded:
    """keys, values: of the tokens so far for each layer, (branches, heads, tokens, width of a head)."""

    keys: tuple[Floats, ...]
    values: tuple[Floats, ...]

    @property
    def length(self) -> int:
        return int(self.keys[0].shape[2])


class Whisper(Transformer):
    """Recognizer and Transcriber. Safe to use from several threads: one at a time is let in."""

    name = "whisper"

    def __init__(self, file: Path, dictionary: Dictionary | None, *, beam: int = BEAM) -> None:
        """Raises SetupError.

        file: the weights.
        dictionary: without it there is no second opinion.
        """
        weights, vocabulary = read_weights(file)
        try:
            self._load(weights)
        except (KeyError, ValueError) as error:
            raise damaged(file, error) from error
        self.model = file.stem
        self._dictionary = dictionary
        self.spells = dictionary is not None
        super().__init__(vocabulary, beam=beam, forms=_as_spoken, marks="")

    def _load(self, arrays: Mapping[str, Floats]) -> None:
        def linear(name: str) -> _Linear:
            return _Linear(np.ascontiguousarray(arrays[f"{name}/weight"].T), arrays[f"{name}/bias"])

        def norm(name: str) -> _Norm:
            return _Norm(arrays[f"{name}/layer_norm/gamma"], arrays[f"{name}/layer_norm/beta"])

        def block(name: str) -> _Block:
            return _Block(
                norm(f"{name}/self_attention"),
                linear(f"{name}/self_attention/linear_0"),
                linear(f"{name}/self_attention/linear_1"),
                norm(f"{name}/ffn"),
                linear(f"{name}/ffn/linear_0"),
                linear(f"{name}/ffn/linear_1"),
            )

        def across(name: str) -> _Across:
            return _Across(norm(f"{name}/attention"), *(linear(f"{name}/attention/linear_{n}") for n in range(3)))

        convs = [f"encoder/conv{n}" for n in (1, 2)]
        self._conv = [
            (np.ascontiguousarray(arrays[f"{conv}/weight"].transpose(2, 1, 0)), arrays[f"{conv}/bias"])
            for conv in convs
        ]
        self._places = arrays["encoder/position_encodings/encodings"]
        self._encoder_blocks = [block(f"encoder/layer_{n}") for n in range(LAYERS)]
        self._encoder_norm = norm("encoder")
        self._words = np.ascontiguousarray(arrays["decoder/embeddings/weight"].T)  # (WIDTH, vocabulary)
        self._before = arrays["start"]  # (2, WIDTH): start of transcript, no timestamps
        self._positions = arrays["decoder/position_encodings/encodings"]
        names = [f"decoder/layer_{n}" for n in range(LAYERS)]
        self._decoder_blocks = [(block(name), across(name)) for name in names]
        self._decoder_norm = norm("decoder")
        self._spell = [
            _Linear(np.ascontiguousarray(arrays[f"spell/{n}.weight"].T), arrays[f"spell/{n}.bias"]) for n in (0, 2)
        ]

    # -- encoder ----------------------------------------------------------------------------------------------

    def encoded(self, features: Floats) -> Floats:
        """Log mel features (BANDS, frames), frames even -> the encoder's output (frames / 2, WIDTH)."""
        x = _gelu(_convolved(features.T, *self._conv[0], step=1))
        x = _gelu(_convolved(x, *self._conv[1], step=2))
        x += self._places[: len(x)]
        for block in self._encoder_blocks:
            q, k, v = (_heads(part) for part in np.split(block.itself(block.norm(x)), 3, axis=-1))
            x = x + block.itself_out(_joined(_attention(q, k, v)))
            x = block.feed_forward(x)
        return self._encoder_norm(x)

    def _encode(self, audio: Audio) -> Encoded:
        hidden = self.encoded(log_mel(audio[: int(LONGEST_S * RATE)]))
        keys, values = [], []
        for _, across in self._decoder_blocks:
            k, v = np.split(across.keys_values(hidden), 2, axis=-1)
            keys.append(_heads(k))
            values.append(_heads(v))
        return Encoded(hidden, tuple(keys), tuple(values))

    def _spelled(self, hidden: Encoded, phrases: Sequence[str]) -> Spelled:
        if self._dictionary is None:
            return Spelled()
        say, logp = self._dictionary.phones, self.sounds(hidden.frames)
        texts = [[NUMBER[sound] for word in phrase.split() for sound in say(word)] for phrase in phrases[:SPELLED]]
        scores = dict(zip(phrases, likelihoods(logp, texts), strict=False)) if texts else {}
        return Spelled(scores, float(logp.max(axis=1).sum()), float(logp[:, BLANK].sum()))

    def sounds(self, frames: Floats) -> Floats:
        """The encoder's output -> log-probabilities (frames, 1 + sounds) of the blank and each phoneme."""
        first, second = self._spell
        return log_softmax(second(_gelu(first(frames))))

    # -- decoder ----------------------------------------------------------------------------------------------

    def _start(self, hidden: Encoded) -> tuple[Floats, Decoded]:
        empty = (np.zeros((1, HEADS, 0, WIDTH // HEADS), np.float32),) * LAYERS
        return self._decoded(self._before[None], hidden, Decoded(empty, empty))

    def _run(self, tokens: NDArray[np.int64], hidden: Encoded, past: Decoded) -> tuple[Floats, Decoded]:
        return self._decoded(self._words[:, tokens].transpose(1, 2, 0), hidden, past)

    def _decoded(self, words: Floats, hidden: Encoded, past: Decoded) -> tuple[Floats, Decoded]:
        """words: (branches, tokens, WIDTH)."""
        before, count = past.length, words.shape[1]
        x: Floats = words + self._positions[before : before + count]
        ahead = np.triu(np.full((count, before + count), -np.inf, np.float32), before + 1)
        keys, values = [], []
        for n, (block, across) in enumerate(self._decoder_blocks):
            q, k, v = (_heads(part) for part in np.split(block.itself(block.norm(x)), 3, axis=-1))
            keys.append(np.concatenate([past.keys[n], k], axis=2))
            values.append(np.concatenate([past.values[n], v], axis=2))
            x = x + block.itself_out(_joined(_attention(q, keys[n], values[n], ahead)))
            q = _heads(across.query(across.norm(x)))
            x = x + across.out(_joined(_attention(q, hidden.keys[n], hidden.values[n])))
            x = block.feed_forward(x)
        logits: Floats = self._decoder_norm(x[:, -1]) @ self._words
        return log_softmax(logits), Decoded(tuple(keys), tuple(values))

    def _pick(self, past: Decoded, rows: Sequence[int]) -> Decoded:
        chosen = list(rows)
        return Decoded(tuple(k[chosen] for k in past.keys), tuple(v[chosen] for v in past.values))


def _as_spoken(phrase: str) -> tuple[str, ...]:
    """It was taught to write what is said word by word."""
    return (phrase,)


def _convolved(x: Floats, weight: Floats, bias: Floats, step: int) -> Floats:
    """x: (time, in), weight: (3, in, out) -> (time / step, out), the ends padded with zeros."""
    around = np.pad(x, ((1, 1), (0, 0)))
    ends = len(x) - 1
    out: Floats = bias + sum(around[n : n + ends + 1 : step] @ weight[n] for n in range(3))
    return out


def _heads(x: Floats) -> Floats:
    """(..., time, WIDTH) -> (..., HEADS, time, width of a head)."""
    return np.moveaxis(x.reshape(*x.shape[:-1], HEADS, -1), -2, -3)


def _joined(x: Floats) -> Floats:
    return np.moveaxis(x, -3, -2).reshape(*x.shape[:-3], x.shape[-2], WIDTH)


def _attention(q: Floats, k: Floats, v: Floats, ahead: Floats | None = None) -> Floats:
    scores: Floats = (q * (WIDTH // HEADS) ** -0.5) @ np.swapaxes(k, -1, -2)
    if ahead is not None:
        scores += ahead
    scores -= scores.max(axis=-1, keepdims=True)
    np.exp(scores, out=scores)
    scores /= scores.sum(axis=-1, keepdims=True)
    out: Floats = scores @ v
    return out


def _gelu(x: Floats) -> Floats:
    """x times the normal distribution's share below it: max(x, 0) less |x| times the share beyond |x|.

    erf by Abramowitz and Stegun 7.1.26, within 2e-7. A few rows at a time and in place, which is four times faster.
    """
    out: Floats = np.maximum(x, np.float32(0))
    rows, results = x.reshape(-1, x.shape[-1]), out.reshape(-1, x.shape[-1])
    for at in range(0, len(rows), 16):
        size = np.abs(rows[at : at + 16])
        z = size * np.float32(0.5**0.5)
        t = z * np.float32(0.3275911)
        t += 1
        np.reciprocal(t, out=t)
        beyond = t * np.float32(1.061405429)
        for term in (-1.453152027, 1.421413741, -0.284496736, 0.254829592):
            beyond += np.float32(term)
            beyond *= t
        np.multiply(z, -z, out=z)
        beyond *= np.exp(z, out=z)
        beyond *= size
        beyond *= np.float32(0.5)
        results[at : at + 16] -= beyond
    return out
