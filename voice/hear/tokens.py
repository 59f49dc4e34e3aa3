"""The transformers' vocabularies: text to token numbers and back, and a prefix tree of the phrases they may hear."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from pathlib import Path

from voice.errors import SetupError
from voice.hear.written import written

_SPACE = "\u2581"  # how sentence-piece lists mark the start of a word


class Vocabulary:
    """Byte-pair encoding: pairs merge in the order of their number in the list. No piece of the list spans words.

    space: what a word starts with.
    end: number of the token that ends a text.
    text: numbers of those that are text.
    """

    def __init__(self, pieces: Sequence[bytes], *, space: str, end: int, text: range) -> None:
        self.pieces = pieces
        self.end = end
        self._space, self._text = space, text
        self._ids = {piece: number for number, piece in enumerate(pieces)}  # of equals the last: see moonshine
        self._word = cache(self._merged)

    def encode(self, text: str) -> list[int]:
        """Token numbers of `text`, without start and end."""
        return [token for word in text.split(" ") for token in self._word(word)]

    def _merged(self, word: str) -> tuple[int, ...]:
        parts: list[bytes] = []
        for letter in self._space + word:
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
        """Text of token numbers; start, end and other marks are left out."""
        raw = b"".join(self.pieces[number] for number in ids if number in self._text)
        return raw.decode("utf-8", "replace").replace(self._space, " ").strip()


def moonshine_vocabulary(path: Path) -> Vocabulary:
    """From a tokenizer.bin: every piece after its length. Single bytes come first, for letters that have no piece of
    their own. Raises SetupError."""
    data = path.read_bytes()
    pieces: list[bytes] = []
    at = 0
    while at < len(data):
        length = data[at]
        at += 1
        if length >= 128:  # two-byte length: seven bits and the rest
            length = length - 128 + 128 * data[at]
            at += 1
        pieces.append(data[at : at + length])
        at += length
    if len(pieces) != 32_768:
        raise SetupError(f"The word list {path.name} of the speech model is not as expected.", "Reinstall it.")
    return Vocabulary(pieces, space=_SPACE, end=2, text=range(3, 32_000))


def packed_vocabulary(joined: bytes, lengths: Iterable[int]) -> Vocabulary:
    """Of all pieces in a row, in the order of their numbers; the end of a text comes after them."""
    pieces, at = [], 0
    for length in lengths:
        pieces.append(joined[at : at + length])
        at += length
    return Vocabulary([*pieces, b""], space=" ", end=len(pieces), text=range(len(pieces)))


@dataclass(slots=True)
class PrefixTree:
    """One token of the prefix tree.

    prefix: all tokens up to here.
    phrases: numbers of those that may end here.
    """

    prefix: tuple[int, ...]
    children: dict[int, PrefixTree] = field(default_factory=dict)
    phrases: list[int] = field(default_factory=list)


Forms = Callable[[str], Iterable[str]]  # how a phrase may be written


class Tree:
    """All written forms of some phrases, as one prefix tree."""

    def __init__(self, vocabulary: Vocabulary, phrases: Sequence[str], forms: Forms = written) -> None:
        self.phrases = tuple(phrases)
        self.root = PrefixTree(())
        for number, phrase in enumerate(self.phrases):
            for form in forms(phrase):
                node = self.root
                for token in vocabulary.encode(form):
                    node = node.children.setdefault(token, PrefixTree((*node.prefix, token)))
                if number not in node.phrases:
                    node.phrases.append(number)
