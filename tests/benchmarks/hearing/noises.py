"""Noise: an idling diesel, wind, a fan and escaping air made here, and real recordings from the folder of audio."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from scipy import signal

from voice.hear import noise as measured
from voice.sound.port import BLOCK, RATE, Audio
from voice.sound.recording import load


@dataclass(frozen=True, slots=True)
class Noise:
    """group: "tune" or "held". source: "idle", "wind", "fan", "air" or files below the folder of audio."""

    name: str
    group: str
    source: str
    seed: int = 0


NOISES = (
    Noise("idle", "tune", "idle", 1),
    Noise("wind", "tune", "wind", 2),
    Noise("fan", "tune", "fan", 3),
    Noise("air", "tune", "air", 4),
    Noise("helicopter", "tune", "esc10/helicopter"),
    Noise("dishes", "tune", "gsc_background/doing_the_dishes"),
    Noise("sea", "tune", "esc10/sea_waves"),
    Noise("idle-2", "held", "idle", 11),
    Noise("wind-2", "held", "wind", 12),
    Noise("rain", "held", "esc10/rain"),
    Noise("chainsaw", "held", "esc10/chainsaw"),
    Noise("bike", "held", "gsc_background/exercise_bike"),
    Noise("tap", "held", "gsc_background/running_tap"),
)


def idle(seconds: float, seed: int) -> Audio:
    """A six-cylinder diesel at 550 to 750 turns a minute: firing pulses with harmonics, clatter and rumble."""
    random = np.random.default_rng(seed)
    count = int(seconds * RATE)
    turn = random.uniform(550, 750) / 60
    time = np.arange(count) / RATE
    wobble = np.cumsum(random.standard_normal(count)) / RATE * 2
    phase = 2 * np.pi * (turn * 3 * time + wobble)
    firing = sum(np.cos(k * phase + random.uniform(0, 6)) / k**0.9 for k in range(1, 14))
    clatter = random.standard_normal(count) * np.exp(-3 * np.mod(phase / (2 * np.pi), 1.0))
    band = signal.butter(2, [900, 4200], "bandpass", fs=RATE, output="sos")
    rumble = signal.sosfilt(signal.butter(2, 300, fs=RATE, output="sos"), random.standard_normal(count))
    out = firing / np.std(firing) + 0.5 * signal.sosfilt(band, clatter) / 0.3 + 0.8 * rumble / np.std(rumble)
    leveled: Audio = (out / np.std(out)).astype(np.float32)
    return leveled


def wind(seconds: float, seed: int) -> Audio:
    """Gusts over a microphone: low-passed noise whose level wanders by some 15 dB."""
    random = np.random.default_rng(seed)
    count = int(seconds * RATE)
    low = signal.sosfilt(signal.butter(2, 250, fs=RATE, output="sos"), random.standard_normal(count))
    hiss = signal.sosfilt(signal.butter(1, 1500, fs=RATE, output="sos"), random.standard_normal(count))
    gusts = signal.sosfilt(signal.butter(1, 0.8, fs=RATE, output="sos"), random.standard_normal(count))
    strength = np.exp(1.0 * gusts / np.std(gusts))
    out = strength * (low / np.std(low) + 0.15 * hiss / np.std(hiss))
    leveled: Audio = (out / np.sqrt(np.mean(out**2))).astype(np.float32)
    return leveled


def fan(seconds: float, seed: int) -> Audio:
    """A radiator fan at full speed: pink noise that beats with the blades, and their tone."""
    random = np.random.default_rng(seed)
    count = int(seconds * RATE)
    spectrum = np.fft.rfft(random.standard_normal(count))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(count, 1 / RATE), 40))
    rush = np.fft.irfft(spectrum, count)
    blades = 2 * np.pi * random.uniform(90, 140) * np.arange(count) / RATE
    out = rush / np.std(rush) * (1 + 0.4 * np.cos(blades)) + 0.4 * np.cos(blades) + 0.2 * np.cos(2 * blades)
    leveled: Audio = (out / np.std(out)).astype(np.float32)
    return leveled


def air(seconds: float, seed: int) -> Audio:
    """Compressed air escaping: noise from some 600 Hz up, swelling and ebbing by some 6 dB."""
    random = np.random.default_rng(seed)
    count = int(seconds * RATE)
    hiss = signal.sosfilt(signal.butter(2, 600, "highpass", fs=RATE, output="sos"), random.standard_normal(count))
    swell = signal.sosfilt(signal.butter(1, 0.5, fs=RATE, output="sos"), random.standard_normal(count))
    out = hiss * np.exp(0.4 * swell / np.std(swell))
    leveled: Audio = (out / np.sqrt(np.mean(out**2))).astype(np.float32)
    return leveled


_MADE = {"idle": idle, "wind": wind, "fan": fan, "air": air}


@lru_cache(maxsize=32)
def recorded(noise: Noise, folder: Path) -> Audio:
    """A long stretch of this noise at RMS 1: the files of a kind in a row, each at the same level."""
    if noise.source in _MADE:
        return _MADE[noise.source](60, noise.seed)
    place = folder / "noise" / noise.source
    files = sorted(place.glob("*.wav")) if place.is_dir() else [place.with_suffix(".wav")]
    parts = [load(file) for file in files]
    level = [part / np.sqrt(np.mean(np.square(part, dtype=np.float64)) + 1e-12) for part in parts]
    return np.concatenate(level).astype(np.float32)


def piece(noise: Noise, folder: Path, samples: int, random: np.random.Generator) -> Audio:
    """Some stretch of the noise, at RMS 1 over this stretch."""
    whole = recorded(noise, folder)
    start = int(random.integers(0, len(whole)))
    part = np.take(whole, np.arange(start, start + samples), mode="wrap")
    return part / np.float32(np.sqrt(np.mean(np.square(part, dtype=np.float64)) + 1e-12))


def speech_level(audio: Audio) -> float:
    """RMS over the frames (20 ms) that are within 20 dB of the loudest."""
    frames = audio[: len(audio) // 320 * 320].reshape(-1, 320)
    power = np.square(frames, dtype=np.float64).mean(axis=1)
    return float(np.sqrt(power[power > power.max() / 100].mean()))


def scene(
    speech: Audio,
    noise: Noise | None,
    snr_db: float | None,
    folder: Path,
    random: np.random.Generator,
    level: float = 0.05,
) -> tuple[Audio, float]:
    """Speech with a second of surroundings before and 1.2 after, at the given ratio; and when the speech ends (s).

    level: RMS of the speech, full scale 1. No noise: faint hiss at -66 dB full scale.
    """
    speech = speech * np.float32(level / speech_level(speech))
    before = int(RATE * random.uniform(0.6, 1.2))
    total = before + len(speech) + int(1.2 * RATE)
    out = (5e-4 * random.standard_normal(total)).astype(np.float32)
    if noise is not None and snr_db is not None:
        out += np.float32(level * 10 ** (-snr_db / 20)) * piece(noise, folder, total, random)
    out[before : before + len(speech)] += speech
    return np.clip(out, -1, 1), (before + len(speech)) / RATE


def cut_out(heard: Audio, end: float, length: int, after: int = 3200) -> tuple[Audio, float]:
    """The answer of a scene from 0.4 s before it, and its ratio to what came before as the ear measures it (dB).

    end: when it ends (s).
    length: of its speech (samples).
    after: samples kept behind it.
    """
    stop = round(end * RATE)
    start = stop - length
    audio = heard[max(0, start - 6400) : stop + after]
    before = [measured.level(heard[at : at + BLOCK]) for at in range(0, start - BLOCK, BLOCK)]
    blocks = [audio[at : at + BLOCK] for at in range(0, len(audio) - BLOCK, BLOCK)]
    return audio, measured.snr_db(blocks, float(np.median(before)))
