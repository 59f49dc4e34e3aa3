"""False accepts: the ear listens for an answer while there is only other people's talk, noise, or the tool's own voice.

    python -m tests.benchmarks.hearing.stray speech|noise|prompts [--minutes 60] [--seed N] [--audio DIR] [--work DIR]

speech: invented sentences by the held-out voices and single words that are no answer by recorded people, at 5 to 20 dB
over noise. noise: the held-out noises, 3 to 30 dB under full scale. prompts: the questions of the shipped routes in
the voice the tool itself speaks with here (espeak-ng), as a microphone beside the loudspeaker picks them up.
Always after a question on an item's condition, the one that OK answers. Prints what was taken for an answer, and what
was said then.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tests.benchmarks.hearing.noises import NOISES, piece, speech_level
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.trials import DIGITS, REAL, STRANGE, half, recorded_index, speakers
from tests.benchmarks.hearing.voices import SPEAKERS, Clips, trimmed
from voice.hear.ear import VoiceEar
from voice.models.engines import load_engines
from voice.route.library import load_library
from voice.sound.port import RATE, Audio
from voice.sound.recording import ArrayMicrophone, load
from voice.understand.meaning import MEANING

Said = tuple[str, Audio]  # who says what, and its sound


def _questions() -> list[str]:
    return [name for name in shipped() if name.startswith(("condition", "look"))]


def _talk(audio: Path, clips: Clips, seed: int) -> Iterator[Said]:
    draw = random.Random(3 + seed)
    voices = speakers("held")
    answers = {*REAL, *DIGITS} | {text for name in _questions() for text in shipped()[name].meanings}
    rows = [
        row
        for row in recorded_index(audio)
        if half(row["speaker"]) == "held" and row["text"] not in answers and row["source"].startswith("gsc")
    ]
    while True:
        if rows and draw.random() < 0.4:
            path = draw.choice(rows)["path"]
            yield path, trimmed(load(audio / path), 800)
        else:
            voice, text = draw.choice(voices), draw.choice(STRANGE)
            yield f"{voice.name}: {text}", clips.get(voice, text)


def _prompts(clips: Clips, seed: int) -> Iterator[Said]:
    speaker = next(one for one in SPEAKERS if one.name == "espeak-us")
    texts = [
        text for item in load_library().items.values() for text in (item.say.terse, item.say.normal, item.say.full)
    ]
    plain = sorted({text.replace("{place}", "left side, axle three").replace("\n", " ") for text in texts})
    random.Random(4 + seed).shuffle(plain)
    clips.make(speaker, plain)
    while True:
        for text in plain:
            yield text, clips.get(speaker, text)


def stream(what: str, audio: Path, clips: Clips, seed: int = 0) -> Iterator[Said]:
    """Pieces of a few seconds, for ever."""
    draw = np.random.default_rng(7 + seed)
    held = [noise for noise in NOISES if noise.group == "held"]
    if what == "noise":
        while True:
            level = np.float32(10 ** (-draw.uniform(15, 45) / 20))
            yield "", np.clip(level * piece(held[draw.integers(len(held))], audio, 8 * RATE, draw), -1, 1)
    for said, speech in _talk(audio, clips, seed) if what == "speech" else _prompts(clips, seed):
        total = len(speech) + int(draw.uniform(0.3, 1.5) * RATE)
        out = np.float32(0.05 * 10 ** (-draw.uniform(5, 20) / 20)) * piece(
            held[draw.integers(len(held))], audio, total, draw
        )
        out[: len(speech)] += speech * np.float32(0.05 / speech_level(speech))
        yield said, out


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("what", choices=("speech", "noise", "prompts"))
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=0, help="Of what is drawn: so that several can share an hour.")
    parser.add_argument("--audio", type=Path, default=Path(os.environ.get("GLADHAND_AUDIO", "../shared/audio")))
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "gladhand-hearing")
    chosen = parser.parse_args()
    source = stream(chosen.what, chosen.audio, Clips(chosen.work / "clips"), chosen.seed)
    microphone = ArrayMicrophone()
    engines = load_engines(chosen.work / "cache")
    ear = VoiceEar(microphone, engines.judge, engines.writer, clock=microphone)
    names = _questions()
    draw = random.Random(5 + chosen.seed)
    counts: Counter[str] = Counter()
    taken = []
    played: list[tuple[float, float, str]] = []  # from when to when (s), what
    while microphone.now() < chosen.minutes * 60:
        while microphone.left < 30:
            said, sound = next(source)
            begin = microphone.now() + microphone.left
            played.append((begin, begin + len(sound) / RATE, said))
            microphone.play(sound)
        name = draw.choice(names)
        hearing = ear.listen(shipped()[name])
        counts[f"{hearing.outcome} {hearing.meaning.kind if hearing.meaning else ''}".strip()] += 1
        if hearing.outcome in ("heard", "unsure"):
            meaning = hearing.meaning and MEANING.dump_python(hearing.meaning, mode="json")
            heard = [said for begin, end, said in played if begin < hearing.ended and end > hearing.started]
            taken.append([hearing.outcome, hearing.words, meaning, round(hearing.confidence, 3), name, heard])
        (chosen.work / f"stray-{chosen.what}.json").write_text(
            json.dumps({"minutes": microphone.now() / 60, "counts": dict(counts), "taken": taken}, indent=1) + "\n"
        )
    print(f"{microphone.now() / 60:.0f} minutes of {chosen.what}: {dict(counts)}")
    for line in taken:
        print(*line)


if __name__ == "__main__":
    main()
