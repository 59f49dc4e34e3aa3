"""An okay and a defect in one breath ("looks good, cracked"): how often the okay is taken and the defect lost.

    python -m tests.benchmarks.hearing.breath [--count 900] [--seed 4] [--audio FOLDER] [--work FOLDER]

Every third trial is an okay alone, to see what a stricter rule would cost. The pause between the two is 0.05 to 0.35 s,
so to the ear they are one answer; its place in the recording is given (no endpointing). Made voices, all noises.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from pathlib import Path

import numpy as np

from tests.benchmarks.hearing.noises import NOISES, cut_out, scene
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.voices import SPEAKERS, Clips, available
from voice.hear.decoys import decoys
from voice.hear.fusion import Opinions, decide
from voice.hear.thresholds import DEFAULT
from voice.models.engines import load_engines
from voice.sound.port import RATE
from voice.understand.question import Question

DEFECTS = ("leaking", "cracked", "loose", "cut", "rubbing")
RATIOS = (28.0, 22.0, 15.0, 10.0, 5.0)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=900)
    parser.add_argument("--seed", type=int, default=4)
    parser.add_argument("--audio", type=Path, default=Path(os.environ.get("GLADHAND_AUDIO", "../shared/audio")))
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "gladhand-hearing")
    chosen = parser.parse_args()
    random = np.random.default_rng(chosen.seed)
    clips, model = Clips(chosen.work / "clips"), load_engines(chosen.work / "cache").judge
    question = _question()
    phrases = [*question.meanings, *decoys(list(question.meanings))]
    voices = [speaker for speaker in SPEAKERS if available(speaker)]
    okays = sorted(DEFAULT.okays)
    taken: dict[tuple[float, bool], list[bool]] = {}
    for number in range(chosen.count):
        voice, okay = voices[random.integers(len(voices))], okays[random.integers(len(okays))]
        noise, ratio = NOISES[random.integers(len(NOISES))], RATIOS[random.integers(len(RATIOS))]
        defect = None if number % 3 == 0 else DEFECTS[random.integers(len(DEFECTS))]
        speech = clips.get(voice, okay)
        if defect is not None:
            pause = np.zeros(int(RATE * random.uniform(0.05, 0.35)), np.float32)
            speech = np.concatenate([speech, pause, clips.get(voice, defect)])
        heard, end = scene(speech, noise, ratio, chosen.audio, random)
        audio, measured_db = cut_out(heard, end, len(speech), after=1600)
        decision = decide(question, Opinions(model.judge(audio, phrases), measured_db))
        phrase = decision.phrase if decision.outcome == "heard" else None
        okay_taken = phrase is not None and phrase.meaning.kind == "ok"
        taken.setdefault((ratio, defect is not None), []).append(okay_taken)
        if phrase is not None and okay_taken and defect is not None:
            print(f'"{okay}, {defect}" taken as {phrase.text}: {voice.name}, {ratio:g} dB')
    for ratio in RATIOS:
        alone, both = (taken.get((ratio, more), []) for more in (False, True))
        print(f"{ratio:g} dB: of {len(alone)} okays alone {sum(alone)} taken, of {len(both)} with a defect {sum(both)}")


def _question() -> Question:
    """The first condition of the shipped routes that all of DEFECTS can be said to."""
    return next(
        one for one in shipped().values() if one.asks == "condition" and all(text in one.meanings for text in DEFECTS)
    )


if __name__ == "__main__":
    main()
