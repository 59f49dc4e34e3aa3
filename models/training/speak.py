"""Speech of the old synthesizers (espeak-ng, flite), packed, and the noises to learn in.

    python models/training/speak.py TEXTS.json OUT [--audio FOLDER] [--count 5000] [--raw]

No voice, accent or variant that the benchmark holds out or tunes on, but for the two of split.MADE_LEARNT. The noises
are the benchmark's tuning kinds and others of the same sets; made ones with seeds of their own.
"""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from bundle import Clip, trimmed, write
from texts import spelled

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.hearing import noises
from voice.errors import DeviceError
from voice.sound.recording import load

ACCENTS = ("en-us", "en-us", "en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-gb-x-gbclan", "en-gb-x-gbcwmd")
# Of those that espeak-ng 1.51 has, all but the benchmark's (m3, m7, f2, f3), whispers, robots and copies of others.
VARIANTS = (
    "", "", "+m1", "+m2", "+m4", "+m5", "+m6", "+m8", "+f1", "+f4", "+f5", "+klatt", "+klatt2", "+klatt3", "+klatt4",
    "+klatt5", "+croak", "+grandma", "+grandpa", "+adam", "+Alex", "+Alicia", "+Andrea", "+Andy", "+anika", "+Annie",
    "+antonio", "+aunty", "+AnxiousAndy", "+belinda", "+benjamin", "+boris", "+david", "+Denis", "+Diogo", "+ed",
    "+edward", "+edward2", "+Gene", "+Gene2", "+gustave", "+Henrique", "+Hugo", "+iven", "+iven2", "+iven3", "+iven4",
    "+Jacky", "+john", "+kaukovalta", "+Lee", "+linda", "+marcelo", "+Marco", "+Mario", "+max", "+Michael", "+michel",
    "+miguel", "+Mike", "+Nguyen", "+norbert", "+pablo", "+paul", "+pedro", "+quincy", "+RicishayMax", "+RicishayMax2",
    "+RicishayMax3", "+rob", "+robert", "+sandro", "+shelby", "+steph", "+steph2", "+steph3", "+Storm", "+travis",
    "+victor", "+zac",
)  # fmt: skip
FLITE = ("kal16", "kal16", "kal")
RECORDED = ("esc10/helicopter", "esc10/sea_waves", "esc10/dog_bark", "esc10/person_sneeze")
BACKGROUND = ("gsc_background/doing_the_dishes", "gsc_background/dude_miaowing")


def check_variants() -> None:
    """Raises ValueError for one that espeak-ng lacks: it would speak with its plain voice and say nothing."""
    order = ["espeak-ng", "--voices=variant"]
    listed = subprocess.run(order, text=True, capture_output=True, check=True).stdout
    known = {"+" + part.split()[0] for part in listed.split("!v/")[1:]}
    if missing := set(VARIANTS) - known - {""}:
        raise ValueError(f"espeak-ng has no {', '.join(sorted(missing))}")


def drawn(found: dict[str, list[str]], shares: dict[str, float], draw: random.Random) -> str:
    """A text, its group first."""
    return draw.choice(found[draw.choices(list(shares), list(shares.values()))[0]])


def spoken(found: dict[str, list[str]], shares: dict[str, float], count: int, seed: int) -> list[Clip]:
    draw, clips = random.Random(seed), []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        for number in range(count):
            text = drawn(found, shares, draw)
            if number % 5:
                voice = draw.choice(ACCENTS) + draw.choice(VARIANTS)
                order = ["espeak-ng", "-v", voice, "-s", str(draw.randint(120, 230)), "-p", str(draw.randint(25, 75))]
                order += ["-w", str(path), spelled(text)]
            else:
                voice = "flite-" + draw.choice(FLITE)
                order = ["flite", "-voice", voice[6:], "--setf", f"duration_stretch={draw.uniform(0.75, 1.3):.2f}"]
                order += ["-t", spelled(text), "-o", str(path)]
            subprocess.run(order, check=True, capture_output=True, timeout=5)
            try:
                samples = trimmed(load(path))
            except DeviceError:
                continue
            if samples is not None:
                clips.append(Clip(samples, text, "made:" + voice))
    return clips


def heard(audio: Path) -> Iterator[Clip]:
    """A long stretch of each noise, at an RMS of 0.1."""
    found = [(name, noises.recorded(noises.Noise(name, "tune", name), audio)) for name in (*RECORDED, *BACKGROUND)]
    made = {"idle": noises.idle, "wind": noises.wind, "fan": noises.fan, "air": noises.air}
    found += [(f"{name}{seed}", make(15, seed)) for name, make in made.items() for seed in range(100, 106)]
    for name, sound in found:
        yield Clip(np.asarray(np.clip(0.1 * sound, -1, 1) * 32767, np.int16), name, name)


def main() -> None:
    parser = argparse.ArgumentParser(description="Speaks with espeak-ng and flite, and packs the noises to learn in.")
    parser.add_argument("texts", type=Path, help="of texts.py")
    parser.add_argument("out", type=Path, help="the folder the packed groups go to")
    parser.add_argument("--audio", type=Path, help="folder of the benchmark's recordings; without it, no noises")
    parser.add_argument("--count", type=int, default=5000, help="clips")
    parser.add_argument("--raw", action="store_true", help="not compressed, to learn from on this machine")
    chosen = parser.parse_args()
    check_variants()
    chosen.out.mkdir(parents=True, exist_ok=True)
    if chosen.audio:
        print("noise", write(chosen.out, "noise", heard(chosen.audio), kbps=48), "h", flush=True)
    lines = json.loads(chosen.texts.read_text())
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:  # forked ones have hung
        share = partial(spoken, lines["groups"], lines["shares"], chosen.count // 16)
        clips = [clip for part in pool.map(share, range(3, 19)) for clip in part]
    print("made", write(chosen.out, "made", clips, raw=chosen.raw), "h")


if __name__ == "__main__":
    main()
