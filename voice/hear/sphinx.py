"""The third engine: pocketsphinx (BSD) with a grammar of exactly the phrases that can be heard.

It is a quite different kind of engine (Gaussian mixtures over phones) from the transformers, so that all being wrong
in the same way is rare. It tells only its favorite: its runners-up take longer and were found to add nothing.
Its English model is inside its wheel.
"""

from __future__ import annotations

import importlib.metadata
import threading
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from voice.errors import SetupError
from voice.hear.port import Scored
from voice.hear.pronounce import KNOWN, pronunciations
from voice.sound.port import Audio

_GRAMMARS = 48  # kept at a time; a question's grammar is made in under 1 ms for commands, some ms for numbers
_PADDING = 3200  # samples of faint noise on either side: the engine is worse at clips that start with speech


class Sphinx:
    """Recognizer. Safe to use from several threads: one at a time is let in."""

    name = "pocketsphinx"

    def __init__(self, folder: Path | None = None) -> None:
        """folder: of the models, the package's own if not given.

        Raises SetupError if they cannot be loaded.
        """
        try:
            from pocketsphinx import Decoder, get_model_path

            folder = folder or Path(get_model_path())
            model = {"hmm": str(folder / "en-us" / "en-us"), "dict": str(folder / "en-us" / "cmudict-en-us.dict")}
            self._decoder: Any = Decoder(
                **model, lm=None, loglevel="FATAL", samprate=16000, cmn="batch", bestpath=False
            )
        except (ImportError, OSError, RuntimeError) as error:
            raise SetupError(
                f"The speech engine pocketsphinx cannot be loaded: {error}.",
                "Run: pip install --force-reinstall pocketsphinx",
            ) from error
        self.model = f"en-us of {importlib.metadata.version('pocketsphinx')}"
        self._grammars: OrderedDict[frozenset[str], str] = OrderedDict()
        self._made = 0
        self._lock = threading.Lock()
        for word, ways in KNOWN.items():
            self._add(word, ways)

    def score(self, audio: Audio, phrases: Sequence[str]) -> list[Scored]:
        """The best phrase, with 0; empty if there is none."""
        if not phrases:
            return []
        with self._lock:
            self._decoder.activate_search(self._grammar(phrases))
            self._decoder.reinit_feat()  # else what was heard before colors what is heard now, a little
            self._decoder.start_utt()
            self._decoder.process_raw(_pcm(audio), no_search=False, full_utt=True)
            self._decoder.end_utt()
            best = self._decoder.hyp()
        return [Scored(best.hypstr, 0.0)] if best is not None and best.hypstr else []

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
