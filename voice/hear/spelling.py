"""Scores texts by their phonemes: connectionist temporal classification (Graves et al. 2006), the forward pass.

A head gives for every frame the log-probability of a blank and of each phoneme. A text is as likely as all the ways
of spreading its phonemes over the frames, blanks between them, together.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

# ARPABET without stress, in the order of the head's outputs after the blank.
SOUNDS = (
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH", "IH", "IY", "JH", "K",
    "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH",
)  # fmt: skip
NUMBER = {sound: at for at, sound in enumerate(SOUNDS, start=1)}
BLANK = 0


def likelihoods(logp: NDArray[np.float32], texts: Sequence[Sequence[int]]) -> list[float]:
    """Log-likelihood of each text.

    logp: (frames, 1 + sounds).
    texts: numbers of their phonemes, at least one each.
    """
    longest = max(map(len, texts))
    places = np.zeros((len(texts), 2 * longest + 1), np.int64)  # phonemes with a blank before, between and after
    for row, text in enumerate(texts):
        places[row, 1 : 2 * len(text) : 2] = text
    skips = np.zeros(places.shape, bool)  # a blank between different phonemes may be left out
    skips[:, 2:] = (places[:, 2:] != BLANK) & (places[:, 2:] != places[:, :-2])
    never = np.float32(-1e9)
    so_far = np.full((len(texts), places.shape[1] + 2), never, np.float32)  # two more in front, which are never reached
    so_far[:, 2:4] = logp[0][places[:, :2]]
    for frame in logp[1:]:
        two_before = np.where(skips, so_far[:, :-2], never)
        reached = np.logaddexp(np.logaddexp(so_far[:, 2:], so_far[:, 1:-1]), two_before)
        so_far[:, 2:] = reached + frame[places]
    rows, ends = np.arange(len(texts)), 2 + 2 * np.array([len(text) for text in texts])
    return [float(value) for value in np.logaddexp(so_far[rows, ends], so_far[rows, ends - 1])]
