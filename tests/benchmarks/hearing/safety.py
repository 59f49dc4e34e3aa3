"""The one mistake that must not happen: a defect taken as OK. Many trials, only of that.

    python -m tests.benchmarks.hearing.safety [--count 10000] [--audio FOLDER] [--work FOLDER] [--share 1/2]

Every voice, tuning and held-out, says every way of reporting a defect in every noise at 20, 10, 5 and 0 dB. To be able
to do ten thousand, the answer's place in the recording is given (no endpointing), and the second engine is run only
where an OK is among the best guesses by less than it could change (its whole weight); the outcome is the same as with
both. Resumable; prints what was taken as OK or asked back as OK.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import tempfile
from pathlib import Path

import numpy as np

from tests.benchmarks.hearing.noises import NOISES, scene
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.voices import SPEAKERS, Clips, available
from voice.hear.decoys import decoys
from voice.hear.fusion import decide, grouped
from voice.hear.moonshine import Moonshine
from voice.hear.noise import level, snr_db
from voice.hear.port import BLOCK, RATE
from voice.hear.sphinx import Sphinx
from voice.hear.thresholds import DEFAULT


def orders(count: int) -> list[tuple[str, str, str, str, float]]:
    """Question, text, speaker, noise, ratio of every trial, in a fixed order of chance."""
    draw = random.Random(99)
    places: dict[str, list[str]] = {}
    for name, question in shipped().items():
        if question.asks in ("condition", "defect", "done", "reading", "choice") and name.startswith("condition"):
            for phrase in question.phrases:
                if phrase.meaning.kind == "defect":
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
    parser.add_argument("--audio", type=Path, default=Path(os.environ.get("GLADHAND_AUDIO", "../shared/audio")))
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "gladhand-hearing")
    chosen = parser.parse_args()
    part, parts = (int(number) for number in chosen.share.split("/"))
    out = chosen.work / f"safety-{part}-of-{parts}.jsonl"
    kept = [json.loads(line) for line in out.read_text().splitlines()] if out.exists() else []
    kept = [row for row in kept if row[6] != "heard"]  # done again: the thresholds may have become stricter
    out.write_text("".join(json.dumps(row) + "\n" for row in kept))
    done = {row[0] for row in kept}
    todo = [one for one in enumerate(orders(chosen.count)) if one[0] not in done][part - 1 :: parts]
    clips, moonshine, sphinx = Clips(chosen.work / "clips"), Moonshine(threads=1), Sphinx()
    named = {speaker.name: speaker for speaker in SPEAKERS}
    noises = {noise.name: noise for noise in NOISES}
    with out.open("a") as lines:
        for number, (name, text, speaker, noise, snr) in todo:
            random_ = np.random.default_rng(number)
            speech = clips.get(named[speaker], text)
            heard, end = scene(speech, noises[noise], snr, chosen.audio, random_)
            audio = heard[max(0, round(end * RATE) - len(speech) - 6400) : round(end * RATE) + 3200]
            question = shipped()[name]
            phrases = list(question.meanings)
            judged = moonshine.judge(audio, [*phrases, *decoys(phrases)])
            groups = grouped(question, judged.scores)
            best = max(groups.values(), default=0.0)
            reach = DEFAULT.sphinx_weight * -DEFAULT.sphinx_floor
            near = any(m is not None and m.kind == "ok" and value > best - reach for m, value in groups.items())
            outcome, meant, sure = "not ok", "", 0.0
            if near:
                likely = [one for one in judged.scores if one in question.meanings][:12]
                favourite = [item.text for item in sphinx.score(audio, phrases)]
                second = sphinx.score(audio, list(dict.fromkeys([*likely, *favourite])))
                start = round(end * RATE) - len(speech)
                before = [level(heard[at : at + BLOCK]) for at in range(0, start - BLOCK, BLOCK)]
                blocks = [audio[at : at + BLOCK] for at in range(0, len(audio) - BLOCK, BLOCK)]
                ratio = snr_db(blocks, float(np.median(before)))
                decision = decide(question, judged, second, ratio)
                if decision.phrase and decision.phrase.meaning.kind == "ok":
                    outcome, meant, sure = decision.outcome, decision.phrase.text, decision.confidence
            row = [number, name, text, speaker, noise, snr, outcome, meant, round(sure, 3), judged.free]
            lines.write(json.dumps(row) + "\n")
            lines.flush()
    rows = [json.loads(line) for file in chosen.work.glob("safety-*.jsonl") for line in file.read_text().splitlines()]
    taken = [row for row in rows if row[6] == "heard"]
    doubted = [row for row in rows if row[6] == "unsure"]
    print(f"{len(rows)} defects said in noise: {len(taken)} taken as OK, {len(doubted)} asked back as OK")
    for row in taken + doubted:
        print(*row[1:])


if __name__ == "__main__":
    main()
