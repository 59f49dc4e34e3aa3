"""Speech to send through a sound card or to a recognizer."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from voice.sound.port import Audio


def say(text: str, folder: Path, voice: str = "en-us") -> Audio:
    """Speech by espeak-ng, at 16 kHz; skips the test where it is not installed."""
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    path = folder / "said.wav"
    subprocess.run(["espeak-ng", "-v", voice, "-w", str(path), text], check=True)
    samples, rate = soundfile.read(path, dtype="float32")
    return np.asarray(soxr.resample(samples, rate, 16_000), np.float32)
