"""Reads the weights of our model: the model itself, and what it was taught later."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from voice.errors import SetupError
from voice.hear.tokens import Vocabulary, packed_vocabulary
from voice.hear.transformer import Floats


def read_weights(file: Path, further: Path | None) -> tuple[dict[str, Floats], Vocabulary]:
    """The weights by name, and the pieces that the model writes. Raises SetupError."""
    try:
        arrays, more = _arrays(file), {} if further is None else _arrays(further)
        vocabulary = packed_vocabulary(arrays.pop("pieces").tobytes(), arrays.pop("piece_lengths").tolist())
        return corrected(_floats(arrays), _floats(more)), vocabulary
    except (OSError, EOFError, ValueError, KeyError, RuntimeError, zipfile.BadZipFile, zlib.error) as error:
        # RuntimeError: a packing or an encryption that Python's zipfile does not know
        raise damaged(file, error) from error


def damaged(file: Path, error: Exception) -> SetupError:
    return SetupError(f"The speech model {file} cannot be loaded: {error}.", "Reinstall Gladhand.")


def _floats(arrays: Mapping[str, NDArray[Any]]) -> dict[str, Floats]:
    return {name: array.astype(np.float32) for name, array in arrays.items()}


def _arrays(file: Path) -> dict[str, NDArray[Any]]:
    with np.load(file) as packed:
        return {name: packed[name] for name in packed.files}


def corrected(weights: Mapping[str, Floats], further: Mapping[str, Floats]) -> dict[str, Floats]:
    """The weights with what was taught later.

    further: of a matrix NAME (out, in) a correction of low rank that is added, NAME/up (out, rank) times NAME/down
    (rank, in); of anything else what takes its place. Raises KeyError, ValueError if they do not belong together.
    """
    new = dict(weights)
    for name, value in further.items():
        matrix, _, part = name.rpartition("/")
        if part == "up":
            new[matrix] = new[matrix] + value @ further[f"{matrix}/down"]
        elif part != "down":
            if value.shape != weights[name].shape:
                raise ValueError(f"{name} is {value.shape} instead of {weights[name].shape}")
            new[name] = value
    return new
