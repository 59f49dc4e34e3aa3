"""Every number that decides what counts as heard, in one place.

The weights were fitted by tests/benchmarks/hearing/tune.py to 10,159 trials of its tuning side, by voices and people
that the model has not learnt from, words near an okay among them. The bars were then set by hand where hardly anything
wrong was left above them; that of "ok" so high that no defect, near word or strange sound of 3,464 said in quiet passed
it, and eight near words of 4,040 said in noise. RESULTS.md there has the figures on other voices, speakers and noises.
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
class Thresholds:
    """The numbers of the decision.

    word_weights, number_weights: of the clues (voice.hear.fusion.CLUES), the constant last.
    second_weight: of a nat of the second head beside one of the decoder.
    reach, reach_2: nats below its best that count in the decoder, in the second head.
    rivals_less, rivals_less_2: nats by which words that are no answer count less in noise, in the decoder, in the
        second head: there they are too like an okay to be told from it, and a driver who is asked hardly says them.
        Set by hand: with twice as much, two okays in 128 minutes of strangers' speech were taken, with this none.
    alone_lead: nats by which an answer must be ahead where the second opinion is lacking. Set by hand.
    okays: words of okay that hardly any defect is like: of 267,000 said in noise none came near.
    quiet_db: speech so many dB over its surroundings is heard in quiet.
    ok_easier: bar of those words, and of every okay in quiet; still no easier to pass than a defect's. Of 3,464
        defects, near words and strange sounds said in quiet in tuning trials two near words passed it, where the bar of
        "ok" let none pass and asked every twentieth okay back; of 4,040 said in noise 16 instead of 8, none a defect.
    ok_lead, ok_lead_2: nats by which an okay must be ahead of all else in the decoder, in the second head, however sure
        it looks. Set by hand: of 1,241 okays taken in tuning trials this asks 8 back.
    ok_ahead, ok_ahead_2: the same, but ahead of every answer that is no okay: words that are no answer at all may be
        nearer, since to take one for an okay hides no defect.
    okays_ahead, okays_ahead_2: what is enough for the words of `okays`. Of the 267,000 the one nearest to being taken
        for one had 4.2 and 7.6.
    ok_misfit_2: nats by which something else, whatever it is, may fit the second head better if it is not quiet.
        These five are set by hand. Without them 12 of the 267,000 would be taken as an okay, with them none is; of
        okays said by thirteen voices they ask back seven in 100 at 10 dB, three in quiet.
    like_share: in this share of a word's guided readings a near word must be so near that ok_lead or ok_lead_2 would
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

    word_weights: tuple[float, ...] = (0.2, 0.071, -0.537, -0.124, -0.126, 0.473, -0.149, -0.395, -0.265, 3.927)
    number_weights: tuple[float, ...] = (0.378, 0.166, -0.006, -0.01, 0.206, -0.32, 0.94, 0.113, 0.0, -1.425)
    second_weight: float = 0.3
    reach: float = 14.0
    reach_2: float = 30.0
    rivals_less: float = 1.0
    rivals_less_2: float = 1.5
    alone_lead: float = 3.0
    okays: frozenset[str] = frozenset(("okay", "good", "fine", "clear", "all good", "all clear"))
    quiet_db: float = 20.0
    ok_easier: float = 0.88
    ok_lead: float = 1.0
    ok_lead_2: float = 1.5
    ok_ahead: float = 8.0
    ok_ahead_2: float = 12.0
    okays_ahead: float = 6.0
    okays_ahead_2: float = 10.0
    ok_misfit_2: float = 6.0
    like_share: float = 0.5
    like_confirmed: int = 2
    like_most: int = 2
    like_ahead: float = 3.0
    name_lead: float = 4.0
    name_misfit: float = 9.0
    bars: dict[Kind, Bar] = field(
        default_factory=lambda: {
            "ok": Bar(agree=0.94, alone=1.1, unsure=0.40),
            "assent": Bar(agree=0.75, alone=0.97, unsure=0.30),
            "defect": Bar(agree=0.90, alone=0.97, unsure=0.30),
            "number": Bar(agree=0.90, alone=0.97, unsure=0.30),
            "command": Bar(agree=0.95, alone=1.1, unsure=0.40),
            "other": Bar(agree=0.60, alone=0.90, unsure=0.30),
        }
    )
    least_snr_db: dict[Kind, float] = field(default_factory=lambda: {"ok": 5.0, "assent": 5.0})
    noisy_db: float = -18.0
    noisy_snr_db: float = 5.0
    still_db: float = -45.0


DEFAULT = Thresholds()
