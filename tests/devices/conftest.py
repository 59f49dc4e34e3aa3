"""A virtual sound card for the tests that need one, and a machine that has none."""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.devices.pulse import VirtualCard, missing


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
