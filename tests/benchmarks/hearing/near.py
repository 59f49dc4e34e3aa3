"""python -m tests.benchmarks.hearing.near: words a small change of sound away from an okay, in quiet.

Each is said by each voice through the whole ear, at a condition's question. Shown: what came of each, and how many were
taken as "nothing wrong" at once (none should be); then the same for the right answers, so that what the bar for near
words costs is seen. Words that are decoys themselves and words that are not are counted apart.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable, Iterator

import numpy as np

from voice.hear.decoys import NEAR
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

VOICES = ("flite:slt", "flite:rms", "espeak:en-us", "espeak:en-gb+f3")
# Near words that no decoy is made of: whether the bar holds for what nobody thought of.
OTHERS = (
    "looks wood", "looks could", "looks hood", "locks good", "books good",
    "arcade", "away", "broke a", "call good", "go away", "karaoke", "lacks wood", "oh great", "oil good", "oh kate",
    "old god", "pokey", "look hood", "looks goofy",
)  # fmt: skip
ANSWERS = ("okay", "looks good", "all good", "defect", "not okay", "no good", "bad")


def scene(text: str, voice: str) -> Audio:
    """The words between half a second and a second and a half of near silence."""
    said = synthesize(text, voice)
    said = said * np.float32(0.4 / np.abs(said).max())
    ends = np.zeros(RATE // 2, np.float32), np.zeros(RATE * 3 // 2, np.float32)
    whole = np.concatenate([ends[0], said, ends[1]])
    return whole + (1e-3 * np.random.default_rng(0).standard_normal(len(whole))).astype(np.float32)


def heard(ear: VoiceEar, texts: Iterable[str], voices: Iterable[str]) -> Iterator[tuple[str, str, Hearing]]:
    """What the ear makes of each text by each voice at a condition's question."""
    question = Question("condition", Phrasebook().condition(), patience=3.0)
    for text in texts:
        for voice in voices:
            microphone = ArrayMicrophone(scene(text, voice))
            ear.use(microphone, microphone)
            yield text, voice, ear.listen(question)


def taken_as_okay(hearing: Hearing) -> bool:
    return hearing.outcome == "heard" and isinstance(hearing.meaning, Ok)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--voices", nargs="+", default=VOICES)
    parser.add_argument("--words", nargs="+", help="only these, instead of all")
    given = parser.parse_args()
    microphone = ArrayMicrophone()
    ear = VoiceEar(microphone, Moonshine(), Whisper(), Sphinx(), clock=microphone)
    decoys = [word for near in NEAR.values() for word in near]
    groups = {"given": given.words} if given.words else {"decoys": decoys, "others": OTHERS, "answers": ANSWERS}
    for name, texts in groups.items():
        counts: Counter[str] = Counter()
        for text, voice, hearing in heard(ear, texts, given.voices):
            counts[hearing.outcome] += 1
            counts["taken as okay"] += taken_as_okay(hearing)
            shown = f"{text:14} {voice:18} {hearing.outcome:8} {hearing.words:20} {hearing.confidence:.2f}"
            print(shown + ("  TAKEN AS OKAY" if taken_as_okay(hearing) else ""), flush=True)
        print(f"== {name}: {sum(counts.values()) - counts['taken as okay']} said, {dict(counts)}", flush=True)


if __name__ == "__main__":
    main()
