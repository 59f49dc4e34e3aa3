"""A transcript as tokens that can be compared: words, negators, numbers; fillers kept in place but marked."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from pydantic import Field

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.measure.book import unit_book
from voice.measure.tokens import plain
from voice.rehearse.listen.figures import SaidFigure, Spotter

Role = Literal["word", "filler", "not", "figure"]
_WORD = re.compile(r"\d+/\d+(?:nds?|ths?|rds?|sts?)?|\d+\.\d+|\d[\w]*|[a-z]+(?:'[a-z]+)?|[.!?;:]")
# Sounds that recognizer and small loudspeaker mix up most: one letter for each group.
_COARSE = str.maketrans({"B": "P", "M": "N", "J": "X", "0": "T", "H": None, "W": None, "Y": None})


@dataclass(frozen=True, slots=True)
class Token:
    """One word or number.

    stem: without its ending.
    code: how it sounds, coarsely.
    utterance: which one it is of.
    starts: first of an utterance or sentence (there a new part is often named).
    affirms: ends the reach of a "not" before it.
    nearly_not: may be a "not" that was misheard.
    """

    text: str
    stem: str
    code: str
    role: Role
    figures: tuple[SaidFigure, ...] = ()
    utterance: int = 0
    starts: bool = False
    affirms: bool = False
    nearly_not: bool = False


class WordsFile(Strict):
    """prompts/learn/words.yaml. Lists are written as words with spaces between them.

    units: those a student may name -> how a recognizer writes them beside their names in units.yaml
    """

    fillers: str
    negators: str
    scope_ends: str
    heard_as_not: str
    joined: Mapping[str, tuple[str, ...]]
    units: Mapping[str, tuple[str, ...]]
    number_sounds: Mapping[str, int] = Field(default_factory=dict)


@lru_cache(maxsize=50_000)
def stem(word: str) -> str:
    """The word without a common English ending; only for comparing, never shown."""
    for ending in ("ing", "ed", "es", "s", "ly"):
        if word.endswith(ending) and len(word) - len(ending) >= 3 and not word.endswith("ss"):
            base = word[: -len(ending)]
            return base[:-1] if len(base) > 3 and base[-1] == base[-2] and ending in ("ing", "ed") else base
    return word


@lru_cache(maxsize=50_000)
def code(letters: str) -> str:
    """How it sounds: Metaphone (Philips 1990), with voiced and unvoiced sounds and nasals put together."""
    from jellyfish import metaphone  # optional: only what listens needs it

    return metaphone(letters).replace(" ", "").translate(_COARSE)


class TokenReader:
    """Turns text into tokens by the rules of the words file."""

    def __init__(self, file: WordsFile) -> None:
        self._fillers = frozenset(file.fillers.split())
        self._negators = frozenset(file.negators.split())
        self._nearly = frozenset(file.heard_as_not.split())
        self._affirming = frozenset(file.scope_ends.split())
        self._joined = sorted(
            ((tuple(_split(form)), tuple(whole.split())) for whole, forms in file.joined.items() for form in forms),
            key=lambda pair: -len(pair[0]),
        )
        heard = unit_book().heard
        names = {unit: (*heard[unit].one, *heard[unit].many, *words) for unit, words in file.units.items()}
        units = {word: unit for unit, words in names.items() for word in words}
        self._spotter = Spotter(units, file.number_sounds)

    @classmethod
    def shipped(cls, folder: Path | None = None) -> TokenReader:
        path = (folder or prompts_dir()) / "learn" / "words.yaml"
        return cls(parse(WordsFile, read_yaml(path), path))

    def tokens(self, text: str, utterance: int = 0) -> list[Token]:
        """The tokens of one utterance."""
        words, starts = self._words(text)
        tokens: list[Token] = []
        spans = {span.start: span for span in self._spotter.spot(words)}
        at = 0
        while at < len(words):
            starting = at in starts
            if span := spans.get(at):
                text_of = " ".join(words[at : span.end])
                tokens.append(Token(text_of, "#", "#", "figure", span.readings, utterance, starting))
                at = span.end
                continue
            word = words[at]
            role: Role = "not" if word in self._negators else "filler" if word in self._fillers else "word"
            affirms, nearly = word in self._affirming, word in self._nearly
            tokens.append(Token(word, stem(word), code(word), role, (), utterance, starting, affirms, nearly))
            at += 1
        return tokens

    def stream(self, utterances: Iterable[str]) -> list[Token]:
        """The tokens of several utterances, one after the other."""
        return [token for number, text in enumerate(utterances) for token in self.tokens(text, number)]

    def _words(self, text: str) -> tuple[list[str], set[int]]:
        raw = _split(text)
        words: list[str] = []
        starts = {0}
        at = 0
        while at < len(raw):
            if raw[at] in ".!?;:":
                starts.add(len(words))
                at += 1
                continue
            for form, whole in self._joined:
                if tuple(raw[at : at + len(form)]) == form:
                    words.extend(whole)
                    at += len(form)
                    break
            else:
                words.append(raw[at])
                at += 1
        return words, starts


def _split(text: str) -> list[str]:
    """Words, and the marks that end a sentence; numerals with what is written close to them are one word."""
    lowered = plain(text).replace("%", " percent ").replace("-", " ")
    lowered = re.sub(r"\b([a-z])\. (?=[a-z]\b)", r"\1 ", lowered)  # "p. s. i."
    return _WORD.findall(lowered)
