"""python -m tests.benchmarks.hearing.near: words a small change of sound away from an okay, in quiet and in noise.

Each is said by each voice through the whole ear, at a condition's question. Shown: what came of each, and how many were
taken as "nothing wrong" at once; then the same for the right answers, so that what the margin over near words costs is
seen. Words that the ear knows to be near (decoys.NEAR) and words that it does not know are counted apart.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable, Iterator

import numpy as np

from tests.benchmarks.hearing.noises import idle
from voice.hear.ear import VoiceEar
from voice.hear.moonshine import Moonshine
from voice.hear.port import Hearing
from voice.hear.sphinx import Sphinx
from voice.hear.whisper import Whisper
from voice.sound.port import RATE, Audio
from voice.sound.recording import ArrayMicrophone
from voice.speak.synth import synthesize
from voice.understand.meaning import Ok
from voice.understand.phrases import Phrasebook
from voice.understand.question import Question

VOICES = (
    "flite:slt", "flite:rms", "flite:awb", "flite:kal16",
    "espeak:en-us", "espeak:en-gb+f3", "espeak:en-us+m3", "espeak:en-gb-scotland+f2",
)  # fmt: skip
KNOWN = (
    "cocaine", "cake", "croquet", "came", "decay", "hockey", "opaque", "arcade", "oh kate", "all could", "all wood",
    "call good", "hall good", "old hood", "looks wood", "looks could", "looks hood", "looks put", "all hood",
    "looks goofy",
)  # fmt: skip
UNKNOWN = (
    "bouquet",
    "locks good",
    "books good",
    "away",
    "go away",
    "karaoke",
    "lacks wood",
    "oh great",
    "old god",
    "pokey",
    "look hood",
)
ANSWERS = ("okay", "looks good", "all good", "defect")


def scene(text: str, voice: str, snr_db: float | None = None) -> Audio:
    """The words after a second and before a second and a half of near silence, or of an idling engine."""
    said = synthesize(text, voice)
    said = said * np.float32(0.4 / np.abs(said).max())
    whole = np.concatenate([np.zeros(RATE, np.float32), said, np.zeros(RATE * 3 // 2, np.float32)])
    if snr_db is None:
        return whole + (1e-3 * np.random.default_rng(0).standard_normal(len(whole))).astype(np.float32)
    engine = idle(len(whole) / RATE + 1, 11)[: len(whole)]
    engine *= np.sqrt(np.mean(said**2) / np.mean(engine**2)) * 10 ** (-snr_db / 20)
    return (whole + engine).astype(np.float32)


def heard(
    ear: VoiceEar, texts: Iterable[str], voices: Iterable[str], snr_db: float | None = None
) -> Iterator[tuple[str, str, Hearing]]:
    """What the ear makes of each text by each voice at a condition's question."""
    question = Question("condition", Phrasebook().condition(), patience=3.0)
    for text in texts:
        for voice in voices:
            microphone = ArrayMicrophone(scene(text, voice, snr_db))
            ear.floor.forget()
            ear.use(microphone, microphone)
            yield text, voice, ear.listen(question)


def taken_as_okay(hearing: Hearing) -> bool:
    return hearing.outcome == "heard" and isinstance(hearing.meaning, Ok)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--voices", nargs="+", default=VOICES)
    parser.add_argument("--words", nargs="+", help="only these, instead of all")
    parser.add_argument("--snr", type=float, help="dB over an idling engine; quiet if not given")
    given = parser.parse_args()
    microphone = ArrayMicrophone()
    ear = VoiceEar(microphone, Moonshine(), Whisper(), Sphinx(), clock=microphone)
    groups = {text: (text,) for text in ANSWERS} | {"known to be near": KNOWN, "not known": UNKNOWN}
    if given.words:
        groups = {"given": tuple(given.words)}
    for name, texts in groups.items():
        counts: Counter[str] = Counter()
        for text, voice, hearing in heard(ear, texts, given.voices, given.snr):
            kind = hearing.meaning.kind if hearing.meaning is not None else "nothing"
            counts[f"{hearing.outcome} {kind}"] += 1
            shown = f"{text:14} {voice:26} {hearing.outcome:8} {hearing.words:20} {hearing.confidence:.2f}"
            print(shown + ("  TAKEN AS OKAY" if taken_as_okay(hearing) else ""), flush=True)
        print(f"== {name}: {sum(counts.values())} said, {dict(counts)}", flush=True)


if __name__ == "__main__":
    main()
