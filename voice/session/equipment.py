"""Ears, voice and clock for one run, chosen by the options: the only place that picks adapters."""

from __future__ import annotations

import time
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from voice.data import folders
from voice.errors import DeviceError, SetupError, tell
from voice.session.loop import Devices, Watcher
from voice.sound.port import RATE, Clock, Microphone

if TYPE_CHECKING:
    from voice.hear.ear import VoiceEar
    from voice.models.engines import Engines
    from voice.session.scripted import ScriptedDriver
    from voice.sound.recording import AudioClock

TAIL = 0.15  # seconds of audio dropped after a prompt: the loudspeaker's own sound dying away


@dataclass(frozen=True, slots=True)
class EquipmentWanted:
    """What the options ask for.

    script, wav: instead of the microphone.
    model_dir: folder or name of a Vosk model that votes too; looked up in home.
    """

    input: str | None = None
    output: str | None = None
    voice: str = "auto"
    script: Path | None = None
    wav: Path | None = None
    real_time: bool = False
    model_dir: Path | None = None
    headset: bool = False
    home: Path = field(default_factory=folders.home)


@dataclass(frozen=True, slots=True)
class Equipment:
    """What a run needs of the outside.

    driver: the scripted one, if there is one; they watch the walk too.
    home: where guided readings are kept.
    """

    devices: Devices
    driver: ScriptedDriver | None = None
    home: Path | None = None

    @property
    def watchers(self) -> tuple[Watcher, ...]:
        return () if self.driver is None else (self.driver,)

    @property
    def ear(self) -> VoiceEar:
        """The ear, where it is a real one."""
        from voice.hear.ear import VoiceEar

        assert isinstance(self.devices.ear, VoiceEar)  # noqa: S101 - only tests have others
        return self.devices.ear

    def attune(self, driver: str | None) -> None:
        """Hear as this driver's guided reading has it, if they have read; else as anybody."""
        from voice.hear.ear import VoiceEar
        from voice.session.attuned import likeness_of

        if self.home is not None and isinstance(self.devices.ear, VoiceEar):
            self.devices.ear.attune(likeness_of(self.home, driver))

    def close(self) -> None:
        with ExitStack() as stack:
            stack.callback(self.devices.ear.close)
            stack.callback(self.devices.speaker.close)


def open_equipment(wanted: EquipmentWanted) -> Equipment:
    """Opens everything. Raises SetupError or DeviceError, with one sentence that says what to do."""
    if wanted.script is not None and wanted.wav is not None:
        raise SetupError("A script and a recording were both given.", "Give one of --script and --wav.")
    if wanted.script is None and wanted.wav is None:
        return _live(wanted)
    return _recorded(wanted)


def _live(wanted: EquipmentWanted) -> Equipment:
    from voice.sound.soundcard import RealClock, open_microphone
    from voice.speak.choose import open_speaker
    from voice.speak.synthesis import SynthesisSpeaker

    microphone = open_microphone(wanted.input)
    microphone.expect_sound()  # else a muted one would be noticed only when the first prompt has been spoken
    # With a headset the prompt must stop at once when the driver speaks; pyttsx3 cannot be cut short.
    voice = "espeak" if wanted.headset and wanted.voice == "auto" else wanted.voice
    speaker = open_speaker(voice, device=wanted.output)
    clock = RealClock()

    def recover() -> None:
        microphone.wait_back()
        while True:
            try:
                speaker.cue("trouble")
            except DeviceError:
                time.sleep(0.5)
            else:
                return

    headset = None
    if wanted.headset:
        if not isinstance(speaker, SynthesisSpeaker):
            raise SetupError(f"The voice {speaker.name} cannot be cut short.", "Leave out --voice, or give espeak.")
        headset = speaker
    ear = open_ear(microphone, clock, wanted, tail=TAIL)
    return Equipment(Devices(ear, speaker, clock, recover, headset), home=wanted.home)


def _recorded(wanted: EquipmentWanted) -> Equipment:
    """Recorded or scripted speech: time is counted in audio, and passes as fast as it can be computed."""
    from voice.session.script import load_script
    from voice.session.scripted import ScriptedDriver
    from voice.sound.output import ClockOutput
    from voice.sound.recording import AudioClock, WavMicrophone
    from voice.speak.synthesis import SynthesisSpeaker

    clock: AudioClock = PacedClock() if wanted.real_time else AudioClock()
    driver: ScriptedDriver | None = None
    microphone: Microphone
    if wanted.script is not None:
        microphone = driver = ScriptedDriver(load_script(wanted.script), clock)
    else:
        assert wanted.wav is not None  # noqa: S101 - open_equipment has looked
        microphone = WavMicrophone(wanted.wav, clock=clock, endless=False)
    voice = "espeak:en-us" if wanted.voice == "auto" else wanted.voice
    speaker = SynthesisSpeaker(ClockOutput(lambda seconds: clock.advance(round(seconds * RATE))), voice)

    def recover() -> None:
        raise SetupError("The recording has ended before the inspection was signed.", "Give a longer one.")

    ear = open_ear(microphone, clock, wanted, tail=0.0)
    return Equipment(Devices(ear, speaker, clock, recover), driver, wanted.home)


def open_ear(microphone: Microphone, clock: Clock, wanted: EquipmentWanted, *, tail: float) -> VoiceEar:
    """The engines that come with the program, and a Vosk model's vote if there is a folder of one."""
    from voice.hear.ear import VoiceEar

    voter = None
    if wanted.model_dir is not None:
        from voice.models.shelf import open_vosk

        voter = open_vosk(wanted.model_dir, wanted.home)
    engines = load_engines(wanted.home).result()
    if engines.warning:
        tell(engines.warning)
    ear = VoiceEar(microphone, engines.judge, engines.writer, clock=clock, tail=tail)
    if voter is not None:
        ear.add(voter)
    return ear


@cache
def load_engines(home: Path) -> Future[Engines]:
    """Begins to load the recognizers on a thread of its own; called early, it takes nothing off the start."""

    def load() -> Engines:
        from voice.models import engines

        return engines.load_engines(home / "cache")

    return ThreadPoolExecutor(1).submit(load)


def _paced_clock() -> type[AudioClock]:
    from voice.sound.recording import AudioClock

    class Paced(AudioClock):
        """Audio time that passes no faster than the wall's."""

        def __init__(self) -> None:
            super().__init__()
            self._begun = time.monotonic()

        def advance(self, samples: int) -> None:
            super().advance(samples)
            ahead = self.now() - (time.monotonic() - self._begun)
            if ahead > 0:
                time.sleep(ahead)

    return Paced


def PacedClock() -> AudioClock:  # noqa: N802 - stands for the class, which is made late to keep the start fast
    return _paced_clock()()
