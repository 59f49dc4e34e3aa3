"""Packs what was trained into one file: weights as float16, and the pieces of the vocabulary that were kept.

python models/training/checkpoint.py TRAINED.npz TABLES.npz OUT.npz
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from voice.hear.tokens import whisper_vocabulary
from voice.hear.whisper import model_folder


def pack(trained: Path, tables: Path, out: Path) -> None:
    whole = whisper_vocabulary(model_folder() / "vocabulary.txt").pieces
    pieces = [whole[number] for number in np.load(tables)["kept"]]
    file = np.load(trained)
    arrays = {name: file[name].astype(np.float16) for name in file.files}
    arrays["pieces"] = np.frombuffer(b"".join(pieces), np.uint8)
    arrays["piece_lengths"] = np.array([len(piece) for piece in pieces], np.uint8)
    np.savez(out, **arrays)


if __name__ == "__main__":
    pack(*map(Path, sys.argv[1:4]))
