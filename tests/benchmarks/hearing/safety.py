"""The one mistake that must not happen: a defect taken as OK. Many trials, only of that.

    python -m tests.benchmarks.hearing.safety [--count 10000] [--seed N] [--audio FOLDER] [--work FOLDER]
        [--share 1/2]

Every voice, tuning and held-out, says every way of reporting a defect in every noise at 20, 10, 5 and 0 dB. To be able
to do a hundred thousand, the answer's place in the recording is given (no endpointing), and first only the defect that
was said and the words of OK are scored: if the defect is NEAR nats ahead, no OK can be taken, and that is all. The
others are heard in full. Resumable; decides anew from the scores kept of those whose favorite may be an OK, and prints
what was taken as OK or asked back as OK.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import tempfile
from pathlib import Path

import numpy as np

from tests.benchmarks.hearing.collect import judged_row
from tests.benchmarks.hearing.noises import NOISES, cut_out, scene
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.report import evidence
from tests.benchmarks.hearing.voices import SPEAKERS, Clips, available
from voice.hear.decoys import decoys
from voice.hear.fusion import decide, grouped
from voice.hear.transformer import Judged, Transformer
from voice.models.engines import load_engines
from voice.sound.port import Audio
from voice.understand.question import Question

NEAR = 4.0  # nats by which an OK may be behind to be kept


def orders(count: int, seed: int = 99) -> list[tuple[str, str, str, str, float]]:
    """Question, text, speaker, noise, ratio of every trial, in a fixed order of chance."""
    draw = random.Random(seed)
    places: dict[str, list[str]] = {}
    for name, question in shipped().items():
        if question.asks in ("condition", "look"):
            for phrase in question.phrases:
                if phrase.meaning.kind in ("defect", "part"):
                    places.setdefault(phrase.text, []).append(name)
    voices = [speaker.name for speaker in SPEAKERS if available(speaker)]
    texts = sorted(places)
    return [
        (
            draw.choice(places[text]),
            text,
            draw.choice(voices),
            draw.choice(NOISES).name,
            draw.choice((20.0, 10.0, 5.0, 0.0)),
        )
        for text in (draw.choice(texts) for _ in range(count))
    ]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--share", default="1/1")
    parser.add_argument("--seed", type=int, default=99, help="Of the trials' order; another gives other trials.")
    parser.add_argument("--audio", type=Path, default=Path(os.environ.get("GLADHAND_AUDIO", "../shared/audio")))
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "gladhand-hearing")
    chosen = parser.parse_args()
    part, parts = (int(number) for number in chosen.share.split("/"))
    out = chosen.work / f"safety-{chosen.seed}-{part}-of-{parts}.jsonl"
    done = {json.loads(line)["number"] for line in out.read_text().splitlines()} if out.exists() else set()
    todo = [one for one in list(enumerate(orders(chosen.count, chosen.seed)))[part - 1 :: parts] if one[0] not in done]
    clips = Clips(chosen.work / "clips")
    named = {speaker.name: speaker for speaker in SPEAKERS}
    for voice in named:
        clips.make(named[voice], [text for _, (_, text, speaker, *_) in todo if speaker == voice])
    model = load_engines(chosen.work / "cache").judge
    okays = {name: [p.text for p in one.phrases if p.meaning.kind == "ok"] for name, one in shipped().items()}
    noises = {noise.name: noise for noise in NOISES}
    with out.open("a") as lines:
        for number, (name, text, speaker, noise, snr) in todo:
            random_ = np.random.default_rng(number)
            speech = clips.get(named[speaker], text)
            heard, end = scene(speech, noises[noise], snr, chosen.audio, random_)
            audio, measured_db = cut_out(heard, end, len(speech))
            row = {"number": number, "question": name, "text": text, "speaker": speaker, "noise": noise, "snr": snr}
            if _near(model, audio, text, okays[name]) and (judged := _in_full(model, audio, shipped()[name])):
                row |= {"ear": judged_row(judged), "snr_db": round(measured_db, 1)}
            lines.write(json.dumps(row) + "\n")
            lines.flush()
    report(chosen.work, chosen.seed)


def _near(model: Transformer, audio: Audio, text: str, okays: list[str]) -> bool:
    """Whether the words of OK together are less than NEAR behind what was said."""
    scores = {scored.text: scored.score for scored in model.score(audio, [text, *okays])}
    said = scores.pop(text, -np.inf)
    return bool(np.logaddexp.reduce([*scores.values(), -np.inf]) > said - NEAR)


def _in_full(model: Transformer, audio: Audio, question: Question) -> Judged | None:
    """What is made of it as in a walk; None if no OK is less than NEAR behind the favorite."""
    phrases = list(question.meanings)
    judged = model.judge(audio, [*phrases, *decoys(phrases)])
    groups = grouped(question, judged.scores)
    best = max(groups.values(), default=0.0)
    near = any(m is not None and m.kind == "ok" and value > best - NEAR for m, value in groups.items())
    return judged if near else None


def report(work: Path, seed: int) -> None:
    count, found = 0, []
    for file in work.glob(f"safety-{seed}-*.jsonl"):
        for row in map(json.loads, file.read_text().splitlines()):
            count += 1
            if "ear" in row:
                decision = decide(shipped()[row["question"]], evidence(row))
                if decision.phrase and decision.phrase.meaning.kind == "ok" and decision.outcome in ("heard", "unsure"):
                    found.append((row, decision))
    taken = sum(decision.outcome == "heard" for _, decision in found)
    print(f"{count} defects said in noise: {taken} taken as OK, {len(found) - taken} asked back as OK")
    for row, decision in sorted(found, key=lambda pair: (pair[1].outcome, -pair[1].confidence)):
        said = (row["text"], row["question"], row["speaker"], row["noise"], row["snr"], row["snr_db"])
        print(decision.outcome, decision.phrase and decision.phrase.text, round(decision.confidence, 3), "for", *said)


if __name__ == "__main__":
    main()
