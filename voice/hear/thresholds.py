"""Every number that decides what counts as heard, in one place.

The weights were fitted by tests/benchmarks/hearing/tune.py to 5,000 trials of its tuning side, by voices and people
that the model has not learnt from. Bars and margins were then set by hand: RESULTS.md there says on what, and has the
figures on other voices, speakers and noises.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

# ok: "okay" and "not applicable". assent: "yes" and "done". defect: also "no".
Kind = Literal["ok", "assent", "defect", "number", "command", "other"]


@dataclass(frozen=True, slots=True)
class Bar:
    """Probability of being right that one kind of answer needs to be taken as heard.

    agree: if decoder and second head, and every engine that votes, put the same meaning first.
    alone: else (above 1: never).
    unsure: from here up to the bar the answer is confirmed ("did you say"); below it is asked again.
    """

    agree: float
    alone: float
    unsure: float


@dataclass(frozen=True, slots=True)
class Margin:
    """Nats that an okay needs, however sure it looks: to take a defect for one is the one mistake that must not happen.

    lead, lead_2: ahead of all else, words that are no answer included, in the decoder, in the second head.
    misfit_2: that something else, whatever it is, may fit the second head better. With a defect in the same breath as
        an okay ("looks good, cracked") something does, mostly by more than 10.
    ahead, ahead_2: ahead of every answer that is no okay.
    """

    lead: float
    lead_2: float
    misfit_2: float
    ahead: float
    ahead_2: float


@dataclass(frozen=True, slots=True)
class Thresholds:
    """The numbers of the decision.

    word_weights, number_weights: of the clues (voice.hear.fusion.CLUES), the constant last.
    second_weight: of a nat of the second head beside one of the decoder.
    reach, reach_2: nats below its best that count in the decoder, in the second head.
    alone_lead: nats by which an answer must be ahead where the second opinion is lacking. Set by hand.
    okays: words of okay that can be said of anything; a driver's guided reading has them.
    quiet_db: speech so many dB over its surroundings is heard in quiet.
    ok_quiet, ok_noise: what an okay needs in quiet, in noise. In quiet a near word is told from it more clearly.
    apart: words of okay that need less in noise (ok_apart): little that strangers or defects say is like them.
        The three margins are set by hand on 300,000 defects said in noise and two hours of strangers' speech. No defect
        of them is taken, nor would one be if all margins were a seventh less.
    like_share: in this share of a word's guided readings a near word must be so near that ok_quiet's leads would
        ask the word back; it then stands for the word (voice/hear/likeness.py).
    like_confirmed: so often at least among answers that were asked back and confirmed.
    like_most: such near words for each word of okay, in quiet only. With the worst two that can be chosen for each
        answer none of 235,000 defects was taken as OK.
    like_ahead: nats by which a word read may be behind one that is not near it; else it was not read.
    name_lead, name_misfit: nats in the second head by which a driver's name must be ahead of all else, and may be
        behind what fits best. It is read back. Set by hand on four made voices saying two names and two others.
    bars: what each kind of answer needs.
    least_snr_db: below this such an answer is at best asked back.
    noisy_db: surroundings louder than this (dB full scale) are too loud.
    noisy_snr_db: so they are if what was not understood was this little over them,
    still_db: unless they are quieter than this: then the speaker was far away.
    """

    word_weights: tuple[float, ...] = (0.115, 0.063, -0.161, -0.101, 0.164, 0.0, 0.0, -0.02, -0.075, 1.032)
    number_weights: tuple[float, ...] = (0.183, 0.097, 0.0, 0.0, 0.053, 0.0, 0.03, 0.0, 0.0, 0.069)
    second_weight: float = 0.3
    reach: float = 14.0
    reach_2: float = 30.0
    alone_lead: float = 3.0
    okays: frozenset[str] = frozenset(("okay", "good", "fine", "check", "clear", "looks good", "all good", "all clear"))
    apart: frozenset[str] = frozenset(("okay", "good", "fine", "clear", "all good", "all clear"))
    quiet_db: float = 20.0
    ok_quiet: Margin = Margin(lead=6.0, lead_2=1.5, misfit_2=6.0, ahead=8.0, ahead_2=12.0)
    ok_noise: Margin = Margin(lead=6.0, lead_2=6.0, misfit_2=4.0, ahead=13.0, ahead_2=28.0)
    ok_apart: Margin = Margin(lead=1.0, lead_2=3.5, misfit_2=6.0, ahead=12.0, ahead_2=24.0)
    like_share: float = 0.5
    like_confirmed: int = 2
    like_most: int = 2
    like_ahead: float = 3.0
    name_lead: float = 4.0
    name_misfit: float = 9.0
    bars: dict[Kind, Bar] = field(
        default_factory=lambda: {
            "ok": Bar(agree=0.98, alone=1.1, unsure=0.40),
            "assent": Bar(agree=0.75, alone=0.97, unsure=0.30),
            "defect": Bar(agree=0.85, alone=0.97, unsure=0.30),
            "number": Bar(agree=0.90, alone=0.97, unsure=0.30),
            "command": Bar(agree=0.85, alone=1.1, unsure=0.40),
            "other": Bar(agree=0.50, alone=0.90, unsure=0.30),
        }
    )
    least_snr_db: dict[Kind, float] = field(default_factory=lambda: {"ok": 5.0, "assent": 5.0})
    noisy_db: float = -18.0
    noisy_snr_db: float = 5.0
    still_db: float = -45.0


DEFAULT = Thresholds()
