"""Measures the sound card adapter on a virtual card. Run from the checkout: python tests/benchmarks/devices/measure.py

Prints one line a figure; needs pulseaudio (see tests/devices/pulse.py) and a few minutes less than one.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile
import soxr
from scipy import signal as dsp

HERE = Path(__file__).resolve()
sys.path.insert(0, str(HERE.parents[3]))

from tests.devices.pulse import VirtualCard, missing  # noqa: E402
from voice.errors import DeviceError  # noqa: E402
from voice.sound.cardlink import list_devices  # noqa: E402
from voice.sound.port import BLOCK, RATE, Audio  # noqa: E402
from voice.sound.soundcard import Loudspeaker, SoundCardMicrophone  # noqa: E402

ROUNDS = 5


def tell(what: str, values: list[float], unit: str = "s") -> None:
    print(f"{what:62} median {statistics.median(values):.3f} {unit}, worst {max(values):.3f} {unit}, of {len(values)}")


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def in_turn(*steps: Callable[[], None]) -> None:
    for step in steps:
        step()


def until_lost(mic: SoundCardMicrophone) -> None:
    try:
        while True:
            mic.read()
    except DeviceError:
        return


def speech(folder: Path) -> Audio:
    path = folder / "said.wav"
    subprocess.run(["espeak-ng", "-v", "en-us", "-w", str(path), "Left steer tire, four thirty seconds."], check=True)
    samples, rate = soundfile.read(path, dtype="float32")
    return np.asarray(soxr.resample(samples, rate, RATE), np.float32)


def likeness(sent: Audio, heard: Audio) -> tuple[float, float]:
    band = dsp.butter(6, [100, 3500], "band", fs=RATE, output="sos")
    one, other = (dsp.resample_poly(dsp.sosfiltfilt(band, audio), 4, 1) for audio in (sent, heard))
    at = int(np.argmax(dsp.correlate(other, one, "valid")))
    return float(np.corrcoef(one, other[at : at + len(one)])[0, 1]), at / 4 / RATE


def main() -> None:
    if reason := missing():
        sys.exit(f"Nothing measured: {reason}.")
    with tempfile.TemporaryDirectory(prefix="gladhand-card-") as name, VirtualCard(Path(name)) as card:
        os.environ.update(card.env)
        card.hum()
        said = speech(Path(name))
        tell("list devices", [timed(list_devices) for _ in range(ROUNDS)])
        opens = []
        for _ in range(ROUNDS):
            start = time.perf_counter()
            mic = SoundCardMicrophone("cab_microphone")
            mic.read()
            opens.append(time.perf_counter() - start)
            mic.close()
        tell("open the microphone until its first block", opens)

        mic, mouth = SoundCardMicrophone("cab_microphone"), Loudspeaker("driver_mouth")
        same, over, late = [], [], []
        for _ in range(ROUNDS):
            mic.flush()
            over.append(timed(lambda: mouth.play(said)) - len(said) / RATE)
            heard = np.concatenate([mic.read() for _ in range(int((len(said) / RATE + 0.8) * RATE / BLOCK))])
            alike, start_s = likeness(said, heard)
            same.append(alike)
            late.append(start_s)
        print(f"{'speech out of one device, in by the other: correlation':62} lowest {min(same):.4f}, of {ROUNDS}")
        tell("play() beyond the sound's own length", over)
        tell("from play() to the sound in the microphone's blocks", late)
        start, cpu = time.perf_counter(), time.process_time()
        while time.perf_counter() - start < 5:
            mic.read()
        share = (time.process_time() - cpu) / (time.perf_counter() - start)
        child = Path(f"/proc/{mic._link.pid}/status").read_text().split("VmRSS:")[1].split()[0]
        print(f"{'listening: processor time, this process':62} {share:.1%}; capture process {int(child) / 1024:.0f} MB")

        faults: tuple[tuple[str, Callable[[], None], Callable[[], None]], ...] = (
            ("unplugged", card.unplug, lambda: in_turn(card.quiet, card.plug, card.hum)),
            ("muted", card.mute, lambda: card.mute(False)),
            ("stalled", card.stall, lambda: card.stall(False)),
            ("sound server killed", card.stop, lambda: in_turn(card.start, card.hum)),
        )
        for what, lose, restore in faults:
            noticed, back = [], []
            for _ in range(3):
                lose()
                noticed.append(timed(lambda: until_lost(mic)))
                restore()
                back.append(timed(lambda: mic.wait_back(20)))
            tell(f"{what}: noticed after", noticed)
            tell(f"{what}: heard again after it is back", back)
        mic.close()
        mouth.close()


if __name__ == "__main__":
    main()
