"""Whisper in PyTorch, to be trained; and a second head that spells what the encoder heard in phonemes (CTC).

Names and shapes of the weights are those of voice/hear/whisper.py, which runs them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from torch import Tensor, nn

RATE, WINDOW, HOP, BANDS = 16_000, 400, 160, 80
HEADS, LAYERS = 6, 4
Cross = list[tuple[Tensor, Tensor]]


class Mel(nn.Module):
    """Log mel features as voice/hear/whisper.py makes them: (batch, samples) -> (batch, BANDS, samples / HOP)."""

    filters: Tensor
    window: Tensor

    def __init__(self) -> None:
        super().__init__()
        step = np.log(6.4) / 27
        points = np.linspace(0, 15 + np.log(RATE / 2 / 1000) / step, BANDS + 2)
        edges = np.where(points < 15, points * 200 / 3, 1000 * np.exp(step * (points - 15)))
        away, width = edges[:, None] - np.fft.rfftfreq(WINDOW, 1 / RATE), np.diff(edges)[:, None]
        bands = (
            np.maximum(0, np.minimum(-away[:-2] / width[:-1], away[2:] / width[1:]))
            * (2 / (edges[2:] - edges[:-2]))[:, None]
        )
        self.register_buffer("filters", torch.tensor(bands, dtype=torch.float32), persistent=False)
        self.register_buffer("window", torch.hann_window(WINDOW), persistent=False)

    def forward(self, audio: Tensor) -> Tensor:
        spectrum = torch.stft(audio.float(), WINDOW, HOP, window=self.window, pad_mode="reflect", return_complex=True)
        power = spectrum[..., :-1].abs().square()
        bands = torch.log10(torch.clamp(self.filters @ power, min=1e-10))
        out: Tensor = (torch.maximum(bands, bands.amax((1, 2), keepdim=True) - 8) + 4) / 4
        return out


class Net(nn.Module):
    """weights: by their names in the file; sounds: how many phonemes the second head tells apart, the blank besides."""

    def __init__(self, weights: Mapping[str, NDArray[Any]], sounds: int) -> None:
        super().__init__()
        self.w = nn.ParameterDict(
            {
                _key(name): nn.Parameter(torch.tensor(value, dtype=torch.float32))
                for name, value in weights.items()
                if not name.startswith("spell/")
            }
        )
        for name in ("encoder", "decoder"):  # places are not learnt
            self.w[_key(f"{name}/position_encodings/encodings")].requires_grad_(False)
        self.width = self.w[_key("start")].shape[1]
        self.end = self.w[_key("decoder/embeddings/weight")].shape[0] - 1
        self.spell = nn.Sequential(nn.Linear(self.width, self.width), nn.GELU(), nn.Linear(self.width, sounds + 1))
        if "spell/0.weight" in weights:
            self.spell.load_state_dict(
                {name[6:]: torch.tensor(value) for name, value in weights.items() if name.startswith("spell/")}
            )
        self.mel = Mel()

    def exported(self) -> dict[str, NDArray[np.float32]]:
        found = {name.replace("|", "/"): value.detach().float().cpu().numpy() for name, value in self.w.items()}
        return found | {f"spell/{k}": v.detach().float().cpu().numpy() for k, v in self.spell.state_dict().items()}

    def encode(self, features: Tensor) -> Tensor:
        """(batch, BANDS, frames) -> (batch, frames / 2, width)."""
        w, x = self.w, features
        for n, stride in ((1, 1), (2, 2)):
            x = F.gelu(F.conv1d(x, w[f"encoder|conv{n}|weight"], w[f"encoder|conv{n}|bias"], stride=stride, padding=1))
        x = x.transpose(1, 2)
        x = x + w["encoder|position_encodings|encodings"][: x.shape[1]]
        for n in range(LAYERS):
            at = f"encoder|layer_{n}|"
            x = self._itself(at, x, ahead=True)
            x = self._wide(at, x)
        return self._norm("encoder", x)

    def across(self, hidden: Tensor) -> Cross:
        """Keys and values of each of the decoder's layers."""
        made = [self._linear(f"decoder|layer_{n}|attention|linear_1", hidden).chunk(2, -1) for n in range(LAYERS)]
        return [(_heads(k), _heads(v)) for k, v in made]

    def decode(self, cross: Cross, tokens: Tensor) -> Tensor:
        """What follows each of the tokens: (batch, texts, tokens) -> logits (batch, texts, tokens + 1, pieces).

        The texts of a clip attend to its sound together.
        """
        batch, texts, count = tokens.shape
        words = self.w["decoder|embeddings|weight"]
        start = self.w["start"].expand(batch * texts, -1, -1)
        x = torch.cat([start, F.embedding(tokens.reshape(batch * texts, count), words)], 1)
        steps = x.shape[1]
        x = x + self.w["decoder|position_encodings|encodings"][:steps]
        for n in range(LAYERS):
            at = f"decoder|layer_{n}|"
            x = self._itself(at, x, ahead=False)
            q = self._linear(at + "attention|linear_0", self._norm(at + "attention", x)).reshape(
                batch, texts * steps, -1
            )
            seen = _joined(F.scaled_dot_product_attention(_heads(q), *cross[n])).reshape(batch * texts, steps, -1)
            x = x + self._linear(at + "attention|linear_2", seen)
            x = self._wide(at, x)
        x = self._norm("decoder", x)[:, start.shape[1] - 1 :]
        return F.linear(x, words).unflatten(0, (batch, texts))

    def _itself(self, at: str, x: Tensor, *, ahead: bool) -> Tensor:
        at += "self_attention"
        q, k, v = (_heads(part) for part in self._linear(at + "|linear_0", self._norm(at, x)).chunk(3, -1))
        seen = F.scaled_dot_product_attention(q, k, v, is_causal=not ahead)
        return x + self._linear(at + "|linear_1", _joined(seen))

    def _wide(self, at: str, x: Tensor) -> Tensor:
        wide = F.gelu(self._linear(at + "ffn|linear_0", self._norm(at + "ffn", x)))
        return x + self._linear(at + "ffn|linear_1", wide)

    def _norm(self, at: str, x: Tensor) -> Tensor:
        return F.layer_norm(x, (self.width,), self.w[at + "|layer_norm|gamma"], self.w[at + "|layer_norm|beta"])

    def _linear(self, at: str, x: Tensor) -> Tensor:
        return F.linear(x, self.w[at + "|weight"], self.w[at + "|bias"])


def _key(name: str) -> str:
    return name.replace("/", "|")


def _heads(x: Tensor) -> Tensor:
    return x.unflatten(-1, (HEADS, -1)).transpose(-2, -3)


def _joined(x: Tensor) -> Tensor:
    return x.transpose(-2, -3).flatten(-2)


def likelihood(logits: Tensor, tokens: Tensor, end: int) -> Tensor:
    """Log-likelihood of each text with its end; after it `end` fills up. logits: of `decode`. (batch, texts)."""
    wanted = torch.cat([tokens, torch.full_like(tokens[..., :1], end)], -1)
    picked = logits.gather(-1, wanted[..., None])[..., 0].float() - logits.float().logsumexp(-1)
    over = wanted == end
    return (picked * ~(over & (over.cumsum(-1) > 1))).sum(-1)


def spelt(logp: Tensor, sounds: Tensor, counts: Tensor) -> Tensor:
    """CTC log-likelihood of texts.

    logp: (batch, frames, sounds), of the blank first. sounds: (batch, texts, longest). counts: (batch, texts).
    """
    batch, texts, longest = sounds.shape
    frames = logp.shape[1]
    every = logp.transpose(0, 1)[:, :, None].expand(-1, -1, texts, -1).reshape(frames, batch * texts, -1)
    filled = torch.where(counts[..., None] == 0, 1, sounds).reshape(
        batch * texts, longest
    )  # no text at all has no loss
    loss = F.ctc_loss(
        every.contiguous(),
        filled,
        torch.full((batch * texts,), frames, device=logp.device),
        counts.reshape(-1).clamp(min=1),
        reduction="none",
        zero_infinity=True,
    ).view(batch, texts)
    return torch.where(counts == 0, logp[..., 0].sum(1)[:, None].expand(-1, texts), -loss)
