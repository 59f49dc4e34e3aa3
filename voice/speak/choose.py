"""Picks a speaker that works on this machine."""

from __future__ import annotations

import sys

from voice.errors import GladhandError, SetupError
from voice.sound.output import Output
from voice.speak.port import Speaker
from voice.speak.synth import NAMES, PROGRAMS, program

ENGINES = ("auto", "pyttsx3", *PROGRAMS)
VOICES = {"en": "espeak:en-us", "es": "espeak:es-419"}


def open_speaker(
    engine: str = "auto", *, device: str | None = None, language: str = "en", pace: float = 1.0
) -> Speaker:
    """A speaker on the sound card, tried out.

    engine: "auto" (pyttsx3, then espeak-ng), "pyttsx3", or a voice of voice/speak/synth.py ("espeak:en-us",
        "flite:slt", or only "flite").
    device: part of the loudspeaker's name; pyttsx3 on Linux knows only the system's default, so espeak-ng is taken
        then.
    pace: 1 is the usual speed.
    Raises SetupError or DeviceError, one sentence with what to install.
    """
    named, _, voice = engine.partition(":")
    if named not in ENGINES:
        raise SetupError(f'There is no speech engine "{engine}".', f"Use auto, pyttsx3, {NAMES}.")
    linux = sys.platform.startswith("linux")
    if named == "pyttsx3" or (named == "auto" and not (linux and device)):
        try:
            from voice.speak.pyttsx import PyttsxSpeaker

            output = None if linux else _loudspeaker(device)
            return PyttsxSpeaker(output, language=language, pace=pace)
        except GladhandError:
            if named == "pyttsx3" or program("espeak") is None:
                raise
    full = (
        engine if voice else VOICES.get(language, f"espeak:{language}") if named in ("auto", "espeak") else f"{named}:"
    )
    from voice.speak.synthesis import SynthesisSpeaker

    return SynthesisSpeaker(_loudspeaker(device), full, pace=pace)


def _loudspeaker(device: str | None) -> Output:
    from voice.sound.loudspeaker import Loudspeaker

    return Loudspeaker(device)
