"""Our end of the sound card's process: start it, read its messages, end it."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, Literal, cast

from voice.errors import DeviceError, SetupError, remedy
from voice.sound.cardprocess import FLAGS, receive, send
from voice.sound.devices import Device

START_LIMIT = 15.0  # seconds for Python, PortAudio and the device together; it took under 1 on two busy cores
Task = Literal["list", "capture", "play"]


@dataclass(frozen=True, slots=True)
class Opened:
    """A device as it was opened.

    rate: Hz.
    latency: seconds, as the audio library reckons.
    """

    name: str
    label: str
    rate: float
    channels: int
    latency: float


class CardLink:
    """One running sound card process.

    on_audio(flags, float32 bytes) is called on the link's own thread; other events are taken with `event()`.
    Raises DeviceError or SetupError if the device cannot be opened.
    """

    def __init__(
        self,
        task: Task,
        name: str | None = None,
        rate: float | None = None,
        on_audio: Callable[[int, bytes], None] | None = None,
    ) -> None:
        self._on_audio = on_audio
        self._events: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
        try:
            self._process = subprocess.Popen(  # noqa: S603 - our own module, arguments as a list
                [sys.executable, "-P", "-m", "voice.sound.cardprocess", task, name or "", str(rate or "")],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,  # PortAudio and ALSA print for themselves, at times without end
                env={**os.environ, "PYTHONPATH": _import_path()},
                start_new_session=True,  # Ctrl-C is for the walk to handle, not for the card
            )
        except OSError as error:
            hint = remedy(error, "Run gladhand soundcheck.")
            raise DeviceError(f"The sound card cannot be used: {error.strerror}.", hint, retry=True) from error
        self._to = cast(BinaryIO, self._process.stdin)
        self._from = cast(BinaryIO, self._process.stdout)
        self._sending = threading.Lock()  # a sound may be stopped from another thread
        self._reader = threading.Thread(target=self._read, daemon=True, name=f"sound card {task}")
        self._reader.start()

    @property
    def alive(self) -> bool:
        return self._process.poll() is None

    @property
    def pid(self) -> int:
        return self._process.pid

    def opened(self) -> Opened:
        """Waits until the device is open."""
        try:
            reply = self.expect("opened", START_LIMIT)
        except BaseException:
            self.close()
            raise
        return Opened(reply["name"], reply["label"], reply["rate"], reply["channels"], reply["latency"])

    def expect(self, event: str, limit: float) -> dict[str, Any]:
        """Waits for the event, at most limit seconds. Raises what the process reports, or DeviceError."""
        while True:
            try:
                reply = self._events.get(timeout=limit)
            except queue.Empty:
                raise DeviceError("The sound card does not answer.", "Plug it in again.", retry=True) from None
            if reply is None:
                self._events.put(None)
                raise DeviceError("The sound card stopped working.", "Plug it in again.", retry=True)
            if reply["event"] == "error":
                if reply["setup"]:
                    raise SetupError(reply["message"], reply["hint"])
                raise DeviceError(reply["message"], reply["hint"], retry=reply["retry"])
            if reply["event"] == event:
                return reply

    def send(self, kind: bytes, payload: bytes) -> None:
        try:
            with self._sending:
                send(self._to, kind, payload)
        except (OSError, ValueError):  # broken or closed pipe
            raise DeviceError("The sound card stopped working.", "Plug it in again.", retry=True) from None

    def close(self) -> None:
        """Ends the process; it may hang inside the audio library, so it is not asked twice."""
        with contextlib.suppress(OSError):
            self._to.close()
        try:
            self._process.wait(timeout=0.3)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._reader.join(timeout=1.0)
        self._from.close()

    def _read(self) -> None:
        while message := receive(self._from):
            kind, payload = message
            if kind == b"A":
                if self._on_audio is not None:
                    self._on_audio(FLAGS.unpack_from(payload)[0], payload[FLAGS.size :])
            else:
                self._events.put(json.loads(payload))
        self._events.put(None)


def list_devices() -> list[Device]:
    """Every device there is now. Raises SetupError if PortAudio is missing."""
    link = CardLink("list")
    try:
        reply = link.expect("devices", START_LIMIT)
    finally:
        link.close()
    return [Device(**entry) for entry in reply["devices"]]


def _import_path() -> str:
    package_home = str(Path(__file__).resolve().parents[2])
    others = os.environ.get("PYTHONPATH")
    return f"{package_home}{os.pathsep}{others}" if others else package_home
