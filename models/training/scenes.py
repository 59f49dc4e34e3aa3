"""The audio of the packed trials, as tests.benchmarks.hearing mixes it and cut where the speech is."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from bundle import RATE, read
from numpy.typing import NDArray

Floats = NDArray[np.float32]
LEVEL = 0.05  # RMS of speech, full scale 1


class Scenes:
    """rows: the trials. questions: their phrases, meanings and decoys (trials.py)."""

    def __init__(self, folder: Path) -> None:
        lines = json.loads((folder / "trials.json").read_text())
        self.rows: list[dict[str, Any]] = lines["rows"]
        self.questions: dict[str, dict[str, Any]] = lines["questions"]
        self._said = read(folder, "said")
        self._noise = {
            one.text: one.samples.astype(np.float32) / 32767 * np.float32(lines["scale"][one.text])
            for one in read(folder, "noises")
        }

    def audio(self, row: dict[str, Any]) -> Floats:
        draw = np.random.default_rng(row["number"])
        if row["clip"] is None:
            sound = np.float32(LEVEL * 10 ** (-(row["snr"] or 0.0) / 20)) * self._piece(row["noise"], 5 * RATE, draw)
            return np.clip(sound[RATE : 3 * RATE], -1, 1)
        speech = self._said[row["clip"]].samples.astype(np.float32) / 32767
        power = np.square(speech[: len(speech) // 320 * 320].reshape(-1, 320), dtype=np.float64).mean(axis=1)
        speech *= np.float32(LEVEL / np.sqrt(power[power > power.max() / 100].mean()))
        before = int(RATE * draw.uniform(0.6, 1.2))
        out = (5e-4 * draw.standard_normal(before + len(speech) + int(1.2 * RATE))).astype(np.float32)
        if row["noise"] and row["snr"] is not None:
            out += np.float32(LEVEL * 10 ** (-row["snr"] / 20)) * self._piece(row["noise"], len(out), draw)
        out[before : before + len(speech)] += speech
        return np.clip(out, -1, 1)[max(0, before - 6400) : before + len(speech) + 3200]

    def _piece(self, name: str, samples: int, draw: np.random.Generator) -> Floats:
        whole = self._noise[name]
        start = int(draw.integers(0, len(whole)))
        part = np.take(whole, np.arange(start, start + samples), mode="wrap")
        return part / np.float32(np.sqrt(np.mean(np.square(part, dtype=np.float64)) + 1e-12))


def who(row: dict[str, Any]) -> str:
    name = row["speaker"]
    return (
        "digits by phone"
        if "fsdd" in name
        else "people"
        if name.startswith("real")
        else "neural"
        if "neural" in name
        else "made"
    )
