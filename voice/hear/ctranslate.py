"""The file of a model made for CTranslate2.

Binary, version 6: unsigned little-endian numbers; texts as a 2-byte length with the closing zero; name and revision of
the model; then each array as name, rank, shape, type, bytes, data; then aliases.
"""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from voice.hear.transformer import Floats

_TYPES = {0: "<f4", 1: "i1", 2: "<i2", 3: "<i4", 4: "<f2"}


def read_arrays(path: Path) -> dict[str, Floats]:
    """All arrays of a CTranslate2 model file as float32. Raises ValueError, struct.error on another kind of file."""
    data = path.read_bytes()
    at = 0

    def number(form: str) -> int:
        nonlocal at
        value: int = struct.unpack_from("<" + form, data, at)[0]
        at += struct.calcsize("<" + form)
        return value

    def text() -> str:
        nonlocal at
        length = number("H")
        at += length
        return data[at - length : at - 1].decode()

    version, name, revision = number("I"), text(), number("I")
    if (version, name) != (6, "WhisperSpec") or revision < 3:
        raise ValueError(f"{path.name} is not a Whisper model of the expected version")
    arrays: dict[str, Floats] = {}
    for _ in range(number("I")):
        key = text()
        shape = [number("I") for _ in range(number("B"))]
        kind, size = _TYPES[number("B")], number("I")
        values = np.frombuffer(data, kind, size // np.dtype(kind).itemsize, at)
        arrays[key] = values.reshape(shape).astype(np.float32)
        at += size
    return arrays
