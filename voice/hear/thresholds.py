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

    word_weights: tuple[float, ...] = (0.45, -0.25, 0.4, 3.0, 1.0, 0.15, 0.2, -4.5)
    number_weights: tuple[float, ...] = (0.45, -0.25, 0.4, 3.0, 1.0, 0.15, 0.2, -4.5)
    sphinx_weight: float = 0.02
    sphinx_floor: float = -80.0
    bars: dict[Kind, Bar] = field(
        default_factory=lambda: {
            "ok": Bar(agree=0.93, alone=1.1, unsure=0.70),
            "defect": Bar(agree=0.85, alone=0.95, unsure=0.60),
            "number": Bar(agree=0.93, alone=0.99, unsure=0.60),
            "command": Bar(agree=0.90, alone=0.98, unsure=0.70),
            "other": Bar(agree=0.90, alone=0.98, unsure=0.70),
        }
    )
    noisy_db: float = -18.0


DEFAULT = Thresholds()
