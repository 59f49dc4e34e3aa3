"""Our weights as a folder that the runtime ctranslate2 loads, so that our arithmetic can be held against it.

The file: CTranslate2's binary model, version 6: unsigned little-endian numbers; texts as a 2-byte length with the
closing zero; name and revision of the model; then each array as name, rank, shape, type, bytes, data; then aliases.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

Array = np.ndarray[Any, Any]
_TYPES = {"<f4": 0, "|i1": 1, "<i2": 2}
_SHORT = ("num_heads", "alignment_heads", "alignment_layer")


def write_model(packed: Mapping[str, Array], folder: Path) -> tuple[int, int]:
    """Gives the numbers of the tokens that begin a text."""
    arrays = {name: _typed(name, array) for name, array in packed.items() if name.startswith(("encoder/", "decoder/"))}
    words = arrays["decoder/embeddings/weight"]
    arrays["decoder/embeddings/weight"] = np.concatenate([words, packed["start"].astype("<f4")])
    parts = [struct.pack("<I", 6), _text("WhisperSpec"), struct.pack("<II", 3, len(arrays))]
    for name, array in arrays.items():
        shape = struct.pack(f"<B{array.ndim}I", array.ndim, *array.shape)
        parts += [_text(name), shape, struct.pack("<BI", _TYPES[array.dtype.str], array.nbytes), array.tobytes()]
    parts += [struct.pack("<I", 1), _text("decoder/projection/weight"), _text("decoder/embeddings/weight")]
    (folder / "model.bin").write_bytes(b"".join(parts))
    pieces = [f"piece{number}" for number in range(len(words) - 1)]
    tokens = [*pieces, "<|endoftext|>", "<|startoftranscript|>", "<|notimestamps|>"]
    (folder / "vocabulary.txt").write_text("".join(token + "\n" for token in tokens))
    settings = {"suppress_ids": [], "suppress_ids_begin": [], "alignment_heads": [[1, 0]], "lang_ids": []}
    (folder / "config.json").write_text(json.dumps(settings))
    return len(words), len(words) + 1


def _typed(name: str, array: Array) -> Array:
    if array.ndim:
        return array.astype("<f4")
    return array.astype("<i2" if name.endswith(_SHORT) else "|i1")


def _text(value: str) -> bytes:
    raw = value.encode() + b"\0"
    return struct.pack("<H", len(raw)) + raw
