"""Speech of the neural synthesizer, made on a GPU and packed: stock voices and mixtures of two of their styles.

    python models/training/neural.py DATA OUT --seconds 180 [--most 80000]

DATA: a folder with texts.json (of texts.py) and, of fetch_neural.py, the ONNX model in parts (kokoro-1.bin ...),
vocab.json (its numbers of signs) and voices/*.bin (rows of 256 float32: the style for each number of tokens). No real
person is imitated. The voices of split.NEURAL_KEPT are left out; --kept speaks only those, to measure.
"""

from __future__ import annotations

import argparse
import json
import random
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from bundle import Clip, trimmed, write
from kokoro import FRAME, RATE, ROUND, Kokoro, weights_of
from numpy.typing import NDArray
from split import NEURAL_KEPT

BATCH_SECONDS = 120.0  # of sound at a time


@dataclass(frozen=True, slots=True)
class Order:
    """One text to speak. tokens: with the 0 at both ends. style: (256,). speed: 1 is the voice's own."""

    text: str
    voice: str
    tokens: tuple[int, ...]
    style: NDArray[np.float32]
    speed: float


class Cast:
    """Draws who says what. data: the folder. kept: with only the voices that are left out else."""

    def __init__(self, data: Path, seed: int, *, kept: bool) -> None:
        self._draw = random.Random(seed)
        lines = json.loads((data / "texts.json").read_text())
        self._groups, self._shares, self._ipa = lines["groups"], lines["shares"], lines["ipa"]
        self._vocab = json.loads((data / "vocab.json").read_text())["vocab"]
        files = {path.stem: path for path in sorted((data / "voices").glob("*.bin"))}
        chosen = [name for name in files if (name in NEURAL_KEPT) == kept]
        self._styles = {name: np.fromfile(files[name], np.float32).reshape(-1, 256) for name in chosen}
        self._english = [name for name in chosen if name[0] in "ab"]
        self._others = [name for name in chosen if name[0] not in "ab"] or self._english

    def order(self) -> Order:
        draw = self._draw
        text = draw.choice(self._groups[draw.choices(list(self._shares), list(self._shares.values()))[0]])
        u = draw.random()
        if u < 0.35:
            names = [draw.choice(self._english)]
        elif u < 0.45:
            names = [draw.choice(self._others)]
        else:
            names = (
                draw.sample(self._english, 2) if u < 0.8 else [draw.choice(self._english), draw.choice(self._others)]
            )
        said = self._ipa["en-gb" if names[0][0] == "b" else "en-us"][text]
        if draw.random() < 0.2:
            said = said.rstrip(".")
        tokens = (0, *(self._vocab[sign] for sign in said if sign in self._vocab), 0)
        share = draw.uniform(0.25, 0.75)
        rows = [self._styles[name][min(len(tokens) - 2, len(self._styles[name]) - 1)] for name in names]
        style = rows[0] if len(rows) == 1 else share * rows[0] + (1 - share) * rows[1]
        speed = draw.choice((0.75, 0.85, 0.95, 1.0, 1.0, 1.1, 1.2, 1.35, 1.5))
        return Order(text, "neural:" + "+".join(names), tokens, style.astype(np.float32), speed)


def speak(model: Kokoro, orders: list[Order], device: str) -> Iterator[Clip]:
    """All of them, in the order that suits the batches."""
    by_count: dict[int, list[Order]] = defaultdict(list)
    for order in orders:
        by_count[len(order.tokens)].append(order)
    planned: dict[int, list[tuple[Order, torch.Tensor, torch.Tensor, torch.Tensor]]] = defaultdict(list)
    for some in by_count.values():
        for at in range(0, len(some), 256):
            part = some[at : at + 256]
            tokens, style = _tensors(part, device)
            speed = torch.tensor([order.speed for order in part], device=device)
            frames, prosody, letters = model.plan(tokens, style, speed)
            total = frames.sum(1)
            frames[:, -1] += (-total) % ROUND
            for order, *row, length in zip(part, frames, prosody, letters, (frames.sum(1)).tolist(), strict=True):
                planned[length].append((order, *row))
    for length, rows in planned.items():
        size = max(1, int(BATCH_SECONDS / (length * FRAME / RATE)))
        for at in range(0, len(rows), size):
            yield from _sounds(model, rows[at : at + size], device)


def _sounds(
    model: Kokoro, rows: list[tuple[Order, torch.Tensor, torch.Tensor, torch.Tensor]], device: str
) -> Iterator[Clip]:
    """Of texts that take the same number of frames; those of fewer tokens are filled up with tokens of no length."""
    longest = max(len(row[1]) for row in rows)
    parts = []
    for at in (1, 2, 3):
        sized = [
            torch.nn.functional.pad(row[at], (0,) * (2 * (row[at].dim() - 1)) + (0, longest - len(row[at])))
            for row in rows
        ]
        parts.append(torch.stack(sized))
    _, style = _tensors([row[0] for row in rows], device, styles_only=True)
    sound = model.sound(*parts, style)
    spectrum = torch.fft.rfft(sound)  # to 16 kHz
    count = sound.shape[1] * 2 // 3
    sound = torch.fft.irfft(spectrum[:, : count // 2 + 1], count) * (2 / 3)
    for (order, *_), audio in zip(rows, sound.float().cpu().numpy(), strict=True):
        samples = trimmed(audio) if np.isfinite(audio).all() else None
        if samples is not None and len(samples) > 2400:
            yield Clip(samples, order.text, order.voice)


def _tensors(orders: list[Order], device: str, *, styles_only: bool = False) -> tuple[torch.Tensor, torch.Tensor]:
    style = torch.from_numpy(np.stack([order.style for order in orders])).to(device)
    tokens = torch.zeros(0) if styles_only else torch.tensor([order.tokens for order in orders], device=device)
    return tokens, style


def main() -> None:
    parser = argparse.ArgumentParser(description="Speaks the texts with the neural synthesizer.")
    parser.add_argument("data", type=Path, help="folder of texts.py and fetch_neural.py")
    parser.add_argument("out", type=Path, help="folder for the speech: 2 GB")
    parser.add_argument("--seconds", type=float, default=180, help="how long it may take")
    parser.add_argument("--most", type=int, default=80_000, help="clips")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kept", action="store_true", help="only the voices that are never learnt from, to measure")
    parser.add_argument("--device", default="cuda", help="or cpu, to try it")
    chosen = parser.parse_args()
    begun = time.monotonic()
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    chosen.out.mkdir(parents=True, exist_ok=True)
    whole = chosen.out / "kokoro.onnx"
    if not whole.exists():
        whole.write_bytes(b"".join(path.read_bytes() for path in sorted(chosen.data.glob("kokoro-*.bin"))))
    model = Kokoro(weights_of(whole), chosen.device)
    cast, clips = Cast(chosen.data, chosen.seed, kept=chosen.kept), []
    print(f"ready after {time.monotonic() - begun:.0f} s", flush=True)
    while time.monotonic() - begun < chosen.seconds and len(clips) < chosen.most:
        clips += speak(model, [cast.order() for _ in range(min(4000, chosen.most - len(clips) + 1))], chosen.device)
        hours = sum(len(clip.samples) for clip in clips) / 16_000 / 3600
        print(f"{len(clips)} clips, {hours:.2f} h, {time.monotonic() - begun:.0f} s", flush=True)
    write(chosen.out, "neural-kept" if chosen.kept else "neural", clips, raw=True)


if __name__ == "__main__":
    main()
