"""Recordings of people to learn from, packed.

    python models/training/recorded.py OUT --commands FOLDER... --digits FOLDER --wake FOLDER --talk FOLDER

--commands: Speech Commands, laid out WORD/SPEAKER_nohash_N.wav (a folder "_unknown_" has the word in the file's name).
--digits: Free Spoken Digit Dataset, DIGIT_SPEAKER_N.wav. --wake: wake words, WORDS/*.wav or .flac; words that are no
plain ones (texts.SAID_BY_PEOPLE) count as not known. --talk: sentences whose words are not known. What isn't known is
heard as strangers only, and keeps the encoder near where it was.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from pathlib import Path

from bundle import Clip, trimmed, write
from split import learnt
from texts import SAID_BY_PEOPLE

from tests.benchmarks.hearing.trials import DIGITS, half
from voice.errors import DeviceError
from voice.sound.recording import load


def commands(folder: Path) -> Iterator[Clip]:
    for path in sorted(folder.glob("*/*.wav")):
        word, name = path.parent.name, path.name
        if word == "_unknown_":
            word, name = name.split("_", 1)
        speaker = "gsc:" + name.split("_")[0]
        if not word.startswith("_") and learnt(speaker):
            yield from _clip(path, word, speaker)


def digits(folder: Path) -> Iterator[Clip]:
    for path in sorted(folder.glob("*.wav")):
        digit, speaker, _ = path.stem.split("_")
        if half("fsdd:" + speaker) == "tune":
            yield from _clip(path, DIGITS[int(digit)], "fsdd:" + speaker)


def wake(folder: Path) -> Iterator[Clip]:
    """Each recording counts as a speaker: who says them is not published."""
    for path in sorted((*folder.glob("*/*.wav"), *folder.glob("*/*.flac"))):
        words = re.sub(r"[ _-]+", " ", path.parent.name)
        yield from _clip(path, words if words in SAID_BY_PEOPLE else "", f"wake:{path.stem}")


def talk(folder: Path) -> Iterator[Clip]:
    for path in sorted(folder.glob("*.wav")):
        yield from _clip(path, "", "talk:" + path.stem)


def _clip(path: Path, text: str, speaker: str) -> Iterator[Clip]:
    try:
        samples = trimmed(load(path))
    except DeviceError as error:  # a few published files are broken
        print(error)
        return
    if samples is not None:
        yield Clip(samples, text, speaker)


def main() -> None:
    parser = argparse.ArgumentParser(description="Packs recordings of people, without whom the benchmark holds out.")
    parser.add_argument("out", type=Path, help="the folder the packed groups go to")
    parser.add_argument("--commands", type=Path, nargs="*", default=[], help="folders of Speech Commands")
    for name, of in (("digits", "Free Spoken Digit Dataset"), ("wake", "wake words"), ("talk", "sentences")):
        parser.add_argument(f"--{name}", type=Path, help=f"folder of the {of}")
    parser.add_argument("--lossless", action="store_true", help="flac in place of opus, five times the size")
    chosen = parser.parse_args()
    chosen.out.mkdir(parents=True, exist_ok=True)
    unique: dict[bytes, Clip] = {}
    for folder in chosen.commands:
        unique.update((clip.samples.tobytes(), clip) for clip in commands(folder))  # the same file may be in several
    found = {"commands": list(unique.values())} if unique else {}
    for name, reader in (("digits", digits), ("wake", wake), ("talk", talk)):
        if folder := getattr(chosen, name):
            found[name] = list(reader(folder))
    for name, clips in found.items():
        hours = write(chosen.out, name, clips, lossless=chosen.lossless)
        print(f"{name}: {len(clips)} clips of {len({clip.speaker for clip in clips})} people, {hours:.2f} h")


if __name__ == "__main__":
    main()
