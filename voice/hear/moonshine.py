"""The first engine: the English "tiny" model inside the wheel of moonshine-voice 0.1.0 (MIT).

Only the wheel's model files are used, by onnxruntime. How phrases are scored: transformer.py.
"""

from __future__ import annotations

import importlib.metadata
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from voice.hear import onnx
from voice.hear.tokens import moonshine_vocabulary
from voice.hear.transformer import Floats, Transformer, log_softmax
from voice.sound.port import Audio

LAYERS, HEADS, WIDTH = 6, 8, 36
START = 1
BEAM = 40
_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")


class Moonshine(Transformer):
    """Recognizer and Transcriber. Safe to use from several threads: one at a time is let in.

    folder: of the model's files, as voice.models.engines finds it.
    threads: of onnxruntime.
    beam: how many phrases are followed at a time.
    Raises SetupError if the files cannot be loaded.
    """

    name = "moonshine"

    def __init__(self, folder: Path, *, threads: int = 2, beam: int = BEAM) -> None:
        self._encoder = onnx.open_model(folder / _FILES[0], threads=threads)
        self._decoder = onnx.open_model(folder / _FILES[1], threads=threads)
        self.model = f"tiny-en of {importlib.metadata.version('moonshine-voice')}"
        self._outputs = [output.name for output in self._decoder.get_outputs()]
        super().__init__(moonshine_vocabulary(folder / _FILES[2]), beam=beam)

    def _encode(self, audio: Audio) -> Floats:
        feeds = {"input_values": audio[None], "attention_mask": np.ones((1, len(audio)), np.int64)}
        hidden: Floats = self._encoder.run(None, feeds)[0]
        return hidden

    def _start(self, hidden: Floats) -> tuple[Floats, dict[str, Floats]]:
        empty = {
            f"past_key_values.{layer}.{side}.{kind}": np.zeros(
                (1, HEADS, 0 if side == "decoder" else hidden.shape[1], WIDTH), np.float32
            )
            for layer in range(LAYERS)
            for side in ("decoder", "encoder")
            for kind in ("key", "value")
        }
        return self._run(np.array([[START]]), hidden, empty, cached=False)

    def _run(
        self, tokens: NDArray[np.int64], hidden: Floats, past: dict[str, Floats], *, cached: bool = True
    ) -> tuple[Floats, dict[str, Floats]]:
        """The encoder's part of the cache stays one row: it broadcasts."""
        feeds: dict[str, Any] = {
            "input_ids": tokens,
            "encoder_hidden_states": np.broadcast_to(hidden, (len(tokens), *hidden.shape[1:])),
            # one column for all frames: the graph takes every 384th, and a longer mask breaks after 9.2 s of audio
            "encoder_attention_mask": np.ones((len(tokens), 1), np.int64),
            "use_cache_branch": np.array([cached]),
            **past,
        }
        outputs = dict(zip(self._outputs, self._decoder.run(None, feeds), strict=True))
        logits = outputs.pop("logits")[:, -1]
        now = {}
        for name, value in outputs.items():
            key = name.replace("present", "past_key_values")
            now[key] = past[key] if cached and ".encoder." in name else value
        return log_softmax(logits), now

    def _pick(self, past: dict[str, Floats], rows: Sequence[int]) -> dict[str, Floats]:
        return {key: value if ".encoder." in key else value[list(rows)] for key, value in past.items()}
