"""A virtual sound card for the tests that need one, and speech to send through it."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from pulse import VirtualCard, missing

from voice.hear.port import Audio


@pytest.fixture
def card(monkeypatch: pytest.MonkeyPatch) -> Iterator[VirtualCard]:
    """A running virtual card that this process and all it starts use; its room hums quietly."""
    if reason := missing():
        pytest.skip(reason)
    folder = Path(tempfile.mkdtemp(prefix="gladhand-card-"))  # pytest's own folders are too long for a socket
    virtual = VirtualCard(folder)
    try:
        virtual.start()
    except RuntimeError as error:
        shutil.rmtree(folder, ignore_errors=True)
        pytest.skip(str(error))
    for name, value in virtual.env.items():
        monkeypatch.setenv(name, value)
    virtual.hum()
    yield virtual
    virtual.stop()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def no_card(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A machine without any sound device."""
    cards = Path("/proc/asound/cards")
    if not sys.platform.startswith("linux") or (cards.exists() and "no soundcards" not in cards.read_text()):
        pytest.skip("this machine has a sound card of its own")
    plain = tmp_path / "asound.conf"
    plain.write_text("</usr/share/alsa/alsa.conf>\n")
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(plain))
    monkeypatch.setenv("PULSE_SERVER", "unix:/nonexistent")


def say(text: str, folder: Path, voice: str = "en-us") -> Audio:
    """Speech by espeak-ng, at 16 kHz; skips the test where it is not installed."""
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    path = folder / "said.wav"
    subprocess.run(["espeak-ng", "-v", voice, "-w", str(path), text], check=True)
    samples, rate = soundfile.read(path, dtype="float32")
    return np.asarray(soxr.resample(samples, rate, 16_000), np.float32)
