"""Every number that decides what counts as heard, in one place.

The weights were fitted by tests/benchmarks/hearing/tune.py to 1,375 trials of its tuning group: six made voices, one
half of the recorded speakers, five noises, quiet to 0 dB. The bars were then set by hand on the same trials, where
hardly anything wrong was left above them. RESULTS.md there has the figures on other voices, speakers and noises.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

# ok: "okay" and "not applicable". assent: "yes" and "done". defect: also "no".
Kind = Literal["ok", "assent", "defect", "number", "command", "other"]


@dataclass(frozen=True, slots=True)
class Bar:
    """Probability of being right that one kind of answer needs to be taken as heard.

    agree: if all engines put the same meaning first. alone: if they do not (above 1: never). spelled: if they do not,
    but the free transcript is the very phrase and there is little noise. From `unsure` up to the bar the answer is
    confirmed ("did you say"); below it is asked again.
    """

    agree: float
    alone: float
    spelled: float
    unsure: float


@dataclass(frozen=True, slots=True)
class Thresholds:
    """word_weights, number_weights: of the clues (voice.hear.fusion.CLUES), the constant last. sphinx_weight: of a
    nat of the second engine beside one of the transformer. sphinx_floor: nats given to a meaning that its search
    dropped. decoy_handicap: nats taken off the words that are no answer. spelled_snr_db: speech over noise from which a
    transcript that spells the phrase counts. least_snr_db: below this such an answer is at best asked back: of 1,660
    defects said in noise, 3 were taken as OK without this, all at 5 dB and less. noisy_db: surroundings louder than
    this (dB full scale) are too loud. noisy_snr_db: so they are if what was not understood was this little over them,
    unless they are quieter than still_db: then the speaker was far away."""

    word_weights: tuple[float, ...] = (0.645, -0.042, 1.477, 1.066, 0.088, -0.003, -0.315, -3.013)
    number_weights: tuple[float, ...] = (0.558, -0.144, -0.037, 0.294, 0.374, 0.004, 0.802, -0.932)
    sphinx_weight: float = 0.02
    sphinx_floor: float = -80.0
    decoy_handicap: float = 3.0
    bars: dict[Kind, Bar] = field(
        default_factory=lambda: {
            "ok": Bar(agree=0.91, alone=1.1, spelled=1.1, unsure=0.65),
            "assent": Bar(agree=0.80, alone=0.95, spelled=0.80, unsure=0.55),
            "defect": Bar(agree=0.88, alone=0.95, spelled=0.80, unsure=0.55),
            "number": Bar(agree=0.91, alone=0.975, spelled=0.80, unsure=0.55),
            "command": Bar(agree=0.92, alone=0.97, spelled=0.85, unsure=0.65),
            "other": Bar(agree=0.65, alone=0.85, spelled=0.65, unsure=0.50),
        }
    )
    spelled_snr_db: float = 8.0
    least_snr_db: dict[Kind, float] = field(default_factory=lambda: {"ok": 10.0, "assent": 6.0})
    noisy_db: float = -18.0
    noisy_snr_db: float = 5.0
    still_db: float = -45.0


DEFAULT = Thresholds()
