"""Many clips of speech in one file (NAME.opus, .flac or .npy), with what is said and who says it in NAME.json."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE = 16_000
_PIECE = 160_000  # samples written at a time: the encoder holds them all at once

Samples = NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Clip:
    """samples: at RATE. text: what is said, "" if nobody knows. speaker: who, with the source before a colon."""

    samples: Samples
    text: str
    speaker: str


def trimmed(audio: NDArray[np.float32], margin: int = 480) -> Samples | None:
    """Loudest sample at 0.9, and without the silence around: samples under 2 % of the peak. None if all is silence."""
    peak = float(np.abs(audio).max(initial=0.0))
    if peak < 0.003:
        return None
    loud = np.flatnonzero(np.abs(audio) > 0.02 * peak)
    kept = audio[max(0, loud[0] - margin) : loud[-1] + margin]
    return np.asarray(kept / peak * 0.9 * 32767, np.int16)


def write(
    folder: Path, name: str, clips: Iterable[Clip], *, lossless: bool = False, raw: bool = False, kbps: float = 32
) -> float:
    """Hours written. raw: as a plain array, for a folder on the machine that reads it."""
    rows = list(clips)
    flat = np.concatenate([clip.samples for clip in rows])
    if raw:
        np.save(folder / f"{name}.npy", flat)
    else:
        _compress(folder / name, flat, lossless=lossless, kbps=kbps)
    lines = {"lengths": [len(clip.samples) for clip in rows], "texts": [clip.text for clip in rows]}
    (folder / f"{name}.json").write_text(json.dumps(lines | {"speakers": [clip.speaker for clip in rows]}))
    return len(flat) / RATE / 3600


def _compress(path: Path, flat: Samples, *, lossless: bool, kbps: float) -> None:
    import soundfile

    kinds: dict[str, Any] = (
        {"format": "FLAC", "subtype": "PCM_16"} if lossless else {"format": "OGG", "subtype": "OPUS"}
    )
    if not lossless:
        kinds["compression_level"] = 1 - (kbps - 6.5) / 258  # as libsndfile counts for one channel
    with soundfile.SoundFile(path.with_suffix(".flac" if lossless else ".opus"), "w", RATE, 1, **kinds) as out:
        for at in range(0, len(flat), _PIECE):
            out.write(flat[at : at + _PIECE])


def read(folder: Path, name: str) -> list[Clip]:
    import soundfile

    path = next(folder / f"{name}.{end}" for end in ("npy", "flac", "opus") if (folder / f"{name}.{end}").exists())
    flat = np.load(path) if path.suffix == ".npy" else soundfile.read(path, dtype="int16")[0]
    lines = json.loads((folder / f"{name}.json").read_text())
    ends = np.cumsum(lines["lengths"])
    return [
        Clip(flat[end - length : end], text, speaker)
        for end, length, text, speaker in zip(ends, lines["lengths"], lines["texts"], lines["speakers"], strict=True)
    ]
