"""The only place that loads onnxruntime, since it must be told beforehand to keep to itself.

By default onnxruntime (seen with 1.32 on Linux) looks up its maker's collector of usage data and writes a device's
number and a queue of events below the user's cache folder, as soon as it is loaded. Its own function that turns this
off comes too late for that; the variable in its environment stops all of it (see tests/trust/test_nothing_leaves.py).
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from voice.errors import SetupError

SILENCED = {"ORT_DISABLE_TELEMETRY": "1"}


def runtime() -> Any:
    """The module onnxruntime, which sends nothing. Raises SetupError if it cannot be loaded."""
    os.environ.update(SILENCED)
    try:
        import onnxruntime
    except (ImportError, OSError) as error:
        raise SetupError(
            f"The program that runs a speech model cannot be loaded: {error}.",
            "Run: pip install --force-reinstall onnxruntime",
        ) from error
    return onnxruntime


def open_model(file: Path, *, threads: int) -> Any:
    """A model of onnxruntime's, on so many threads. Raises SetupError if it cannot be loaded."""
    onnxruntime = runtime()
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")  # leave the cores to the rest
    try:
        return onnxruntime.InferenceSession(str(file), options)
    except Exception as error:  # onnxruntime's own exceptions share no base
        raise SetupError(f"The speech model {file} cannot be loaded: {error}", "Reinstall it.") from error
