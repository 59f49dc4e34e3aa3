"""Measures a model on the packed trials (trials.py): scores of all phrases of each trial's question, and how often the
best guess is right.

    python models/training/score.py DATA WEIGHTS.npz OUT.npz [--mix 0.8] [--limit 1000] [--start]

WEIGHTS: of train.py. --mix: that share of them and the rest of the untouched model's. --start: the untouched model.
OUT: for each trial the log-likelihood by the decoder (row 0) and by the second head (row 1) of nothing, the phrases and
the decoys, in the order of the question's lists. What is printed: trials; right among the phrases by decoder, second
head, both; right when decoys compete, too.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import torch
from bundle import RATE
from net import Net, likelihood, spelt
from numpy.typing import NDArray
from scenes import Scenes, who
from train import Tables

Floats = NDArray[np.float32]
AT_ONCE = 512  # texts
HANDICAP = 2.0  # nats off what is no answer


@torch.no_grad()
def scores(net: Net, tables: Tables, audio: Floats, texts: torch.Tensor) -> NDArray[np.float32]:
    """(2, texts)."""
    device = texts.device
    filled = np.zeros(max(int(3.5 * RATE), -(-len(audio) // 320) * 320), np.float32)
    filled[: len(audio)] = audio
    with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
        hidden = net.encode(net.mel(torch.from_numpy(filled).to(device)[None]))
        cross, heard = net.across(hidden), net.spell(hidden).float().log_softmax(-1)
        parts = []
        for some in texts.split(AT_ONCE):
            tokens = tables.tokens[some][None, :, : int(tables.token_counts[some].max())]
            written = likelihood(net.decode(cross, tokens), tokens, net.end)
            sounded = spelt(heard, tables.sounds[some][None], tables.sound_counts[some][None])
            parts.append(torch.cat([written, sounded]))
    out: NDArray[np.float32] = torch.cat(parts, 1).float().cpu().numpy()
    return out


def guess(question: dict[str, Any], values: Floats, *, decoys: bool) -> int | None:
    """The number of the best meaning, None for nothing and decoys. values: of nothing, phrases and decoys."""
    found: dict[int | None, float] = {}
    count = len(question["phrases"])
    for meaning, value in zip(question["meant"], values[1 : count + 1], strict=True):
        found[meaning] = float(np.logaddexp(found.get(meaning, -np.inf), value))
    if decoys:
        found[None] = float(np.logaddexp.reduce([values[0], *values[count + 1 :]])) - HANDICAP
    return max(found, key=lambda meaning: found[meaning])


def table(rows: list[dict[str, Any]], questions: dict[str, dict[str, Any]], found: list[Floats]) -> None:
    right: dict[tuple[str, str, str], list[int]] = defaultdict(lambda: [0] * 5)
    for row, values in zip(rows, found, strict=True):
        if row["kind"] in ("strange", "noise"):
            continue
        question = questions[row["question"]]
        truth = question["meant"][question["phrases"].index(row["text"])]
        both = 0.6 * values[0] + 0.4 * values[1]
        guesses = [guess(question, v, decoys=False) for v in (values[0], values[1], both)]
        guesses.append(guess(question, values[0], decoys=True))
        for key in ("all", who(row)):
            line = right[row["group"], key, "quiet" if row["snr"] is None else f"{row['snr']:g} dB"]
            line[0] += 1
            for at, one in enumerate(guesses):
                line[at + 1] += one == truth
    order = ("quiet", "20 dB", "10 dB", "5 dB", "0 dB")
    for group, key, snr in sorted(right, key=lambda k: (k[0], k[1], order.index(k[2]))):
        count, *good = right[group, key, snr]
        print(group, key, snr, count, *(f"{100 * n / count:.1f}" for n in good), flush=True)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("data", type=Path)
    parser.add_argument("weights", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--mix", type=float, default=1.0)
    parser.add_argument("--limit", type=int, default=100_000)
    parser.add_argument("--start", action="store_true")
    parser.add_argument("--device", default="cuda")
    chosen = parser.parse_args()
    tables, net = Tables.of(chosen.data / "tables.npz", chosen.device)
    if not chosen.start:
        file = np.load(chosen.weights)
        state = {f"w.{name.replace('/', '|')}": file[name] for name in file.files if not name.startswith("spell")}
        state |= {name.replace("/", "."): file[name] for name in file.files if name.startswith("spell")}
        new = {name: torch.from_numpy(value).float().to(chosen.device) for name, value in state.items()}
        old = net.state_dict()
        mixed = {n: v if n.startswith("spell") else chosen.mix * v + (1 - chosen.mix) * old[n] for n, v in new.items()}
        net.load_state_dict(mixed, strict=False)
    net.eval()
    scenes = Scenes(chosen.data)
    index = {text: at for at, text in enumerate(tables.texts)}
    rows = scenes.rows[: chosen.limit] if chosen.limit < len(scenes.rows) else scenes.rows
    texts = {
        name: torch.tensor([0, *(index[t] for t in (*q["phrases"], *q["decoys"]))], device=chosen.device)
        for name, q in scenes.questions.items()
    }
    with ThreadPoolExecutor(8) as pool:
        audio = list(pool.map(scenes.audio, rows))
    found = [scores(net, tables, sound, texts[row["question"]]) for sound, row in zip(audio, rows, strict=True)]
    table(rows, scenes.questions, found)
    np.savez_compressed(
        chosen.out, scores=np.concatenate(found, 1).astype(np.float16), counts=[v.shape[1] for v in found]
    )


if __name__ == "__main__":
    main()
