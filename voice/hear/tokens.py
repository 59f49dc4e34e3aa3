"""The transformer's vocabulary: text to token numbers and back, and a prefix tree of the phrases it may hear."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from pathlib import Path

from voice.errors import SetupError
from voice.hear.written import written

START, END = 1, 2
_SPACE = "\u2581"  # how the vocabulary marks the start of a word


class Vocabulary:
    """Byte-pair encoding as in sentence-piece models: pairs merge in the order of their number in the list."""

    def __init__(self, path: Path) -> None:
        data = path.read_bytes()
        self.pieces: list[bytes] = []
        at = 0
        while at < len(data):
            length = data[at]
            at += 1
            if length >= 128:  # two-byte length: seven bits and the rest
                length = length - 128 + 128 * data[at]
                at += 1
            self.pieces.append(data[at : at + length])
            at += length
        if len(self.pieces) != 32_768:
            raise SetupError(f"The word list {path.name} of the speech model is not as expected.", "Reinstall it.")
        self._ids: dict[bytes, int] = {}
        for number, piece in enumerate(self.pieces):
            self._ids[piece] = number  # single bytes come first, for letters that have no piece of their own
        self._word = cache(self._merged)  # no piece of the list spans words

    def encode(self, text: str) -> list[int]:
        """Token numbers of `text`, without start and end."""
        return [token for word in text.split(" ") for token in self._word(word)]

    def _merged(self, word: str) -> tuple[int, ...]:
        parts: list[bytes] = []
        for letter in _SPACE + word:
            raw = letter.encode()
            parts += [raw] if raw in self._ids else [bytes([byte]) for byte in raw]
        while len(parts) > 1:
            ranks = [self._ids.get(left + right, 1 << 30) for left, right in pairwise(parts)]
            best = min(ranks)
            if best == 1 << 30:
                break
            at = ranks.index(best)
            parts[at : at + 2] = [parts[at] + parts[at + 1]]
        return tuple(self._ids[part] for part in parts)

    def decode(self, ids: Iterable[int]) -> str:
        """Text of token numbers; start, end and other marks between < and > are left out."""
        raw = b"".join(self.pieces[number] for number in ids if number > END and number < 32_000)
        return raw.decode("utf-8", "replace").replace(_SPACE, " ").strip()


@dataclass(slots=True)
class Node:
    """One token of the prefix tree. prefix: all tokens up to here. phrases: numbers of those that may end here."""

    prefix: tuple[int, ...]
    children: dict[int, Node] = field(default_factory=dict)
    phrases: list[int] = field(default_factory=list)


class Tree:
    """All written forms of some phrases, as one prefix tree."""

    def __init__(self, vocabulary: Vocabulary, phrases: Sequence[str]) -> None:
        self.phrases = tuple(phrases)
        self.root = Node(())
        for number, phrase in enumerate(self.phrases):
            for form in written(phrase):
                node = self.root
                for token in vocabulary.encode(form):
                    node = node.children.setdefault(token, Node((*node.prefix, token)))
                if number not in node.phrases:
                    node.phrases.append(number)
