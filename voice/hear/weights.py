"""Reads the weights of our model."""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from voice.errors import SetupError
from voice.hear.tokens import Vocabulary, packed_vocabulary
from voice.hear.transformer import Floats

STEP = "/step"  # a matrix of whole numbers NAME stands beside NAME/step: what one of them is worth, row by row


def read_weights(file: Path) -> tuple[dict[str, Floats], Vocabulary]:
    """The weights by name, and the pieces that the model writes. Raises SetupError."""
    try:
        with np.load(file) as packed:
            arrays = {name: packed[name] for name in packed.files}
        vocabulary = packed_vocabulary(arrays.pop("pieces").tobytes(), arrays.pop("piece_lengths").tolist())
        steps = {name.removesuffix(STEP): arrays.pop(name) for name in list(arrays) if name.endswith(STEP)}
        return {name: _floats(array, steps.get(name)) for name, array in arrays.items()}, vocabulary
    except (OSError, EOFError, ValueError, KeyError, RuntimeError, zipfile.BadZipFile, zlib.error) as error:
        # RuntimeError: a packing or an encryption that Python's zipfile does not know
        raise damaged(file, error) from error


def damaged(file: Path, error: Exception) -> SetupError:
    return SetupError(f"The speech model {file} cannot be loaded: {error}.", "Reinstall Gladhand.")


def _floats(array: NDArray[Any], steps: NDArray[Any] | None) -> Floats:
    """array: floats, or int8 with the steps of its rows. Raises ValueError."""
    floats = array.astype(np.float32)
    if steps is not None:
        if steps.shape != array.shape[:1]:
            raise ValueError(f"{steps.shape} steps for {array.shape} numbers")
        floats *= steps.astype(np.float32).reshape(-1, *(1,) * (array.ndim - 1))
    elif array.dtype == np.int8:
        raise ValueError("whole numbers without their steps")
    return floats
