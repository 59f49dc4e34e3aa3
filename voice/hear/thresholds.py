"""Every number that decides what counts as heard, in one place.

The weights were fitted by tests/benchmarks/hearing/tune.py to 3,400 trials of its tuning group: six made voices, one
half of the recorded speakers, seven noises, quiet to 0 dB. The bars were then set by hand on the same trials, where
hardly anything wrong was left above them; the one of "ok" also by 10,000 defects said in noise. RESULTS.md there has
the figures on other voices, speakers and noises.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

# ok: "okay" and "not applicable". assent: "yes" and "done". defect: also "no".
Kind = Literal["ok", "assent", "defect", "number", "command", "other"]


@dataclass(frozen=True, slots=True)
class Bar:
    """Probability of being right that one kind of answer needs to be taken as heard.

    agree: if all engines put the same meaning first. backed: if both transformers do, but not pocketsphinx. alone: else
    (above 1: never). From `unsure` up to the bar the answer is confirmed ("did you say"); below it is asked again.
    """

    agree: float
    backed: float
    alone: float
    unsure: float


@dataclass(frozen=True, slots=True)
class Thresholds:
    """The numbers of the decision.

    word_weights, number_weights: of the clues (voice.hear.fusion.CLUES), the constant last.
    second_weight: of a nat of the second transformer beside one of the first.
    third_bonus: nats for pocketsphinx's favorite.
    reach: nats below its best that count in a transformer.
    decoy_handicap: nats taken off the words that are no answer.
    near_margin: nats by which an answer must be ahead of every word that sounds nearly like it, all engines together;
        else it is at best asked back. Set by hand on 8 made voices (RESULTS.md of the hearing benchmark).
    bars: what each kind of answer needs.
    least_snr_db: below this such an answer is at best asked back.
    noisy_db: surroundings louder than this (dB full scale) are too loud.
    noisy_snr_db: so they are if what was not understood was this little over them,
    still_db: unless they are quieter than this: then the speaker was far away.
    """

    word_weights: tuple[float, ...] = (0.32, 0.016, 0.966, 1.833, 0.288, -0.004, 0.417, 0.865, -0.285, -3.394)
    number_weights: tuple[float, ...] = (0.506, -0.001, 0.556, 0.287, -0.256, 0.11, 0.105, 0.0, 0.355, -0.742)
    second_weight: float = 0.5
    third_bonus: float = 1.0
    near_margin: float = 3.0
    reach: float = 10.0
    decoy_handicap: float = 3.0
    bars: dict[Kind, Bar] = field(
        default_factory=lambda: {
            "ok": Bar(agree=0.90, backed=1.1, alone=1.1, unsure=0.70),
            "assent": Bar(agree=0.75, backed=0.80, alone=0.88, unsure=0.45),
            "defect": Bar(agree=0.85, backed=0.87, alone=0.90, unsure=0.40),
            "number": Bar(agree=0.80, backed=0.80, alone=0.97, unsure=0.45),
            "command": Bar(agree=0.85, backed=0.95, alone=1.1, unsure=0.55),
            "other": Bar(agree=0.60, backed=0.60, alone=0.60, unsure=0.30),
        }
    )
    least_snr_db: dict[Kind, float] = field(default_factory=lambda: {"ok": 5.0, "assent": 5.0})
    noisy_db: float = -18.0
    noisy_snr_db: float = 5.0
    still_db: float = -45.0


DEFAULT = Thresholds()
