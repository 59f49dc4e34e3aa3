"""Every number that decides what counts as heard, in one place.

Fitted by tests/benchmarks/hearing/tune.py; see tests/benchmarks/hearing/RESULTS.md for which voices and noises it was
done on, and for the figures on others.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["ok", "defect", "number", "command", "other"]


@dataclass(frozen=True, slots=True)
class Bar:
    """Probability of being right that one kind of answer needs to be taken as heard.

    agree: if all engines put the same meaning first. alone: if they do not (above 1: never). From `unsure` up to
    the bar the answer is confirmed ("did you say"); below it is asked again.
    """

    agree: float
    alone: float
    unsure: float


@dataclass(frozen=True, slots=True)
class Thresholds:
    """word_weights, number_weights: of the clues (voice.hear.fusion.CLUES), the constant last. sphinx_weight: of a
    nat of the second engine beside one of the transformer. sphinx_floor: nats given to a meaning that its search
    dropped. noisy_db: surroundings louder than this (dB full scale) are too loud."""

    word_weights: tuple[float, ...] = (0.574, -0.079, 1.242, 1.365, 0.009, 0.013, -0.17, -1.367)
    number_weights: tuple[float, ...] = (0.548, -0.206, -0.182, 0.289, 0.352, 0.019, 0.79, -0.025)
    sphinx_weight: float = 0.02
    sphinx_floor: float = -80.0
    bars: dict[Kind, Bar] = field(
        default_factory=lambda: {
            "ok": Bar(agree=0.92, alone=1.1, unsure=0.60),
            "defect": Bar(agree=0.85, alone=0.95, unsure=0.50),
            "number": Bar(agree=0.85, alone=0.98, unsure=0.50),
            "command": Bar(agree=0.90, alone=0.96, unsure=0.65),
            "other": Bar(agree=0.75, alone=0.90, unsure=0.50),
        }
    )
    noisy_db: float = -18.0


DEFAULT = Thresholds()
