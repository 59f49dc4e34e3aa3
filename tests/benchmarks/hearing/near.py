"""python -m tests.benchmarks.hearing.near [--count 2000] [--snr DB] [--words ...]: words near an okay in sound.

Each is said by many synthetic voices through the whole ear, at a condition's question. Shown: what came of each, and
how many were taken as "nothing wrong" at once; then the same for right answers, so that what it costs is seen. Counted
apart: words that the ear has as rivals of the phrase (decoys.NEAR), words that the model was taught (the list of
models/training/texts.py), and words that are new to both.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter
from collections.abc import Iterable, Iterator

import numpy as np

from tests.benchmarks.hearing.noises import idle
from voice.hear.decoys import NEAR
from voice.hear.ear import VoiceEar
from voice.hear.port import Hearing
from voice.models.engines import load_engines
from voice.sound.port import RATE, Audio
from voice.sound.recording import ArrayMicrophone
from voice.speak.synth import synthesize
from voice.understand.meaning import Ok
from voice.understand.phrases import Phrasebook
from voice.understand.question import Question

VOICES = (
    "flite:slt", "flite:rms", "flite:awb", "flite:kal16", "flite:kal",
    *(f"espeak:{accent}{variant}" for accent in ("en-us", "en-gb", "en-gb-scotland", "en-029", "en-us-nyc")
      for variant in ("", "+f3", "+m3", "+m7")),
)  # fmt: skip
TAUGHT = (
    "okapi", "oak tree", "oaken", "hokey", "karaoke", "poker", "broken key", "oh come", "oh could", "oh gray",
    "oh day", "oh great", "low key", "bouquet", "toupee", "cafe", "away", "echo", "ego", "occasion", "ochre", "soak it",
    "looks wet", "looks odd", "books good", "look at it", "luck is good", "lots good", "all food", "tall hood",
    "oil could", "fall good", "small good",
)  # fmt: skip
NEW = (
    "oh hey", "okra", "a cable", "kay is here", "go away", "lacks wood", "old god", "pokey", "look hood", "oakley",
    "okefenokee", "oh pay", "whoa kay", "o'hare", "oh kid", "yolk", "token", "coquet", "rookie", "hooky", "okinawa",
    "ball good", "wall could", "haul wood", "looks gone", "looks cut", "looks foot", "luck's hood", "cook's wood",
    "hooks good", "locks good", "oh kate", "looks goods",
)  # fmt: skip
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
    parser.add_argument("--count", type=int, default=100_000, help="at most so many near words, drawn by lot")
    given = parser.parse_args()
    microphone = ArrayMicrophone()
    engines = load_engines()
    ear = VoiceEar(microphone, engines.judge, engines.writer, clock=microphone)
    known = sorted({word for words in NEAR.values() for word in words})
    groups = {"rivals": known, "taught": sorted(set(TAUGHT).difference(known)), "new": NEW}
    if given.words:
        groups = {"given": given.words}
    todo = [(name, word, voice) for name, words in groups.items() for word in words for voice in given.voices]
    todo = random.Random(8).sample(todo, min(given.count, len(todo)))
    todo += [("answers", text, voice) for text in ANSWERS for voice in given.voices]
    counts: dict[str, Counter[str]] = {}
    for number, (name, word, voice) in enumerate(todo):
        if number and number % 100 == 0:
            print(number, {name: dict(found) for name, found in counts.items()}, flush=True)
        ((_, _, hearing),) = heard(ear, [word], [voice], given.snr)
        kind = hearing.meaning.kind if hearing.meaning is not None else "nothing"
        counts.setdefault(name, Counter())[f"{hearing.outcome} {kind}"] += 1
        if hearing.outcome in ("heard", "unsure") or name == "answers":
            shown = f"{word:14} {voice:26} {hearing.outcome:8} {hearing.words:20} {hearing.confidence:.3f}"
            print(shown + ("  TAKEN AS OKAY" if taken_as_okay(hearing) else ""), flush=True)
    for name, found in counts.items():
        print(f"== {name}: {sum(found.values())} said, {dict(found)}", flush=True)


if __name__ == "__main__":
    main()
