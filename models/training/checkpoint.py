"""Packs what was trained into the file that the program loads: the matrices as int8, the rest as float16.

    python models/training/checkpoint.py OUT.npz TRAINED.npz... --tables TABLES.npz [--mix 0.75]
    python models/training/checkpoint.py OUT.npz TRAINED.npz... --ours EAR.npz

Of several trained files the mean is packed: trainings that began with the same weights and saw other lessons. --tables:
of tables.py, for the pieces that were kept. --mix: that share of what was trained and the rest of the untouched
weights, which are in the tables, too. --ours: the model of ours that the training began with; its pieces are kept.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Weights = dict[str, NDArray[Any]]


def mean(files: Sequence[Mapping[str, NDArray[Any]]]) -> Weights:
    return {name: sum(file[name].astype(np.float32) for file in files) / len(files) for name in files[0]}


def mixed(trained: Weights, untouched: Mapping[str, NDArray[Any]], share: float) -> Weights:
    """share: of what was trained. The second head, which the untouched model lacks, stays as trained."""
    return {
        name: share * value + (1 - share) * untouched[name].astype(np.float32) if name in untouched else value
        for name, value in trained.items()
    }


def rounded(weights: Mapping[str, NDArray[Any]]) -> Weights:
    """Matrices as int8, each row in steps of its own; places, norms and biases as float16."""
    found: Weights = {}
    for name, value in weights.items():
        if value.ndim > 1 and len(value) > 2 and "position" not in name:
            rows = np.abs(value.reshape(len(value), -1)).max(axis=1)
            steps = (np.maximum(rows, 1e-8) / 127).astype(np.float32)
            found[name] = np.rint(value / steps.reshape(-1, *(1,) * (value.ndim - 1))).astype(np.int8)
            found[name + "/step"] = steps
        else:
            found[name] = value.astype(np.float16)
    return found


def pieces_of(tables: Path) -> Weights:
    from start import vocabulary

    whole = vocabulary().pieces
    pieces = [whole[number] for number in np.load(tables)["kept"]]
    lengths = np.array([len(piece) for piece in pieces], np.uint8)
    return {"pieces": np.frombuffer(b"".join(pieces), np.uint8), "piece_lengths": lengths}


def main() -> None:
    parser = argparse.ArgumentParser(description="Packs trained weights into the file that the program loads.")
    parser.add_argument("out", type=Path, help="the file to write")
    parser.add_argument("trained", type=Path, nargs="+", help="NAME.npz of train.py")
    start = parser.add_mutually_exclusive_group(required=True)
    start.add_argument("--tables", type=Path, help="tables.npz with the untouched weights")
    start.add_argument("--ours", type=Path, help="the model of ours that the training began with")
    parser.add_argument("--mix", type=float, default=1.0, help="share of what was trained; the rest is untouched")
    chosen = parser.parse_args()
    if chosen.ours and chosen.mix != 1:
        parser.error("--mix needs --tables: the untouched weights are there")
    weights = mean([dict(np.load(file)) for file in chosen.trained])
    if chosen.tables:
        file = np.load(chosen.tables)
        untouched = {name[2:]: file[name] for name in file.files if name.startswith("w:")}
        weights, pieces = mixed(weights, untouched, chosen.mix), pieces_of(chosen.tables)
    else:
        ours = np.load(chosen.ours)
        pieces = {name: ours[name] for name in ("pieces", "piece_lengths")}
    np.savez_compressed(chosen.out, **rounded(weights), **pieces)


if __name__ == "__main__":
    main()
