"""The second engine: pocketsphinx (BSD) with a grammar of exactly the phrases that can be heard.

It is a quite different kind of engine (Gaussian mixtures over phones) from the transformer, so that both being
wrong in the same way is rare. Its English model is inside its wheel.
"""

from __future__ import annotations

import importlib.metadata
import math
import threading
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from voice.hear.port import Audio, Scored
from voice.hear.pronounce import KNOWN, pronunciations

_WIDE = {"beam": 1e-100, "pbeam": 1e-100, "wbeam": 1e-80}  # so that the runners-up are scored too
_UNIT = 1024 * math.log(1.0001)  # nats a unit of the engine's path scores
_GRAMMARS = 48  # kept at a time; a question's grammar is made in under 1 ms for commands, some ms for numbers
_PADDING = 3200  # samples of faint noise on either side: the engine is worse at clips that start with speech
_RUNNERS = 2000  # paths looked at for runners-up
_MANY = 20  # phrases: of more, only the best is told, since the lattice of the runners-up takes up to seconds


class Sphinx:
    """Recogniser. Safe to use from several threads: one at a time is let in."""

    name = "pocketsphinx"

    def __init__(self) -> None:
        self.model = f"en-us of {importlib.metadata.version('pocketsphinx')}"
        self._quick = _Engine({})
        self._wide = _Engine(_WIDE)
        self._lock = threading.Lock()

    def score(self, audio: Audio, phrases: Sequence[str]) -> list[Scored]:
        """Log-likelihood of the path of each phrase that survived, in nats less the best's; best first.

        Of more than _MANY phrases only the best is given: score a shorter list for the rest.
        """
        if not phrases:
            return []
        with self._lock:
            if len(phrases) > _MANY:
                best, _ = self._quick.run(audio, phrases, runners=0)
                return [Scored(best, 0.0)] if best else []
            best, paths = self._wide.run(audio, phrases, runners=_RUNNERS)
        if not best:
            return []
        top = max(paths.values(), default=0.0)
        # The runners-up come from a lattice whose scores differ a little from the search's; its winner is the winner.
        paths[best] = top
        ordered = sorted(paths.items(), key=lambda item: (item[0] != best, -item[1]))
        allowed = set(phrases)
        return [Scored(text, value - top) for text, value in ordered if text in allowed]


class _Engine:
    """One decoder with its grammars."""

    def __init__(self, options: dict[str, float]) -> None:
        from pocketsphinx import Decoder

        self._decoder: Any = Decoder(lm=None, loglevel="FATAL", samprate=16000, cmn="batch", bestpath=False, **options)
        self._grammars: OrderedDict[frozenset[str], str] = OrderedDict()
        self._made = 0
        for word, ways in KNOWN.items():
            self._add(word, ways)

    def run(self, audio: Audio, phrases: Sequence[str], runners: int) -> tuple[str, dict[str, float]]:
        """The best phrase ("" if none) and the scores, in nats, of what is found among the first `runners` paths."""
        self._decoder.activate_search(self._grammar(phrases))
        self._decoder.reinit_feat()  # else what was heard before colours what is heard now, a little
        self._decoder.start_utt()
        self._decoder.process_raw(_pcm(audio), no_search=False, full_utt=True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        paths: dict[str, float] = {}
        if best is None or not best.hypstr:
            return "", paths
        if runners:
            for _, path in zip(range(runners), self._decoder.nbest() or (), strict=False):
                if path is None:
                    break
                value = math.log(path.score) / math.log(1.0001) * _UNIT if path.score > 0 else -math.inf
                paths[path.hypstr] = max(paths.get(path.hypstr, -math.inf), value)
        return best.hypstr, paths

    def _grammar(self, phrases: Iterable[str]) -> str:
        """Name of the search for these phrases, made if it is not there."""
        key = frozenset(phrases)
        if key in self._grammars:
            self._grammars.move_to_end(key)
            return self._grammars[key]
        for word in {word for phrase in key for word in phrase.split()}:
            if self._decoder.lookup_word(word) is None:
                self._add(word, pronunciations(word))
        self._made += 1
        name = f"q{self._made}"
        self._decoder.add_jsgf_string(name, "#JSGF V1.0;\ngrammar q;\npublic <q> = " + " | ".join(sorted(key)) + ";\n")
        self._grammars[key] = name
        if len(self._grammars) > _GRAMMARS:
            _, oldest = self._grammars.popitem(last=False)
            self._decoder.remove_search(oldest)
        return name

    def _add(self, word: str, ways: Sequence[str]) -> None:
        for number, way in enumerate(ways, start=1):
            name = word if number == 1 else f"{word}({number})"
            if self._decoder.lookup_word(name) is None:
                self._decoder.add_word(name, way, False)


def _pcm(audio: Audio) -> bytes:
    """16-bit samples with a little fixed noise under and around them: digital zeros come out as words."""
    noise = np.random.default_rng(3).standard_normal(len(audio) + 2 * _PADDING).astype(np.float32)
    noise *= 3e-4
    noise[_PADDING : _PADDING + len(audio)] += audio
    return bytes((np.clip(noise, -1, 1) * 32767).astype("<i2").tobytes())
