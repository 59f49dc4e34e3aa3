"""Who may be learnt from. What the benchmark holds out stays out, and a share of its tuning side, too: the decision is
fitted to the model's answers there, and on voices it has learnt from they would be better than they will ever be."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

# Stock voices of the neural synthesizer that only measure.
NEURAL_KEPT = ("af_nova", "am_eric", "bf_lily", "bm_daniel")
# Voices of the benchmark's tuning side that are learnt from; its others only measure.
MADE_LEARNT = ("espeak-us", "flite-kal16")


def learnt(speaker: str) -> bool:
    """Whether recordings of this person ("gsc:0a1b2c3d") are learnt from: three quarters of the tuning side."""
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    from tests.benchmarks.hearing.trials import half

    return half(speaker) == "tune" and hashlib.sha256(speaker.encode()).digest()[1] % 4 != 0
