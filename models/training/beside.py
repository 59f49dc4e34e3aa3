"""What the first engine, untouched, makes of the packed trials, in the layout of score.py; and both together.

    python models/training/beside.py DATA first.npz                   scores of the first engine
    python models/training/beside.py DATA first.npz OURS.npz          tables of both, decoys competing

Weights and the decoys' handicap are chosen on the "tune" trials and then used on "held".
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from scenes import Scenes, who

REACH = 10.0  # nats below its best that count, as in voice/hear/thresholds.py

Floats = NDArray[np.float32]


@cache
def _engine(folder: Path) -> tuple[Any, Scenes]:
    from voice.hear.moonshine import Moonshine

    return Moonshine(threads=1), Scenes(folder)


def judged(folder: Path, numbers: list[int]) -> list[Floats]:
    """For each trial: nothing (no score of its own: the floor), phrases, decoys."""
    engine, scenes = _engine(folder)
    found = []
    for number in numbers:
        row = scenes.rows[number]
        question = scenes.questions[row["question"]]
        texts = [*question["phrases"], *question["decoys"]]
        scores = engine.judge(scenes.audio(row), texts).scores
        floor = max(scores.values(), default=0.0) - REACH
        found.append(np.array([floor, *(max(scores.get(text, floor), floor) for text in texts)], np.float32))
    return found


def load(path: Path) -> list[Floats]:
    file = np.load(path)
    scores, ends = np.atleast_2d(file["scores"]).astype(np.float32), np.cumsum(file["counts"])
    return [scores[:, end - count : end] for end, count in zip(ends, file["counts"], strict=True)]


def meanings(question: dict[str, Any], values: Floats, handicap: float) -> Floats:
    """The log-sum of what means the same; last of all that is no answer."""
    count = len(question["phrases"])
    out = np.full(max(question["meant"]) + 2, -1e9)
    np.logaddexp.at(out, np.array(question["meant"]), values[1 : count + 1].astype(np.float64))
    out[-1] = np.logaddexp.reduce([values[0], *values[count + 1 :]]) - handicap
    return out.astype(np.float32)


def compare(scenes: Scenes, first: list[Floats], ours: list[Floats]) -> None:
    ways = {"first": (0, 0, 1), "ours": (1, 0, 0), "ours, both heads": (0.6, 0.4, 0)}
    grid = list(product((1, 0.6), (0, 0.4), (0.3, 0.6, 1.0)))
    handicaps = (0.0, 2.0, 4.0, 6.0)
    right: dict[Any, NDArray[np.int64]] = defaultdict(lambda: np.zeros(2, np.int64))
    options = [*ways.values(), *grid]
    for row, one, other in zip(scenes.rows, first, ours, strict=True):
        if row["kind"] in ("strange", "noise"):
            continue
        question = scenes.questions[row["question"]]
        truth = question["meant"][question["phrases"].index(row["text"])]
        snr = "quiet" if row["snr"] is None else f"{row['snr']:g} dB"
        for handicap in handicaps:
            parts = [meanings(question, values, handicap) for values in (*other, one[0])]
            parts = [np.maximum(part, part.max() - 3 * REACH) for part in parts]
            for option in options:
                good = int(sum(w * part for w, part in zip(option, parts, strict=True)).argmax()) == truth
                for key in ("all", who(row)):
                    right[row["group"], key, snr, option, handicap] += (good, 1)
    for name, some in (*((name, [option]) for name, option in ways.items()), ("together", grid)):

        def tuned(pair: tuple[Any, float]) -> int:
            return sum(int(v[0]) for k, v in right.items() if k[0] == "tune" and k[1] == "all" and k[3:] == pair)

        option, handicap = max(product(some, handicaps), key=tuned)
        print(f"{name}: weights {option}, handicap {handicap}")
        for key in ("all", "people", "digits by phone", "neural", "made"):
            cells = [right["held", key, snr, option, handicap] for snr in ("quiet", "20 dB", "10 dB", "5 dB", "0 dB")]
            print("  ", key, *(f"{100 * c[0] / max(1, c[1]):.1f} of {c[1]}" for c in cells))


def main() -> None:
    parser = argparse.ArgumentParser(description="Scores the trials with the first engine, or compares it with ours.")
    parser.add_argument("folder", type=Path, help="DATA, with the packed trials of trials.py")
    parser.add_argument("first", type=Path, help="scores of the first engine: written, or read if OURS is given")
    parser.add_argument("ours", type=Path, nargs="?", help="scores of score.py: prints tables of both")
    chosen = parser.parse_args()
    scenes = Scenes(chosen.folder)
    if chosen.ours:
        compare(scenes, load(chosen.first), load(chosen.ours))
        return
    shares = [list(range(start, len(scenes.rows), 16)) for start in range(16)]
    with ProcessPoolExecutor(16) as pool:
        parts = list(pool.map(judged, [chosen.folder] * 16, shares))
    found = {
        n: values for share, part in zip(shares, parts, strict=True) for n, values in zip(share, part, strict=True)
    }
    every = [found[n] for n in range(len(scenes.rows))]
    np.savez_compressed(chosen.first, scores=np.concatenate(every).astype(np.float16), counts=[len(v) for v in every])


if __name__ == "__main__":
    main()
