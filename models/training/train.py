"""Trains the model on a GPU.

    python models/training/train.py DATA... OUT --name NAME --minutes 8 [--near 0.3] [--rate 2e-4] [--without 0.1]
        [--start EAR.npz] [--margin 3] [--seed 1]

DATA: folders with tables.npz and packed clips (recorded.py, speak.py, neural.py); one kind may be in several. In OUT:
NAME.npz, the weights, averaged over the last part of the training, and NAME.json, what was asked for and how the losses
fell.

--start: of a model of ours, instead of the untouched one. --margin: nats by which the true text should be ahead of its
rivals, so that a small lead is not yet enough.

Losses: how well the decoder writes the text; how well the second head spells it; for each of the two, the true text
against its rivals (list-wise: the nearest by sound, others, and nothing); and, for recordings of people, how far the
encoder's view of the noisy sound is from the untouched encoder's view of the clean one.
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import sys
import time
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from bundle import read
from net import Net, likelihood, spelt
from torch import Tensor
from yard import Store, Yard

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

SHARES = {"neural": 0.50, "commands": 0.20, "digits": 0.07, "made": 0.15, "talk": 0.08}
LONGEST_S = 3.3
SILENT = 0.04  # share of clips that are nothing but noise
OKAYS = 0.25  # share of words of okay among the rivals that are not near: nothing must be taken for them
KEEP = 0.004  # share of the newest weights in the average
NOISES = {"esc10/helicopter": 4, "esc10/sea_waves": 4, "gsc_background/doing_the_dishes": 4}


@dataclass(frozen=True, slots=True)
class Tables:
    """Of tables.npz, on the device.

    tokens, sounds: (texts, longest).
    near: (texts, rivals), the nearest by sound.
    okays: numbers of the words of okay, yes, done and the like.
    """

    texts: list[str]
    tokens: Tensor
    token_counts: Tensor
    sounds: Tensor
    sound_counts: Tensor
    near: Tensor
    okays: Tensor

    @classmethod
    def of(cls, path: Path, device: str, ear: Path | None = None) -> tuple[Tables, Net]:
        """ear: where the weights are, if not in the tables."""
        file = np.load(path)
        rows = [
            torch.from_numpy(file[n]).long().to(device)
            for n in ("tokens", "token_counts", "sounds", "sound_counts", "near", "okays")
        ]
        weights = {name[2:]: file[name] for name in file.files if name.startswith("w:")}
        if ear:
            from voice.hear.weights import read_weights

            weights, _ = read_weights(ear)
        net = Net(weights, len(json.loads(str(file["names"]))))
        return cls(json.loads(str(file["texts"])), *rows), net.to(device)


class Lessons:
    """Batches. without: share of the answers (chosen by their text) that are never said, to see how new ones fare."""

    def __init__(self, folders: list[Path], tables: Tables, device: str, without: float) -> None:
        index = {text: at for at, text in enumerate(tables.texts)}
        self.device = device
        clips, groups, texts = [], [], []
        for name in SHARES:
            for clip in (one for f in folders if (f / f"{name}.json").exists() for one in read(f, name)):
                known = not clip.text or (clip.text in index and not left_out(clip.text, without))
                if known and 1200 < len(clip.samples) < LONGEST_S * 16_000 * (1.0 if clip.text else 1.6):
                    clips.append(clip.samples)
                    groups.append(name)
                    texts.append(index[clip.text] if clip.text else -1)
        noises = next(read(f, "noise") for f in folders if (f / "noise.json").exists())
        weights = torch.tensor([NOISES.get(one.text, 1 if "/" in one.text else 1 / 3) for one in noises], device=device)
        self.yard = Yard(Store.of(clips, device), Store.of([one.samples for one in noises], device), weights)
        self._texts = torch.tensor(texts, device=device)
        kinds = np.array(groups)
        self._of = {
            name: torch.tensor(np.flatnonzero(kinds == name), device=device) for name in SHARES if name in groups
        }
        lengths = np.array([len(clip) for clip in clips])
        print(
            {name: (len(at), f"{lengths[at.cpu().numpy()].sum() / 57.6e6:.2f} h") for name, at in self._of.items()},
            flush=True,
        )

    def batch(self, size: int) -> tuple[Tensor, Tensor, Tensor, Tensor, Tensor]:
        """Noisy audio, clean audio, text numbers (-1: not known), whether a person, snr."""
        total = sum(SHARES[name] for name in self._of)
        counts = [round(size * SHARES[name] / total) for name in self._of]
        counts[0] += size - sum(counts)
        picked = [
            at[torch.randint(len(at), (n,), device=self.device)]
            for at, n in zip(self._of.values(), counts, strict=True)
        ]
        person = torch.cat(
            [torch.full((n,), name in ("commands", "digits", "talk")) for name, n in zip(self._of, counts, strict=True)]
        )
        which = torch.cat(picked)
        silent = torch.rand(size, device=self.device) < SILENT
        heard = self.yard.hear(which, silent)
        texts = torch.where(silent, 0, self._texts[which])
        return heard.audio, heard.clean, texts, person.to(self.device) & ~silent, heard.snr


def left_out(text: str, share: float) -> bool:
    """Single words and numbers are in too many others to be left out."""
    return share > 0 and " " in text and zlib.crc32(text.encode()) % 1000 < 1000 * share


def rivals(tables: Tables, texts: Tensor, count: int) -> tuple[Tensor, Tensor]:
    """Texts to choose among, the true one first and "nothing" next: (batch, count), and which of them count."""
    batch, device = len(texts), texts.device
    close = (count - 2) * 3 // 5
    hard = torch.rand(batch, close, device=device) < 0.5
    reach = torch.where(hard, 12, tables.near.shape[1])
    chosen = tables.near[texts[:, None], (torch.rand(batch, close, device=device) * reach).long()]
    other = torch.randint(1, len(tables.texts), (batch, count - 2 - close), device=device)
    okay = tables.okays[torch.randint(len(tables.okays), other.shape, device=device)]
    other = torch.where(torch.rand(other.shape, device=device) < OKAYS, okay, other)
    every = torch.cat([texts[:, None], torch.zeros_like(texts)[:, None], chosen, other], 1)
    alike = (tables.sounds[every] == tables.sounds[texts][:, None]).all(-1)
    alike[:, 0] = False
    return every, ~alike


def masked(features: Tensor) -> Tensor:
    """A band of the features blotted out in three of ten clips."""
    batch, bands = features.shape[:2]
    low = torch.randint(0, bands - 8, (batch, 1), device=features.device)
    wide = torch.randint(0, 9, (batch, 1), device=features.device) * (
        torch.rand(batch, 1, device=features.device) < 0.3
    )
    band = torch.arange(bands, device=features.device)[None]
    hidden = (band >= low) & (band < low + wide)
    return torch.where(hidden[..., None], features.mean((1, 2), keepdim=True), features)


@dataclass(frozen=True, slots=True)
class Weighing:
    """How the losses are made.

    near: weight of the distance from the encoder that it started with.
    spell: weight of the second head's losses.
    texts: how many to choose among.
    margin: nats that every rival is granted.
    """

    near: float = 0.3
    spell: float = 0.5
    texts: int = 26
    margin: float = 0.0


def losses(
    net: Net, before: Net, tables: Tables, lesson: tuple[Tensor, ...], how: Weighing
) -> tuple[Tensor, dict[str, Tensor]]:
    audio, clean, texts, person, _ = lesson
    known = texts >= 0
    truth = texts.clamp(min=0)
    every, counts = rivals(tables, truth, how.texts)
    tokens = tables.tokens[every]
    tokens = tokens[..., : int(tables.token_counts[every].max())]
    hidden = net.encode(masked(net.mel(audio)))
    logits = net.decode(net.across(hidden), tokens)
    written = likelihood(logits, tokens, net.end)
    sounded = spelt(net.spell(hidden).float().log_softmax(-1), tables.sounds[every], tables.sound_counts[every])
    first = torch.zeros_like(truth)
    granted = torch.full_like(written, how.margin).masked_fill(~counts, -1e4)
    granted[:, 0] = 0

    def mean(value: Tensor, mask: Tensor) -> Tensor:
        return (value * mask).sum() / mask.sum().clamp(min=1)

    parts = {
        "write": mean(-written[:, 0] / (tables.token_counts[truth] + 1), known),
        "spell": mean(-sounded[:, 0] / (tables.sound_counts[truth] + 2), known),
        "choose": mean(F.cross_entropy(written + granted, first, reduction="none"), known),
        "choose by spelling": mean(F.cross_entropy(sounded + granted, first, reduction="none"), known),
    }
    total = 0.5 * parts["write"] + parts["choose"] + how.spell * (parts["spell"] + parts["choose by spelling"])
    if how.near:
        with torch.no_grad():
            wanted = before.encode(before.mel(clean))
        power = clean[:, : hidden.shape[1] * 320].unflatten(1, (-1, 320)).square().mean(2)
        loud = (power > power.amax(1, keepdim=True) / 1000) & person[:, None]
        parts["near"] = mean((hidden.float() - wanted.float()).square().mean(-1), loud)
        total = total + how.near * parts["near"]
    parts["right"] = mean((written.masked_fill(~counts, -1e4).argmax(1) == 0).float(), known)
    return total, parts


def pace(share: float, step: int) -> float:
    """Of the learning rate: up for 150 steps, then down along a cosine."""
    return min(1.0, step / 150) * (0.03 + 0.97 * 0.5 * (1 + math.cos(math.pi * min(1.0, share))))


def train(
    net: Net, tables: Tables, lessons: Lessons, how: Weighing, chosen: argparse.Namespace
) -> Iterator[dict[str, float]]:
    """One row of averaged losses every 50 steps. At the end the net has its averaged weights."""
    before = copy.deepcopy(net).requires_grad_(False)
    new, old = list(net.spell.parameters()), [p for name, p in net.named_parameters() if not name.startswith("spell")]
    old = [p for p in old if p.requires_grad]
    rates = (chosen.rate, 1e-3)
    optimizer = torch.optim.AdamW(
        [{"params": p, "lr": r} for p, r in zip((old, new), rates, strict=True)], betas=(0.9, 0.98), weight_decay=0.01
    )
    begun, step, sums, average = time.monotonic(), 0, {}, None
    while (share := (time.monotonic() - begun) / 60 / chosen.minutes) < 1 and step < chosen.steps:
        for group, rate in zip(optimizer.param_groups, rates, strict=True):
            group["lr"] = rate * pace(share, step)
        with torch.no_grad():
            lesson = lessons.batch(chosen.batch)
        with torch.autocast(lessons.device, torch.bfloat16, enabled=lessons.device == "cuda"):
            total, parts = losses(net, before, tables, lesson, how)
        optimizer.zero_grad(set_to_none=True)
        total.backward()
        if torch.isfinite(torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)):
            optimizer.step()
        step += 1
        for name, value in parts.items():
            sums[name] = sums.get(name, 0.0) + value.detach()
        if share > 0.35:
            with torch.no_grad():
                now = {name: p for name, p in net.named_parameters() if p.requires_grad}
                average = average or {name: p.detach().clone() for name, p in now.items()}
                for name, p in now.items():
                    average[name].lerp_(p, KEEP)
        if step % 50 == 0:
            yield {"step": step, "seconds": round(time.monotonic() - begun)} | {
                k: round(float(v) / 50, 4) for k, v in sums.items()
            }
            sums = {}
    if average:
        with torch.no_grad():
            for name, p in net.named_parameters():
                if name in average:
                    p.copy_(average[name])


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--name", default="ear")
    parser.add_argument("--minutes", type=float, default=8)
    parser.add_argument("--steps", type=int, default=1_000_000)
    parser.add_argument("--batch", type=int, default=320)
    parser.add_argument("--texts", type=int, default=26)
    parser.add_argument("--rate", type=float, default=2e-4)
    parser.add_argument("--start", type=Path)
    parser.add_argument("--margin", type=float, default=0.0)
    parser.add_argument("--near", type=float, default=0.3)
    parser.add_argument("--spell", type=float, default=0.5)
    parser.add_argument("--without", type=float, default=0.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--device", default="cuda")
    chosen = parser.parse_args()
    torch.manual_seed(chosen.seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    *folders, out = chosen.folders
    found = next(f / "tables.npz" for f in folders if (f / "tables.npz").exists())
    tables, net = Tables.of(found, chosen.device, chosen.start)
    lessons = Lessons(folders, tables, chosen.device, chosen.without)
    rows = []
    how = Weighing(chosen.near, chosen.spell, chosen.texts, chosen.margin)
    for row in train(net, tables, lessons, how, chosen):
        rows.append(row)
        if len(rows) % 4 == 0 or chosen.steps < 100:
            print(row, flush=True)
    out.mkdir(parents=True, exist_ok=True)
    learnt = {name: value.astype(np.float16) for name, value in net.exported().items()}
    np.savez(out / f"{chosen.name}.npz", **learnt)
    asked = {name: str(value) for name, value in vars(chosen).items()}
    (out / f"{chosen.name}.json").write_text(json.dumps({"asked": asked, "rows": rows}))


if __name__ == "__main__":
    main()
