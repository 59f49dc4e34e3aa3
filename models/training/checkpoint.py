"""Packs what was trained into the file that the program loads: weights as float16, and the pieces that were kept.

python models/training/checkpoint.py TRAINED.npz TABLES.npz OUT.npz
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from start import vocabulary


def pack(trained: Path, tables: Path, out: Path) -> None:
    whole = vocabulary().pieces
    pieces = [whole[number] for number in np.load(tables)["kept"]]
    file = np.load(trained)
    arrays = {name: file[name].astype(np.float16) for name in file.files}
    arrays["pieces"] = np.frombuffer(b"".join(pieces), np.uint8)
    arrays["piece_lengths"] = np.array([len(piece) for piece in pieces], np.uint8)
    np.savez(out, **arrays)


if __name__ == "__main__":
    pack(*map(Path, sys.argv[1:4]))
