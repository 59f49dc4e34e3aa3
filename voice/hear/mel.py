"""Sound as Whisper takes it: log power in mel bands (Radford et al. 2022, section 2.2)."""

from __future__ import annotations

import numpy as np

from voice.hear.transformer import Floats
from voice.sound.port import RATE, Audio

WINDOW, HOP, BANDS = 400, 160, 80  # samples of a frame of features, from one to the next; mel bands
SPAN_S = 3.5  # seconds of audio at least: in less the model, trained on 30, says its words over and over


def log_mel(audio: Audio) -> Floats:
    """(BANDS, frames): log10 of the power in mel bands, no lower than 8 below the highest, scaled to about -1..1.

    Audio shorter than SPAN_S is filled up with silence.
    """
    count = -(-max(len(audio), int(SPAN_S * RATE)) // (2 * HOP)) * 2 * HOP
    filled = np.zeros(count, np.float32)
    filled[: len(audio)] = audio
    frames = np.lib.stride_tricks.sliding_window_view(np.pad(filled, WINDOW // 2, mode="reflect"), WINDOW)[::HOP]
    window = np.hanning(WINDOW + 1)[:-1].astype(np.float32)
    power = np.square(np.abs(np.fft.rfft(frames[: count // HOP] * window, axis=1)))
    bands = np.log10(np.maximum(_MEL @ power.T, 1e-10))
    scaled: Floats = ((np.maximum(bands, bands.max() - 8) + 4) / 4).astype(np.float32)
    return scaled


def mel_filters() -> Floats:
    """(BANDS, WINDOW / 2 + 1): triangles of equal area, even on Slaney's mel scale (linear below 1 kHz)."""
    step = np.log(6.4) / 27
    top = 15 + np.log(RATE / 2 / 1000) / step
    mels = np.linspace(0, top, BANDS + 2)
    edges = np.where(mels < 15, mels * 200 / 3, 1000 * np.exp(step * (mels - 15)))
    away = edges[:, None] - np.fft.rfftfreq(WINDOW, 1 / RATE)
    width = np.diff(edges)[:, None]
    triangles = np.maximum(0, np.minimum(-away[:-2] / width[:-1], away[2:] / width[1:]))
    filters: Floats = (triangles * (2 / (edges[2:] - edges[:-2]))[:, None]).astype(np.float32)
    return filters


_MEL = mel_filters()
