"""What the recognizer makes of every sentence, by voice and noise; kept in a folder, since it is the slow part.

Each sentence is spoken by a synthetic voice with silence around it, mixed with a synthetic diesel idle, cut out by the
endpointer that the ear uses, and transcribed: the same steps as in a rehearsal, one sentence at a time.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

from tests.benchmarks.hearing.voices import SPEAKERS, Clips, Speaker, available
from voice.hear.ear import Pauses
from voice.hear.endpoint import Endpointer
from voice.hear.port import Transcriber
from voice.session.script import idle
from voice.sound.port import BLOCK, RATE, Audio

NOISES: dict[str, float | None] = {"quiet": None, "15 dB": 15.0}
ONLY_QUIET = ("names only", "farms")  # kinds of student that are not also heard in noise, to save time
FLOOR_DB = -62.0  # of the recording's own hiss


# Some of the voices of the hearing benchmark, those that people can follow: the rest would test the synthesizer.
VOICES = {
    "tune": ("espeak-us", "flite-rms", "flite-kal16", "festival-ked"),
    "held": ("espeak-us-f3", "flite-slt", "flite-awb", "festival-slt-hts", "neural-joe"),
}


def speakers(group: str) -> list[Speaker]:
    """Those of the group that this machine can speak with."""
    return [speaker for speaker in SPEAKERS if speaker.name in VOICES[group] and available(speaker)]


class Transcripts:
    """Transcripts by speaker, noise, section and text; engine: the name under which they are kept."""

    def __init__(self, folder: Path, engine: str) -> None:
        self.clips = Clips(folder / "clips")
        self._file = folder / f"transcripts-{engine}.json"
        self._known: dict[str, list[str]] = json.loads(self._file.read_text()) if self._file.is_file() else {}

    def fill(
        self, speaker: Speaker, noise: str, section: str, texts: Iterable[str], transcriber: Callable[[], Transcriber]
    ) -> None:
        """Transcribe what is not known yet. transcriber: called only if there is any."""
        missing = [text for text in dict.fromkeys(texts) if _key(speaker, noise, section, text) not in self._known]
        if not missing:
            return
        engine = transcriber()
        self.clips.make(speaker, missing)
        for text in missing:
            audio = mixed(self.clips.get(speaker, text), NOISES[noise], f"{speaker.name}|{noise}|{text}")
            heard = [words for piece in cut(audio) if (words := engine.transcribe(piece))]
            self._known[_key(speaker, noise, section, text)] = heard
        self._file.write_text(json.dumps(self._known, indent=0, sort_keys=True))

    def get(self, speaker: Speaker, noise: str, section: str, text: str) -> list[str]:
        return self._known[_key(speaker, noise, section, text)]


def mixed(speech: Audio, snr_db: float | None, seed: str) -> Audio:
    """The speech at -20 dB with a second of silence around it, hiss, and idle noise at this ratio to the speech."""
    number = int(hashlib.sha256(seed.encode()).hexdigest()[:8], 16)
    random = np.random.default_rng(number)
    level = 0.1 / max(float(np.sqrt(np.mean(np.square(speech)))), 1e-6)
    quiet = np.zeros(RATE, np.float32)
    audio = np.concatenate([quiet, speech * level, quiet, quiet])
    audio = audio + 10 ** (FLOOR_DB / 20) * random.standard_normal(len(audio))
    if snr_db is not None:
        audio = audio + 0.1 * 10 ** (-snr_db / 20) * idle(len(audio) / RATE + 0.01, number)[: len(audio)]
    clipped: Audio = np.clip(audio, -1, 1).astype(np.float32)
    return clipped


def cut(audio: Audio) -> list[Audio]:
    """The utterances as the ear cuts them: an answer ends after its pause for free speech."""
    endpoint, found = Endpointer(), []
    for at in range(0, len(audio) - BLOCK, BLOCK):
        endpoint.push(audio[at : at + BLOCK])
        if endpoint.started and endpoint.silence >= Pauses().free:
            if endpoint.enough:
                found.append(endpoint.audio())
            endpoint.drop()
    if endpoint.started and endpoint.enough:
        found.append(endpoint.audio())
    return found


def _key(speaker: Speaker, noise: str, section: str, text: str) -> str:
    return f"{speaker.name}|{noise}|{section}|{text}"
