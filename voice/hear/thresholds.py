"""Every number that decides what counts as heard, in one place.

First values set by hand; see tests/benchmarks/hearing/RESULTS.md for what they were tuned on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["ok", "defect", "number", "command", "other"]


@dataclass(frozen=True, slots=True)
class Bar:
    """What one kind of answer must reach.

    agree: posterior needed if both engines put the same meaning first. alone: posterior needed if they do not
    (above 1: never). misfit: how much worse (nats a token of the transcript) than the free decoding the phrase
    may be. Between `unsure` and the bar the answer is confirmed ("did you say"); below it is asked again.
    """

    agree: float
    alone: float
    unsure: float
    misfit: float


@dataclass(frozen=True, slots=True)
class Thresholds:
    """sphinx_weight: of a nat of the second engine beside a nat of the transformer. sphinx_floor: nats given to a
    phrase that its search dropped. noisy_db: surroundings louder than this (dB full scale) are too loud."""

    sphinx_weight: float = 0.05
    sphinx_floor: float = -80.0
    bars: dict[Kind, Bar] = field(
        default_factory=lambda: {
            "ok": Bar(agree=0.90, alone=1.1, unsure=0.60, misfit=6.0),
            "defect": Bar(agree=0.70, alone=0.95, unsure=0.55, misfit=8.0),
            "number": Bar(agree=0.80, alone=0.995, unsure=0.50, misfit=8.0),
            "command": Bar(agree=0.80, alone=0.98, unsure=0.60, misfit=7.0),
            "other": Bar(agree=0.80, alone=0.98, unsure=0.60, misfit=7.0),
        }
    )
    noisy_db: float = -18.0


DEFAULT = Thresholds()
