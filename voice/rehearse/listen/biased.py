"""The transformer's free transcription, with an ear for the words of the trade.

A small general model writes "if we are platform" for "fifth wheel platform". It is told which words may well come:
a beam search in which every token that goes on in one of these phrases is favored a little, and the favor is taken
back when the phrase breaks off (contextual biasing by shallow fusion; Williams et al., Interspeech 2018, in the form
of a prefix tree). Anything else can still be transcribed. Negators and numbers are never in the phrases, so that "not"
and the right figure are not put into a student's mouth.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from voice.hear.moonshine import Moonshine
from voice.hear.transformer import most_tokens, padded, pieces
from voice.rehearse.listen.part import RecitedPart
from voice.rehearse.listen.words import TokenReader
from voice.sound.port import Audio

_TOP = 10  # likeliest tokens of each branch that are followed
_LONG = 4  # letters
_LEAST = -9.0  # nats: tokens below are not followed even if favored


@dataclass(slots=True)
class _Node:
    """A token of the tree of phrases.

    ends: a whole phrase ends here.
    """

    children: dict[int, _Node] = field(default_factory=dict)
    ends: bool = False


@dataclass(frozen=True, slots=True)
class _Branch:
    """A beginning of the transcript that is followed.

    tokens: of it.
    sure: their log-likelihood, nats.
    bonus: favor so far, nats.
    at_stake: of that, what is lost if the phrase breaks off.
    node: how far into a phrase it is.
    """

    tokens: tuple[int, ...]
    sure: float
    bonus: float
    at_stake: float
    node: _Node

    @property
    def worth(self) -> float:
        return self.sure + self.bonus


class BiasedMoonshine(Moonshine):
    """Recognizer and Transcriber that favors some phrases in free speech.

    folder: of the model's files.
    bonus: nats that each token of a phrase is favored by.
    branches: how many readings of the sound are followed at a time.
    """

    def __init__(self, folder: Path, phrases: Iterable[str], bonus: float, *, branches: int) -> None:
        super().__init__(folder)
        self._bonus = bonus
        self._branches = branches
        self._root = _Node()
        for phrase in phrases:
            for form in {phrase, phrase[:1].upper() + phrase[1:]}:
                node = self._root
                for token in self.vocabulary.encode(form):
                    node = node.children.setdefault(token, _Node())
                node.ends = True

    def transcribe(self, audio: Audio) -> str:
        with self._lock:
            written = [self.vocabulary.decode(self._beamed(piece)) for piece in pieces(audio)]
        return " ".join(text for text in written if text)

    def _beamed(self, audio: Audio) -> tuple[int, ...]:
        hidden = self._encode(padded(audio))
        logp, past = self._start(hidden)
        beam = [_Branch((), 0.0, 0.0, 0.0, self._root)]
        ended: list[_Branch] = []
        for _ in range(most_tokens(audio)):
            grown: list[tuple[int, _Branch]] = []
            for row, branch in enumerate(beam):
                likely = set(np.argpartition(logp[row], -_TOP)[-_TOP:].tolist())
                if branch.node is not self._root:
                    likely |= branch.node.children.keys()
                for token in likely:
                    sure = float(logp[row, token])
                    if sure < _LEAST:
                        continue
                    made = self._grow(branch, token, sure)
                    if token == self.vocabulary.end:
                        ended.append(made)
                    else:
                        grown.append((row, made))
            grown.sort(key=lambda pair: -pair[1].worth)
            grown = grown[: self._branches]
            top = max((branch.worth for branch in ended), default=-np.inf)
            if not grown or top > grown[0][1].worth + 3 * self._bonus:
                break
            past = self._pick(past, [row for row, _ in grown])
            beam = [branch for _, branch in grown]
            logp, past = self._run(np.array([[branch.tokens[-1]] for branch in beam]), hidden, past)
        best = max(ended or beam, key=lambda branch: branch.worth)
        return tuple(token for token in best.tokens if token != self.vocabulary.end)

    def _grow(self, branch: _Branch, token: int, sure: float) -> _Branch:
        bonus, stake, node = branch.bonus, branch.at_stake, branch.node
        if token in node.children:
            node, bonus, stake = node.children[token], bonus + self._bonus, stake + self._bonus
        else:
            bonus, stake, node = bonus - stake, 0.0, self._root
            if token in node.children:
                node, bonus, stake = node.children[token], bonus + self._bonus, self._bonus
        if node.ends:
            stake = 0.0
            if not node.children:
                node = self._root
        return _Branch((*branch.tokens, token), branch.sure + sure, bonus, stake, node)


def expected(parts: Iterable[RecitedPart], reader: TokenReader) -> tuple[str, ...]:
    """The phrases to be favored: runs of words of names and checks, broken at negators and numbers, and each of their
    longer words ("the clamps are tight" has the words of "clamps tight", but not the run)."""
    found: dict[str, None] = {}
    for part in parts:
        for phrase in (*part.names, *(text for point in part.points for text in point.say)):
            run: list[str] = []
            for token in (*reader.tokens(phrase), None):
                if token is not None and token.role in ("word", "filler"):
                    run.append(token.text)
                    continue
                if run and any(word.role == "word" for word in reader.tokens(" ".join(run))):
                    found[" ".join(run)] = None
                run = []
            found.update({t.text: None for t in reader.tokens(phrase) if t.role == "word" and len(t.text) >= _LONG})
    return tuple(found)
