"""How well a phrase from the data matches a place in a transcript: token by token, and by sound as a whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from pydantic import Field
from rapidfuzz import fuzz

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.rehearse.listen.figures import SaidFigure
from voice.rehearse.listen.words import Token, TokenReader

NEAR = 5  # tokens: how far from a phrase's words its numbers may stand


class MatchThresholds(Strict):
    """prompts/learn/matching.yaml: measured by tests/benchmarks/rehearse, not guessed.

    word: least likeness of two words, 0..1.
    spelled_weight, sound_weight: what likeness by letters and by sound count.
    name, point: least score of a phrase that is a part's name, or one of its points.
    whole: least likeness of a phrase and a run of words put together (finds "all turn eight or").
    whole_letters: shortest phrase for it.
    gap: taken off for each word between.
    negation_reach: how many words "not" holds for.
    switch: what the name of another part must be worth to end the one being talked of.
    ignore: what it costs to pass over a name.
    next_bonus: for the part that is next in walking order.
    start_bonus: for a name at the start of a sentence.
    bias_bonus, bias_beam: see voice.rehearse.listen.biased.
    """

    word: float = Field(ge=0, le=1)
    spelled_weight: float = Field(ge=0, le=1)
    sound_weight: float = Field(ge=0, le=1)
    name: float = Field(ge=0, le=1)
    point: float = Field(ge=0, le=1)
    whole: float = Field(ge=0, le=1)
    whole_letters: int = Field(ge=3)
    gap: float = Field(ge=0, le=1)
    negation_reach: int = Field(ge=1)
    switch: float = Field(ge=0)
    ignore: float = Field(ge=0)
    next_bonus: float = Field(ge=0)
    start_bonus: float = Field(ge=0)
    bias_bonus: float = Field(ge=0)
    bias_beam: int = Field(ge=1)

    @classmethod
    def shipped(cls, folder: Path | None = None) -> MatchThresholds:
        path = (folder or prompts_dir()) / "learn" / "matching.yaml"
        return parse(cls, read_yaml(path), path)


@dataclass(frozen=True, slots=True)
class Pattern:
    """A phrase ready to be found.

    stems, codes, weights: of its telling words; weights add up to 1.
    negated: has a "not".
    figures: numbers that must stand near ("three triangles").
    sound, letters: of all its telling words put together.
    length: how many they are.
    """

    text: str
    stems: tuple[str, ...]
    codes: tuple[str, ...]
    weights: tuple[float, ...]
    negated: bool
    sound: str
    letters: str
    length: int
    figures: tuple[SaidFigure, ...] = ()


@dataclass(frozen=True, slots=True)
class Hit:
    """tokens[start:end] say the phrase, with a score of 0..1."""

    start: int
    end: int
    score: float


def pattern(text: str, reader: TokenReader, weight: dict[str, float] | None = None) -> Pattern | None:
    """The phrase as a pattern; None if it has neither a telling word nor a number."""
    tokens = reader.tokens(text)
    figures = tuple(token.figures[0] for token in tokens if token.role == "figure")
    telling = [token for token in tokens if token.role == "word"]
    if not telling and not figures:
        return None
    raw = [(weight or {}).get(token.stem, 1.0) for token in telling]
    return Pattern(
        text=text,
        stems=tuple(token.stem for token in telling),
        codes=tuple(token.code for token in telling),
        weights=tuple(value / sum(raw) for value in raw),
        negated=any(token.role == "not" for token in tokens),
        sound="".join(token.code for token in telling),
        letters="".join(token.stem for token in telling),
        length=len(telling),
        figures=figures,
    )


@lru_cache(maxsize=500_000)
def _likeness(stem_a: str, code_a: str, stem_b: str, code_b: str, spelled: float, sound: float) -> float:
    if stem_a == stem_b:
        return 1.0
    if len(stem_a) <= 2 or len(stem_b) <= 2:
        return 0.0
    letters = fuzz.ratio(stem_a, stem_b) / 100 * spelled
    if min(len(code_a), len(code_b)) < 2:
        return letters
    # Sounds are few and short, so equal codes of very different letters are not trusted alone.
    sounds = fuzz.ratio(code_a, code_b) / 100 * sound
    return max(letters, 0.5 * letters + 0.5 * sounds) if sounds < sound else max(letters, sounds)


def _same(wanted: SaidFigure, token: Token) -> bool:
    """The number was said; a unit that was left out is taken to be the right one."""
    return any(
        figure.value == wanted.value and (wanted.unit is None or figure.unit in (wanted.unit, None))
        for figure in token.figures
    )


class Finder:
    """Finds phrases in one transcript."""

    def __init__(self, tokens: Sequence[Token], thresholds: MatchThresholds) -> None:
        self._tokens = tokens
        self._set = thresholds
        self._telling = [at for at, token in enumerate(tokens) if token.role == "word"]
        self._nots = [at for at, token in enumerate(tokens) if token.role == "not"]
        self._likes: dict[tuple[str, str], list[tuple[int, float]]] = {}

    def find(self, wanted: Pattern, least: float, *, ordered: bool = False) -> list[Hit]:
        """All places that say the phrase, best first, none overlapping a better one.

        ordered: its words in order.
        """
        if wanted.stems:
            hits = self._aligned(wanted, least, ordered) + self._sounding(wanted)
            hits = [hit for hit in hits if self._figured(wanted.figures, hit)]
        else:
            hits = [
                hit
                for at, token in enumerate(self._tokens)
                if _same(wanted.figures[0], token) and self._figured(wanted.figures, hit := Hit(at, at + 1, 1.0))
            ]
        kept: list[Hit] = []
        for hit in sorted(hits, key=lambda h: (-h.score, h.start, h.end)):
            if self._polarity(wanted, hit) and not any(hit.start < k.end and k.start < hit.end for k in kept):
                kept.append(hit)
        return kept

    def _places(self, stem: str, code: str) -> list[tuple[int, float]]:
        """Positions (in _telling) of words like this one, with their likeness."""
        key = (stem, code)
        if key not in self._likes:
            found = []
            for position, at in enumerate(self._telling):
                token = self._tokens[at]
                likeness = _likeness(
                    stem, code, token.stem, token.code, self._set.spelled_weight, self._set.sound_weight
                )
                if likeness >= self._set.word:
                    found.append((position, likeness))
            self._likes[key] = found
        return self._likes[key]

    def _aligned(self, wanted: Pattern, least: float, ordered: bool) -> list[Hit]:
        """Word by word, close together: a chain is begun at each place of each word."""
        places = [dict(self._places(s, c)) for s, c in zip(wanted.stems, wanted.codes, strict=True)]
        anchors = sorted({position for place in places for position in place})
        reach = wanted.length + 2
        hits = []
        for anchor in anchors:
            total, used = 0.0, set[int]()
            for place, weight in zip(places, wanted.weights, strict=True):
                near = [
                    (likeness - 0.001 * (position - anchor), position)
                    for position, likeness in place.items()
                    if anchor <= position < anchor + reach and position not in used
                    if not ordered or not used or position > max(used)
                ]
                if near:
                    _, position = max(near)
                    used.add(position)
                    total += weight * place[position]
            if anchor not in used:
                continue
            between = max(used) - min(used) + 1 - len(used)
            if ordered and between:
                continue  # a name is said in one piece
            score = total - self._set.gap * between
            if score >= least:
                hits.append(Hit(self._telling[min(used)], self._telling[max(used)] + 1, min(score, 1.0)))
        return hits

    def _sounding(self, wanted: Pattern) -> list[Hit]:
        """The phrase's sound against runs of words put together: for words split or merged by the recognizer."""
        if len(wanted.sound) < self._set.whole_letters:
            return []
        hits = []
        size = len(wanted.sound)
        for first in range(len(self._tokens)):
            if self._tokens[first].role == "figure":
                continue
            sound = letters = ""
            for last in range(first, min(first + wanted.length + 3, len(self._tokens))):
                token = self._tokens[last]
                if token.role == "figure" or token.utterance != self._tokens[first].utterance:
                    break
                sound += token.code
                letters += token.stem
                if len(sound) < 0.7 * size:
                    continue
                if len(sound) > 1.4 * size:
                    break
                likeness = fuzz.ratio(wanted.sound, sound, score_cutoff=70) / 100
                words = sum(token.role == "word" for token in self._tokens[first : last + 1])
                if words == wanted.length and last + 1 - first == words:
                    continue  # as many words: that was looked at word by word
                if likeness > 0:  # sounds alone are too few to tell "leaking the wires" from "lug nuts"
                    likeness = 0.5 * likeness + 0.5 * fuzz.ratio(wanted.letters, letters) / 100
                if likeness >= self._set.whole:
                    hits.append(Hit(first, last + 1, likeness))
        return hits

    def _figured(self, figures: Sequence[SaidFigure], hit: Hit) -> bool:
        """All numbers of the phrase stand in or near the place."""
        near = self._tokens[max(0, hit.start - NEAR) : hit.end + NEAR]
        return all(any(_same(figure, token) for token in near) for figure in figures)

    def _polarity(self, wanted: Pattern, hit: Hit) -> bool:
        """ "not cracked" needs a "not" that still holds; "secure" may not stand right after one."""
        if wanted.negated:
            if hit.start and self._tokens[hit.start - 1].nearly_not:
                return True
            return any(
                hit.start - self._set.negation_reach <= at < hit.end
                and not any(token.affirms for token in self._tokens[at + 1 : hit.start])
                for at in self._nots
            )
        if any(hit.start <= at < hit.end for at in self._nots):
            return False
        before = hit.start - 1
        while before >= 0 and before >= hit.start - 2 and self._tokens[before].role == "filler":
            before -= 1
        return before < 0 or self._tokens[before].role != "not" or self._tokens[hit.start].starts
