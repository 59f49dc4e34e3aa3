"""The yard's sounds, made on the GPU while it trains: clean clips in, what a microphone there would pick up out.

Speed and pitch, room, microphone, telephone band; recorded and made noise, colored noise with a random spectrum, grains
(sparse clicks through a random filter), engines (pulses of a wandering rate through a random filter, noise that swells
with them), babble of other clips, mixtures; wind on the capsule (overload); level. Nothing
is drawn twice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import torch
import torch.nn.functional as F
from numpy.typing import NDArray
from torch import Tensor

RATE = 16_000
LONG = 65_536  # samples of a transform
LEVEL = 0.05  # RMS of speech, full scale 1


@dataclass(frozen=True, slots=True)
class Store:
    """Clips one after another on the device. samples: (all,), int16. starts, lengths: (clips,)."""

    samples: Tensor
    starts: Tensor
    lengths: Tensor

    @classmethod
    def of(cls, clips: Sequence[NDArray[np.int16]], device: str) -> Store:
        lengths = np.array([len(clip) for clip in clips])
        starts = np.concatenate([[0], np.cumsum(lengths)[:-1]])
        return cls(*(torch.from_numpy(x).to(device) for x in (np.concatenate(clips), starts, lengths)))

    def play(self, which: Tensor, rate: Tensor, start: Tensor, count: int, *, around: bool = False) -> Tensor:
        """(batch, count): each clip at its rate from its start on (in samples), in silence or round and round."""
        at = (torch.arange(count, device=which.device)[None] - start[:, None]) * rate[:, None]
        length = self.lengths[which][:, None]
        if around:
            at = at.remainder((length - 1).float())
        inside = (at >= 0) & (at < length - 1)
        at = torch.minimum(at.clamp(min=0), length - 1.001)
        low = at.floor().long()
        share, place = at - low, self.starts[which][:, None] + low
        last = len(self.samples) - 1
        sound = self.samples[place].float() * (1 - share) + self.samples[(place + 1).clamp(max=last)].float() * share
        return sound * inside / 32768


@dataclass(frozen=True, slots=True)
class Heard:
    """audio: (batch, samples). clean: the same without noise, room and microphone. snr: (batch,), dB. end: (batch,),
    the sample at which the recording is cut, zeros behind."""

    audio: Tensor
    clean: Tensor
    snr: Tensor
    end: Tensor


class Yard:
    """speech: clips. noise: recorded and made noise. weights: (noises,), how often each is drawn. seconds: of audio."""

    def __init__(self, speech: Store, noise: Store, weights: Tensor, seconds: float = 3.5) -> None:
        self.speech, self.noise, self._weights = speech, noise, weights
        self.device = str(speech.samples.device)
        self.count = int(seconds * RATE)
        self._hz = torch.fft.rfftfreq(LONG, 1 / RATE).to(self.device)

    def hear(self, which: Tensor, silent: Tensor) -> Heard:
        """which: (batch,), numbers of clips. silent: (batch,), whether there is only noise."""
        batch = len(which)
        rate = torch.where(
            self._chance(0.6, batch), self._between(0.86, 1.18, batch), torch.ones(batch, device=self.device)
        )
        rate = torch.maximum(rate, self.speech.lengths[which] / (0.92 * self.count))
        lasts = self.speech.lengths[which] / rate
        room = (self.count - 1600 - lasts).clamp(min=800)
        start = self._between(0.05, 1, batch) * torch.minimum(torch.full_like(room, 0.9 * RATE), room)
        usual = torch.minimum(self._between(0.3, 0.5, batch) * RATE, room)
        start = torch.where(self._chance(0.5, batch), usual, start)
        end = torch.minimum(start + lasts + self._between(0.08, 0.5, batch) * RATE, torch.full_like(room, self.count))
        clean = leveled(self.speech.play(which, rate, start, self.count))
        microphone = self._microphone(batch)
        spoken = leveled(torch.fft.irfft(torch.fft.rfft(clean, LONG) * self._room(batch) * microphone)[:, : self.count])
        spoken = spoken * ~silent[:, None]
        noise = self._noise(batch)
        colored = torch.fft.irfft(torch.fft.rfft(noise, LONG) * microphone)[:, : self.count]
        noise = even(torch.where(self._chance(0.4, batch)[:, None], colored, noise))
        snr = torch.where(self._chance(0.15, batch), self._between(30, 60, batch), self._between(-6, 26, batch))
        audio = spoken + LEVEL * 10 ** (-snr[:, None] / 20) * noise
        audio = audio + 5e-4 * torch.randn_like(audio) * 10 ** self._between(-1, 0.5, batch)[:, None]
        audio = audio * 10 ** (self._between(-15, 15, batch)[:, None] / 20)
        over = self._chance(0.03, batch)[:, None]  # a capsule driven too hard
        audio = torch.where(over, (audio * 6).tanh() / 3, audio).clamp(-1, 1)
        kept = torch.arange(self.count, device=self.device)[None] < end[:, None]
        return Heard(audio * kept, clean, snr, end)

    # -- what is on the way -----------------------------------------------------------------------------------

    def _room(self, batch: int) -> Tensor:
        """Response of a room for four clips in ten, of nothing for the others; (batch, bins)."""
        time = torch.arange(6400, device=self.device)[None] / RATE
        tail = torch.randn(batch, 6400, device=self.device) * torch.exp(
            -6.9 * time / self._between(0.08, 0.6, batch)[:, None]
        )
        tail[:, :32] = 0
        tail = (
            even(tail)
            / 6400**0.5
            * 10 ** (self._between(-22, -1, batch)[:, None] / 20)
            * self._chance(0.4, batch)[:, None]
        )
        tail[:, 0] = 1
        return torch.fft.rfft(tail, LONG)

    def _microphone(self, batch: int) -> Tensor:
        """Gain; (batch, bins). One in eight is a telephone line."""
        third = self._chance(0.3, batch)[:, None]
        low = torch.where(third, self._between(60, 400, batch)[:, None], 20.0)
        third = self._chance(0.3, batch)[:, None]
        high = torch.where(third, self._between(3000, 8000, batch)[:, None], 9000.0)
        line = self._chance(0.12, batch)[:, None]
        low, high = torch.where(line, self._between(150, 350, batch)[:, None], low), torch.where(line, 3400.0, high)
        curve = self._curve(batch, 8, 2.5, self._between(-2, 2, batch)) * self._chance(0.6, batch)[:, None]
        edges = (1 + (low / self._hz[None].clamp(min=1)) ** 6).rsqrt() * (1 + (self._hz[None] / high) ** 12).rsqrt()
        return edges * 10 ** (curve / 20)

    def _noise(self, batch: int) -> Tensor:
        """At an RMS of 1; (batch, samples)."""
        which = torch.multinomial(self._weights, batch, replacement=True)
        begin = -torch.rand(batch, device=self.device) * self.noise.lengths[which]
        recorded = even(self.noise.play(which, self._between(0.8, 1.25, batch), begin, self.count, around=True))
        white = torch.fft.rfft(torch.randn(batch, LONG, device=self.device))
        colored = torch.fft.irfft(white * 10 ** (self._curve(batch, 14, 7.0, self._between(-7, 4, batch)) / 20))[
            :, : self.count
        ]
        gusts = F.interpolate(torch.randn(batch, 1, 24, device=self.device), size=self.count, mode="linear")[:, 0]
        colored = even(colored * torch.exp(gusts * self._between(0, 0.8, batch)[:, None]))
        often = 10 ** self._between(-3.5, -1.3, batch)[:, None]
        clicks = torch.randn(batch, LONG, device=self.device) * (torch.rand(batch, LONG, device=self.device) < often)
        clicks = torch.fft.rfft(clicks * torch.exp(0.6 * torch.randn_like(clicks)))
        grains = torch.fft.irfft(clicks * 10 ** (self._curve(batch, 10, 7.0, self._between(-5, 3, batch)) / 20))
        grains, babble = even(grains[:, : self.count]), even(sum(self._talker(batch) for _ in range(4)))
        u = torch.rand(batch, 1, device=self.device)
        first = torch.where(u < 0.30, recorded, torch.where(u < 0.56, colored, torch.where(u < 0.70, grains, babble)))
        first = torch.where(u > 0.86, self._engine(batch), first)
        other = torch.where(torch.rand(batch, 1, device=self.device) < 0.6, colored, recorded)
        share = torch.where(
            self._chance(0.25, batch), self._between(0.2, 1, batch), torch.ones(batch, device=self.device)
        )
        return even(share[:, None] * first + (1 - share[:, None]) * other)

    def _engine(self, batch: int) -> Tensor:
        """Motors, saws, pumps, at an RMS of 1; (batch, samples)."""
        knots = torch.randn(batch, 1, 12, device=self.device) * self._between(0, 0.15, batch)[:, None, None]
        wander = F.interpolate(knots, size=self.count, mode="linear")[:, 0].exp()
        rate = 10 ** self._between(0.6, 2.4, batch)[:, None]  # 4 to 250 pulses a second
        turns = (rate * wander / RATE).cumsum(1)
        pulse = F.pad(turns.floor().diff(dim=1), (1, 0)).clamp(0, 1) * (1 + 0.4 * torch.randn_like(turns))
        since = turns - turns.floor()
        swell = torch.exp(-since * self._between(0, 6, batch)[:, None]) * torch.randn_like(turns)
        share = self._between(0.05, 0.95, batch)[:, None]
        sound = torch.fft.rfft(share * even(pulse) + (1 - share) * even(swell), LONG)
        return even(
            torch.fft.irfft(sound * 10 ** (self._curve(batch, 12, 6.0, self._between(-6, 2, batch)) / 20))[
                :, : self.count
            ]
        )

    def _talker(self, batch: int) -> Tensor:
        which = torch.randint(len(self.speech.lengths), (batch,), device=self.device)
        start = self._between(-0.1, 0.7, batch) * self.count
        return self.speech.play(which, self._between(0.9, 1.1, batch), start, self.count)

    # -- chance -----------------------------------------------------------------------------------------------

    def _between(self, low: float, high: float, batch: int) -> Tensor:
        return torch.rand(batch, device=self.device) * (high - low) + low

    def _chance(self, share: float, batch: int) -> Tensor:
        return torch.rand(batch, device=self.device) < share

    def _curve(self, batch: int, points: int, spread: float, tilt: Tensor) -> Tensor:
        """A smooth random gain in dB over the logarithm of frequency; (batch, bins). tilt: dB an octave."""
        knots = F.interpolate(torch.randn(batch, 1, points, device=self.device) * spread, size=257, mode="linear")[:, 0]
        at = (self._hz.clamp(min=40) / 40).log2().div(math.log2(200)).clamp(0, 1) * 255
        low = at.long()
        gain = knots[:, low] * (1 - at + low) + knots[:, low + 1] * (at - low)
        return gain + tilt[:, None] * (self._hz.clamp(min=30) / 1000).log2()[None]


def even(sound: Tensor) -> Tensor:
    """At an RMS of 1."""
    return sound / (sound.square().mean(1, keepdim=True).sqrt() + 1e-9)


def leveled(sound: Tensor) -> Tensor:
    """At an RMS of LEVEL over the 20 ms frames within 20 dB of the loudest."""
    power = sound[:, : sound.shape[1] // 320 * 320].unflatten(1, (-1, 320)).square().mean(2)
    loud = power > power.amax(1, keepdim=True) / 100
    level = ((power * loud).sum(1) / loud.sum(1).clamp(min=1)).sqrt()
    return sound * (LEVEL / (level + 1e-6))[:, None].clamp(max=1e4)
