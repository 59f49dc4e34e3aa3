"""The system's own voice by pyttsx3: espeak-ng on Linux, the built-in voices on Windows and macOS.

What had to be worked around on Linux (pyttsx3 2.99): `runAndWait` ends a loop by cancelling what espeak is at work
on, be it a sentence or a change of speed; so at times it returns before the sound has ended, loses a sentence, or
speaks at the wrong speed. Here the driver's own loop is run instead, which ends after the sound, and nothing is given
to the engine before it is at rest. It would write each sentence to a file in the temporary folder, where a kill leaves
it, and play that with `aplay`, whose complaints go to the display and whose failure is not reported: so the sentence
stays in memory and goes to our own output. That is tried at the start and whenever a sentence was over too soon.
"""

from __future__ import annotations

import io
import sys
import threading
import time
import wave
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np

from voice.errors import DeviceError, SetupError
from voice.sound.output import AplayOutput, Output
from voice.sound.port import RATE, Audio
from voice.speak.cues import tone
from voice.speak.pronounce import readable
from voice.speak.synth import ESPEAK_WPM
from voice.walk.event import CueName

SLOWEST = 0.25  # seconds a character: far slower than any voice; beyond that it hangs
FASTEST = 0.02  # seconds a character: faster than any voice; below that nothing was heard
TRIES = 2
INSTALL = "On Debian and Ubuntu: sudo apt install espeak-ng alsa-utils."


class PyttsxSpeaker:
    """Use it on the thread that made it.

    output: for the tones; aplay on Linux, as pyttsx3 itself, else required.
    pace: 1 is the usual speed.
    voice: an id of the engine's own; by default one of the language.
    Raises SetupError when the engine or the player is missing, DeviceError when there is no sound device.
    """

    def __init__(
        self, output: Output | None = None, *, language: str = "en", pace: float = 1.0, voice: str | None = None
    ) -> None:
        self._output: Output = output or AplayOutput()
        self._language = language
        self._thread = threading.get_ident()
        self._finished = threading.Event()
        self._pace = pace
        self._error = ""
        self._probe()
        self._engine = _engine()
        self._playing = _playing()
        self._lost: DeviceError | None = None
        if _is_linux():
            _Playback(self._play).take_over()
        chosen = voice or choose(self._engine.getProperty("voices"), language)
        self.name = f"pyttsx3:{chosen}"
        self._engine.connect("finished-utterance", self._on_finished)
        self._engine.connect("error", self._on_error)
        self._engine.setProperty("voice", chosen)
        self._engine.setProperty("rate", round(ESPEAK_WPM * pace))
        if _is_linux():
            self._engine.proxy.setBusy(False)  # applies them now
            self._rest()

    def say(self, text: str) -> None:
        if threading.get_ident() != self._thread:
            raise RuntimeError("a PyttsxSpeaker was used on another thread than the one that made it")
        text = readable(text, self._language)
        if not text:
            return
        for _ in range(TRIES):
            begin = time.monotonic()
            self._say_once(text)
            if time.monotonic() - begin > FASTEST * len(text) / self._pace:
                return
            self._probe()
        raise DeviceError("The voice breaks off.", "Run gladhand soundcheck.", retry=True)

    def _say_once(self, text: str) -> None:
        """Hands the text to the engine and waits for its word that it has finished."""
        self._finished.clear()
        self._error = ""
        self._lost = None
        limit = 15 + SLOWEST * len(text) / self._pace
        begin = time.monotonic()
        self._engine.say(text)
        self._run(limit)
        if not self._finished.wait(max(0.0, begin + limit - time.monotonic())):
            raise DeviceError("The voice did not finish speaking.", "Run gladhand soundcheck.", retry=True)
        if self._lost is not None:
            raise self._lost
        if self._error:
            raise DeviceError(f"The voice failed: {self._error}.", "Run gladhand soundcheck.", retry=True)

    def _run(self, limit: float) -> None:
        """Runs the engine's loop until the sentence is spoken, `limit` seconds at most on Linux."""
        if not _is_linux():
            self._engine.runAndWait()
            return
        # The driver's loop has no limit of its own, and its end has no public name.
        watchdog = threading.Timer(limit, lambda: self._engine.proxy._driver.endLoop())
        watchdog.daemon = True
        watchdog.start()
        try:
            self._engine.startLoop()
        finally:
            watchdog.cancel()
            self._rest()
            self._engine.endLoop()

    def _rest(self) -> None:
        """Waits until espeak's thread is idle, a second at most: what it is given before may be cancelled."""
        limit = time.monotonic() + 1
        while self._playing() and time.monotonic() < limit:
            time.sleep(0.002)

    def cue(self, name: CueName) -> None:
        self._output.play(tone(name))

    def close(self) -> None:
        """The engine itself cannot be closed: its library may be opened only once in a process."""
        self._engine.stop()
        self._output.close()

    def _play(self, sound: bytes) -> None:
        """Called by the engine's driver with a WAV file; what is raised here it would only print."""
        try:
            self._output.play(*_samples(sound))
        except DeviceError as error:
            self._lost = error

    def _on_finished(self, name: str | None, completed: bool) -> None:
        if completed:
            self._finished.set()

    def _on_error(self, name: str | None, exception: Exception) -> None:
        self._error = str(exception) or type(exception).__name__
        self._finished.set()

    def _probe(self) -> None:
        """Plays a moment of silence; raises DeviceError if the device takes none."""
        self._output.play(np.zeros(RATE // 50, np.float32))


class _Playback:
    """Stands for the temporary file and for the module `os` in pyttsx3's driver of espeak (2.99).

    play: gets what the driver believes to be in the file that it plays.
    """

    def __init__(self, play: Callable[[bytes], None]) -> None:
        self._play = play
        self._file = _Kept()

    def take_over(self) -> None:
        from pyttsx3.drivers import espeak

        espeak.NamedTemporaryFile = self.file
        espeak.os = self

    def file(self, **_: object) -> _Kept:
        self._file = _Kept()
        return self._file

    def system(self, _command: str) -> int:
        self._play(self._file.content)
        return 0

    def remove(self, _name: str) -> None:
        self._file = _Kept()


class _Kept(io.BytesIO):
    """A file in memory whose content can be had after it was closed."""

    name = "speech"
    content = b""

    def close(self) -> None:
        if not self.closed:
            self.content = self.getvalue()
        super().close()


def _samples(sound: bytes) -> tuple[Audio, float]:
    with wave.open(io.BytesIO(sound)) as file:
        frames = np.frombuffer(file.readframes(file.getnframes()), "<i2")
        return (frames / np.float32(32768)).astype(np.float32), float(file.getframerate())


def choose(voices: Iterable[Any], language: str) -> str:
    """The id of a voice for the language ("en", "es"): of American English or Spanish first. Raises SetupError."""
    wanted = {"en": ("en-us", "en"), "es": ("es-419", "es")}.get(language, (language,))
    spoken = [(voice.id, {_code(code) for code in voice.languages or ()}) for voice in voices]
    for code in wanted:
        for id_, codes in spoken:
            if any(each == code or each.startswith(f"{code}-") for each in codes):
                return str(id_)
    raise SetupError(f'No voice for the language "{language}" is installed.', INSTALL if _is_linux() else "Add one.")


def _code(code: str | bytes) -> str:
    text = code.decode(errors="ignore") if isinstance(code, bytes) else code
    return "".join(c for c in text if c.isprintable()).replace("_", "-").lower()


def _is_linux() -> bool:
    return sys.platform.startswith("linux")


def _engine() -> Any:
    try:
        import pyttsx3

        return pyttsx3.init()
    except (ImportError, OSError, RuntimeError, AttributeError, ReferenceError) as error:
        reason = str(error).strip().splitlines()[:1] or [type(error).__name__]
        raise SetupError(
            f"The system's voice cannot be used: {reason[0].rstrip('.')}.",
            INSTALL if _is_linux() else "Reinstall pyttsx3.",
        ) from error


def _playing() -> Callable[[], bool]:
    """Whether espeak's own thread is still at work; never, for other engines."""
    if not _is_linux():
        return lambda: False
    from pyttsx3.drivers import _espeak

    return lambda: bool(_espeak.IsPlaying())
