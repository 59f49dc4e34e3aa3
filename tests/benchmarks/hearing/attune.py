"""python -m tests.benchmarks.hearing.attune [--audio FOLDER] [--work FOLDER] [--share 1/2] [--report-only]

What a guided reading gains, and what the worst one could do. Voices read the words of an okay three times in quiet, at
three paces and pitches, and are tested with two other takes in noise; people with several "yes" read one or two of
them. Then near words and defects by the same voices. The answer's place is given (no endpointing). Resumable. Needs
the neural voice as voices.py says, else that one is left out.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import subprocess
import tempfile
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.signal import resample

from tests.benchmarks.hearing.collect import judged_row
from tests.benchmarks.hearing.noises import NOISES, cut_out, scene
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.report import evidence
from tests.benchmarks.hearing.trials import half, recorded_index
from tests.benchmarks.hearing.voices import _PIPER, trimmed
from voice.hear.decoys import NEAR, decoys
from voice.hear.fusion import decide
from voice.hear.likeness import Likeness, likeness, reading, standing_in
from voice.hear.thresholds import DEFAULT
from voice.models.engines import load_engines
from voice.session.readaloud import WORDS
from voice.sound.port import Audio
from voice.sound.recording import load
from voice.speak.synth import synthesize

VOICES = {
    "tune": (
        "espeak:en-us", "espeak:en-gb-scotland+f2", "espeak:en-us+m3", "espeak:en-gb+f2", "espeak:en-gb-x-rp+m4",
        "flite:rms", "flite:kal16",
    ),
    "held": (
        "espeak:en-us+f3", "espeak:en-029", "espeak:en-us-nyc+m7", "flite:slt", "flite:awb", "flite:kal",
        "festival:kal_diphone", "piper:joe",
    ),
}  # fmt: skip
PACES = ((1.0, 1.0), (0.9, 1.02), (1.1, 0.98), (1.05, 0.97), (0.94, 1.03))  # pace, pitch; the first three are read
TESTED: tuple[float | None, ...] = (None, 15.0, 10.0, 5.0)
DEFECTS, NEARS = 150, 40  # a voice

Row = dict[str, Any]


def plan(audio: Path) -> list[Row]:
    out: list[Row] = []
    for group, voices in VOICES.items():
        for voice in voices:
            if voice != "piper:joe" or os.environ.get("GLADHAND_PIPER_PYTHON"):
                out += _of_voice(group, voice, random.Random(f"attune {voice}"))
    yes: dict[str, list[str]] = defaultdict(list)
    for row in recorded_index(audio):
        if row["text"] == "yes":
            yes[row["speaker"]].append(row["path"])
    for speaker, clips in sorted(yes.items()):
        draw = random.Random(f"attune {speaker}")
        if len(clips) > 1:
            draw.shuffle(clips)
            read = min(2, len(clips) // 2)
            for number, clip in enumerate(clips):
                role = "read" if number < read else "test"
                for snr in (None,) if role == "read" else TESTED:
                    out.append(_row(role, half(speaker), speaker, "yes", number, snr, draw) | {"clip": clip})
    return [row | {"number": number} for number, row in enumerate(out)]


def _of_voice(group: str, voice: str, draw: random.Random) -> Iterator[Row]:
    for word in WORDS:
        for number in range(3):
            yield _row("read", group, voice, word, number, None, draw)
        for number in (3, 4):
            for snr in TESTED:
                yield _row("test", group, voice, word, number, snr, draw)
    looked = {name: question for name, question in shipped().items() if question.asks in ("condition", "look")}
    defects = sorted({p.text for q in looked.values() for p in q.phrases if p.meaning.kind in ("defect", "part")})
    for _ in range(DEFECTS):
        snr = draw.choice((None, 20.0, 10.0, 5.0, 0.0))
        yield _row("defect", group, voice, draw.choice(defects), 0, snr, draw)
    for word in draw.sample(sorted({near for nears in NEAR.values() for near in nears}), NEARS):
        yield _row("near", group, voice, word, 0, draw.choice((None, None, 10.0)), draw)


def _row(role: str, group: str, voice: str, text: str, take: int, snr: float | None, draw: random.Random) -> Row:
    asks = ("condition", "look") if role == "defect" else ("condition",)
    kinds = ("defect", "part") if role == "defect" else ("ok",)
    places = [
        name
        for name, question in shipped().items()
        if question.asks in asks and (role == "near" or _kind(question.meanings.get(text)) in kinds)
        and (role != "near" or text not in question.meanings)
    ]  # fmt: skip
    noises = [noise.name for noise in NOISES if noise.group == group or role == "defect"]
    noise = None if snr is None else draw.choice(noises)
    row = {"role": role, "group": group, "speaker": voice, "text": text, "take": take, "clip": None}
    return row | {"question": draw.choice(places), "noise": noise, "snr": snr}


def _kind(meaning: Any) -> str:
    return str(meaning.kind) if meaning is not None else ""


# --- collecting --------------------------------------------------------------------------------------------------


def spoken(row: Row, audio: Path, kept: Path) -> Audio:
    if row["clip"]:
        return trimmed(load(audio / row["clip"]), 800)
    pace, pitch = PACES[row["take"]]
    if row["speaker"] == "piper:joe":  # its takes differ by chance, too
        return trimmed(load(_joe(row["text"], row["take"], pace, kept)))
    said = synthesize(row["text"], row["speaker"], pace=pace, keep=kept)
    return trimmed(np.asarray(resample(said, round(len(said) / pitch)), np.float32))


def _joe(text: str, take: int, pace: float, kept: Path) -> Path:
    path = kept / f"joe-{text.replace(' ', '-')}-{take}.wav"
    if not path.exists():
        order = json.dumps([(f"{text}.", str(path), 1 / pace)])
        python = os.environ["GLADHAND_PIPER_PYTHON"]
        subprocess.run([python, "-c", _PIPER], input=order, text=True, check=True, capture_output=True)
    return path


def collect(todo: list[Row], out: Path, audio: Path, kept: Path) -> None:
    kept.mkdir(parents=True, exist_ok=True)
    model = load_engines(out.parent / "cache").judge
    noises = {noise.name: noise for noise in NOISES}
    with out.open("a") as lines:
        for row in todo:
            speech = spoken(row, audio, kept)
            noise = None if row["noise"] is None else noises[row["noise"]]
            heard, end = scene(speech, noise, row["snr"], audio, np.random.default_rng(row["number"]))
            piece, measured_db = cut_out(heard, end, len(speech))
            phrases = list(shipped()[row["question"]].meanings)
            judged = model.judge(piece, [*phrases, *decoys(phrases)])
            lines.write(json.dumps(row | {"ear": judged_row(judged), "snr_db": round(measured_db, 1)}) + "\n")
            lines.flush()


# --- reporting ---------------------------------------------------------------------------------------------------


def outcome(row: Row, like: Likeness) -> tuple[str, str]:
    """heard, unsure or unclear, and as which kind."""
    question, opinions = shipped()[row["question"]], evidence(row)
    if opinions.snr_db >= DEFAULT.quiet_db:  # as in voice.hear.ear
        opinions = replace(opinions, ear=standing_in(opinions.ear, question, like))
    decision = decide(question, opinions)
    return decision.outcome, decision.phrase.meaning.kind if decision.phrase is not None else ""


def worst(row: Row, most: int) -> Likeness:
    """The reading that is worst for this very answer: for each okay the near words that fit the answer best."""
    first, second = row["ear"]["scores"], row["ear"]["spelled"]

    def fit(near: str) -> float:
        return float(first.get(near, -40.0) + 0.3 * second.get(near, -90.0))

    return {word: tuple(sorted(NEAR[word], key=fit)[-most:]) for word in WORDS}


def learnt(rows: list[Row]) -> dict[str, Likeness]:
    read: dict[str, list[Any]] = defaultdict(list)
    for row in rows:
        if row["role"] == "read":
            read[row["speaker"]].append(reading(row["text"], evidence(row).ear))
    return {voice: likeness(each) for voice, each in read.items()}


def report(rows: list[Row]) -> None:
    like = learnt(rows)
    made = [voice for voices in VOICES.values() for voice in voices if voice in like]
    other = {voice: like[made[(at + 1) % len(made)]] for at, voice in enumerate(made)}
    everyone: Likeness = {w: tuple(sorted({n for each in like.values() for n in each.get(w, ())})) for w in WORDS}
    ways: dict[str, Callable[[Row], Likeness]] = {
        "nobody's reading": lambda row: {},
        "their own": lambda row: like.get(row["speaker"], {}),
        "another's": lambda row: other.get(row["speaker"], {}),
        "all of everybody's": lambda row: everyone,
        "the worst one near word": lambda row: worst(row, 1),
        "the worst two": lambda row: worst(row, 2),
        "the worst three": lambda row: worst(row, 3),
    }
    for name, way in ways.items():
        print(f"== {name}")
        tested: dict[str, Counter[str]] = defaultdict(Counter)
        bad: dict[str, Counter[str]] = defaultdict(Counter)
        for row in rows:
            if row["role"] == "read" or not row["ear"]:
                continue
            found, kind = outcome(row, way(row))
            if row["role"] == "test":
                sort = "people" if row["clip"] else "made"
                result = "asked" if found == "unclear" else f"{found} {'right' if kind == 'ok' else 'wrong'}"
                for key in (f"{row['group']} {sort}", f"{row['group']} {sort} {row['snr']}", row["speaker"]):
                    tested[key][result] += 1
            else:
                bad[row["role"]][found if kind == "ok" and found != "unclear" else "not as okay"] += 1
        for key in sorted(tested) if name in ("nobody's reading", "their own") else ():
            total = sum(tested[key].values())
            right, back = tested[key]["heard right"], tested[key]["unsure right"]
            if total >= 16:
                print(f"  {key:30} {total:4} {100 * right / total:5.1f} at once, {100 * (right + back) / total:5.1f}")
        print("  ", {role: dict(counts) for role, counts in bad.items()})
    print({voice: {w: n for w, n in each.items() if n} for voice, each in like.items() if any(each.values())})


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--audio", type=Path, default=Path(os.environ.get("GLADHAND_AUDIO", "../shared/audio")))
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "gladhand-hearing")
    parser.add_argument("--share", default="1/1")
    parser.add_argument("--report-only", action="store_true")
    given = parser.parse_args()
    given.work.mkdir(parents=True, exist_ok=True)
    part, parts = (int(number) for number in given.share.split("/"))
    out = given.work / f"attune-{part}-of-{parts}.jsonl"
    done = {json.loads(line)["number"] for line in out.read_text().splitlines()} if out.exists() else set()
    todo = [row for row in plan(given.audio)[part - 1 :: parts] if row["number"] not in done]
    if not given.report_only:
        print(len(todo), "to do", flush=True)
        random.Random(1).shuffle(todo)  # a part of them is a fair sample
        collect(todo, out, given.audio, given.work / "takes")
    files = sorted(given.work.glob("attune-*.jsonl"))
    report([json.loads(line) for file in files for line in file.read_text().splitlines()])


if __name__ == "__main__":
    main()
