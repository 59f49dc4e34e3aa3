"""Text to audio by a command-line synthesizer: "flite:slt", "espeak:en-us", "espeak:en-gb+f3", "festival:kal_diphone".

Used by the speaker, by the scripted driver of the demo, and by the benchmarks. Nothing is played here.
"""

from __future__ import annotations

import hashlib
import io
import os
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

from voice.errors import SetupError, remedy
from voice.sound.port import RATE, Audio
from voice.speak.pronounce import readable

PATIENCE = 60.0  # seconds: a synthesizer that takes longer for a sentence hangs
ESPEAK_WPM = 165  # words a minute at pace 1: espeak's own default of 175 is a little hurried for instructions

# The programs of each synthesizer, first found first taken, and the Debian package that brings it.
PROGRAMS = {"flite": ("flite",), "espeak": ("espeak-ng", "espeak"), "festival": ("text2wave",)}
NAMES = "espeak:NAME, flite:NAME or festival:NAME, as in espeak:en-us and flite:slt"
MANY = 20  # more voices than that are not listed one by one
# What is made here goes to no loudspeaker; but espeak looks for a sound server all the same (one in the network, if the
# user has such a setting) and makes a folder for it in the user's home.
NO_SOUND_SERVER = {"PULSE_SERVER": "unix:/dev/null", "PULSE_RUNTIME_PATH": "/dev/null"}
PACKAGES = {"flite": "flite", "espeak": "espeak-ng", "festival": "festival"}


def synthesize(text: str, voice: str = "espeak:en-us", *, pace: float = 1.0, keep: Path | None = None) -> Audio:
    """The text spoken by the voice, float32 mono at 16 kHz; abbreviations and fractions are written out first.

    pace: 1 is the voice's usual speed, 1.2 is a fifth faster.
    keep: a folder in which the audio is kept, so that the same words need not be made again.
    Raises SetupError when the program or the voice is missing or fails.
    """
    text = readable(text, "es" if voice.startswith("espeak:es") else "en")
    if not text:
        return np.zeros(0, np.float32)
    if keep is None:
        return _made(text, voice, pace)
    import soundfile

    name = hashlib.sha256(f"{voice}\n{pace}\n{text}".encode()).hexdigest()[:24]
    path = keep / f"{name}.flac"
    if path.is_file():
        audio: Audio = soundfile.read(path, dtype="float32")[0]
        return audio
    audio = _made(text, voice, pace)
    keep.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(f".{id(audio)}.part")
    soundfile.write(unfinished, audio, RATE, format="FLAC")
    unfinished.replace(path)
    return audio


def program(synthesizer: str) -> str | None:
    """The path of the synthesizer's program; None if it is not installed."""
    return next((path for name in PROGRAMS[synthesizer] if (path := shutil.which(name))), None)


@cache
def voices(synthesizer: str) -> tuple[str, ...]:
    """The names of the installed voices; empty if the program is missing."""
    path = program(synthesizer)
    if path is None:
        return ()
    if synthesizer == "flite":
        listed = _run([path, "-lv"], "", synthesizer).decode(errors="replace")
        return tuple(listed.partition(":")[2].split())
    if synthesizer == "espeak":
        listed = _run([path, "--voices"], "", synthesizer).decode(errors="replace")
        return tuple(dict.fromkeys(line.split()[1] for line in listed.splitlines()[1:] if "mb/" not in line))
    command = [shutil.which("festival") or "festival", "--batch", "(print (voice.list))"]
    return tuple(_run(command, "", synthesizer).decode(errors="replace").strip().strip("()").split())


def _made(text: str, voice: str, pace: float) -> Audio:
    synthesizer, _, name = voice.partition(":")
    if synthesizer not in PROGRAMS:
        raise SetupError(f'There is no synthesizer "{synthesizer}".', f"Use {NAMES}.")
    path = program(synthesizer)
    if path is None:
        raise SetupError(
            f"The speech synthesizer {synthesizer} is not installed.",
            f"On Debian and Ubuntu: sudo apt install {PACKAGES[synthesizer]}.",
        )
    _require(synthesizer, name)
    return _read(_run(_command(synthesizer, path, name, pace), text, synthesizer), synthesizer)


def _require(synthesizer: str, name: str) -> None:
    """Raises SetupError if there is no voice of this name. Festival's is part of a program of its own language, and
    espeak's variant of a file's path: so each must be one that the synthesizer itself lists, to the letter."""
    base, plus, variant = name.partition("+") if synthesizer == "espeak" else (name, "", "")
    if base and base not in voices(synthesizer):
        raise SetupError(f'{synthesizer} has no voice "{name}".', _offer(synthesizer, base))
    if plus and variant not in variants():
        raise SetupError(f'espeak has no variant "+{variant}" of a voice.', f"Use one of +{', +'.join(variants())}.")


@cache
def variants() -> tuple[str, ...]:
    """The names that espeak takes after a voice's and a plus sign: "f3" as in "en-gb+f3"."""
    path = program("espeak")
    listed = "" if path is None else _run([path, "--voices=variant"], "", "espeak").decode(errors="replace")
    return tuple(sorted(Path(line.split()[4]).name for line in listed.splitlines()[1:] if len(line.split()) > 4))


def _offer(synthesizer: str, wanted: str) -> str:
    """Which voices there are, as --voice takes them; of a long list those of the wanted language, English, Spanish."""
    there = voices(synthesizer)
    if not there:
        return "It has none: install it again."
    languages = (wanted.partition("-")[0], "en", "es")
    shown = there if len(there) <= MANY else [name for name in there if name.partition("-")[0] in languages]
    more = "" if len(shown) == len(there) else f"; {len(there) - len(shown)} more by 'espeak-ng --voices'"
    return f"Use one of {', '.join(f'{synthesizer}:{name}' for name in shown)}{more}."


def _command(synthesizer: str, path: str, name: str, pace: float) -> list[str]:
    """Takes the text from its input and gives a WAV file on its output: no file is left behind by a kill."""
    match synthesizer:
        case "flite":
            named = ["-voice", name] if name else []
            return [path, *named, "--setf", f"duration_stretch={1 / pace:.3f}", "-f", "/dev/stdin", "-o", "/dev/stdout"]
        case "espeak":
            named = ["-v", name] if name else []
            return [path, *named, "-s", str(round(ESPEAK_WPM * pace)), "--stdin", "--stdout"]
        case _:
            chosen = f"(voice_{name})" if name else ""
            return [path, "-eval", f"(begin {chosen} (Parameter.set 'Duration_Stretch {1 / pace:.3f}))"]


def _run(command: Sequence[str], text: str, synthesizer: str) -> bytes:
    """The program's output. It goes to a file without a name (flite reads back what it has written, which no pipe lets
    it do), so a kill leaves no speech behind."""
    try:
        with tempfile.TemporaryFile() as out:
            done = subprocess.run(  # noqa: S603 - arguments as a list
                command,
                input=text.encode(),
                stdout=out,
                stderr=subprocess.PIPE,
                check=False,
                timeout=PATIENCE,
                env={**os.environ, **NO_SOUND_SERVER},
            )
            out.seek(0)
            made = out.read()
    except subprocess.TimeoutExpired:
        raise SetupError(f"{synthesizer} did not finish within {PATIENCE:g} seconds.", "Try another voice.") from None
    except OSError as error:
        hint = remedy(error, "Reinstall it.")
        raise SetupError(f"{synthesizer} could not be run: {error.strerror}.", hint) from error
    if done.returncode:
        last = (done.stderr or made).decode(errors="replace").strip().splitlines()[-1:] or ["no reason given"]
        raise SetupError(f"{synthesizer} failed: {last[0]}.", "Try it in a terminal, or another voice.")
    return made


def _read(made: bytes, synthesizer: str) -> Audio:
    import soundfile
    import soxr

    try:
        audio, rate = soundfile.read(io.BytesIO(made), dtype="float32")
    except soundfile.LibsndfileError as error:
        raise SetupError(f"{synthesizer} made no sound file.", "Try it in a terminal, or another voice.") from error
    if rate != RATE:
        audio = soxr.resample(audio, rate, RATE)
    if not len(audio):
        raise SetupError(f"{synthesizer} made no sound.", "Try another voice.")
    result: Audio = np.clip(np.asarray(audio, np.float32), -1.0, 1.0)  # resampling may overshoot
    return result
