"""Vosk as a recognizer: told the phrases it may hear, by a grammar; and as a transcriber.

For whoever has a model folder. The engine's own traps are kept out here: it would fetch a model by name (only a folder
is passed), drop unknown words of a grammar silently (each is checked first), take anything for the nearest phrase
(the model's mark for "another word" is always offered), and crash on a broken folder or a malformed grammar.
"""

from __future__ import annotations

import json
import math
import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from voice.errors import SetupError
from voice.hear.port import Scored
from voice.hear.voskfolder import UNKNOWN_NAMES, validate
from voice.hear.vosktrial import trial
from voice.sound.port import RATE, Audio

NAMED = 12  # unknown words in one sentence
SUREST = 0.9999  # confidence is 1.0 when no other word was left in the beam; its log odds must stay finite


@dataclass(frozen=True, slots=True)
class TimedWord:
    """started, ended: seconds from the start of the audio.
    confidence: 0..1.
    """

    text: str
    started: float
    ended: float
    confidence: float


class VoskRecognizer:
    """The engine with one model, loaded once; a new recognizer for every question. Usable from several threads.

    folder: of the model.
    model: its name, the folder's.
    tried: it went through the trial in a process of its own (two seconds) when it was added, which is skipped then.
    unheard: words that `score` was asked for and the model does not know.
    Raises SetupError, one sentence, if vosk is not installed or the folder will not do.
    """

    name = "vosk"

    def __init__(self, folder: Path, *, tried: bool = False) -> None:
        self._vosk = _engine()
        folder = folder.resolve()
        if tried:
            validate(folder)
        else:
            trial(folder)
        self.model = folder.name
        self._vosk.SetLogLevel(-1)
        try:
            self._model = self._vosk.Model(model_path=str(folder))
        except Exception as error:  # vosk raises no other kind
            raise SetupError(f"The model in {folder} does not load: {error}.", "Get it again.") from None
        self._lock = threading.Lock()
        self.unheard: set[str] = set()

    @cached_property
    def unknown_mark(self) -> str | None:
        """The model's own word for any other word."""
        return next((mark for mark in UNKNOWN_NAMES if self._knows(mark)), None)

    def unknown_words(self, phrases: Iterable[str]) -> list[str]:
        """The words of the phrases that the model does not know, each once, in order."""
        words = dict.fromkeys(word for phrase in phrases for word in phrase.split())
        return [word for word in words if not self._knows(word)]

    def require(self, phrases: Iterable[str]) -> None:
        """Raises SetupError naming the words of the phrases that the model does not know. Ask before a start."""
        if unknown := self.unknown_words(phrases):
            named = ", ".join(unknown[:NAMED]) + (f" and {len(unknown) - NAMED} more" if len(unknown) > NAMED else "")
            raise SetupError(
                f"The speech model {self.model} does not know: {named}.",
                "Choose other words, or another model (gladhand models check).",
            )

    def score(self, audio: Audio, phrases: Sequence[str]) -> list[Scored]:
        """The phrase heard, if exactly one was: its least sure word's log odds. Empty if it was something else.

        A phrase with a word that the model does not know is never heard, since the rest of it alone might mean
        something else; the word is put down in `unheard`, as this is no moment to stop a walk.
        """
        self.unheard.update(self.unknown_words(phrases))
        phrases = [phrase for phrase in phrases if phrase.strip() and self.unheard.isdisjoint(phrase.split())]
        if not phrases or not len(audio):
            return []
        words = self.hear(audio, phrases)
        text = " ".join(word.text for word in words)
        if not words or text not in phrases:
            return []
        least = min(min(word.confidence for word in words), SUREST)
        return [Scored(text, math.log(least / (1 - least)) if least > 0 else -math.inf)]

    def transcribe(self, audio: Audio) -> str:
        """Free speech to text, lower case, without the model's mark for what it did not understand."""
        return " ".join(word.text for word in self.hear(audio) if word.text not in UNKNOWN_NAMES)

    def hear(self, audio: Audio, phrases: Sequence[str] | None = None) -> list[TimedWord]:
        """Word by word, with times.

        phrases: what may be heard, in any order; None: anything.

        Raises SetupError naming the words of the phrases that the model does not know: it would leave them out.
        """
        if phrases is not None:
            self.require(phrases)
        if not len(audio):
            return []
        samples = (np.clip(np.nan_to_num(audio), -1.0, 1.0) * 32767).astype("<i2").tobytes()
        with self._lock:
            if phrases is None:
                recognizer = self._vosk.KaldiRecognizer(self._model, RATE)
            else:
                grammar = [*phrases, *filter(None, [self.unknown_mark])]
                # ensure_ascii: the engine does not read \u escapes. Never an empty list: it crashes on "[]".
                recognizer = self._vosk.KaldiRecognizer(self._model, RATE, json.dumps(grammar, ensure_ascii=False))
            recognizer.SetWords(True)
            heard: list[dict[str, Any]] = []
            # the engine cuts at pauses; what it has by then must be taken, or it is gone
            if recognizer.AcceptWaveform(samples):
                heard += json.loads(recognizer.Result()).get("result", [])
            heard += json.loads(recognizer.FinalResult()).get("result", [])
        return [TimedWord(word["word"], word["start"], word["end"], word["conf"]) for word in heard]

    def _knows(self, word: str) -> bool:
        return bool(self._model.vosk_model_find_word(word) >= 0)


def _engine() -> Any:
    try:
        import vosk
    except (ImportError, OSError) as error:  # OSError: its library does not load on this machine
        raise SetupError(
            f"The Vosk engine is not installed ({error}).", 'Install it: pip install "gladhand[vosk]".'
        ) from None
    return vosk
