"""The sound card's own process: lists devices, captures, or plays. Run as `python -m voice.sound.cardprocess`.

Why a process of its own: when a sound server dies, PortAudio's thread can spin for ever printing errors, and closing
the stream never returns (seen with PortAudio 19.6 over ALSA and PulseAudio). A process can always be ended, and the
next one finds the devices that are there then. It also keeps the library's chatter off the terminal.

Output, to stdout, are messages: kind (1 byte), length (4 bytes, little-endian), payload. Kind J: JSON, an object with
"event". Kind A: status flags (4 bytes; 1 = input overflow), then float32 interleaved samples. Input to `play` has the
same framing: A (4 ignored bytes, then samples), J {"mark": n} (answered by {"event": "ended", "mark": n} when the sound
before it has ended), J {"stop": true} (drop what was not played yet). The process ends when its stdin closes.
"""

from __future__ import annotations

import json
import os
import queue
import struct
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any, BinaryIO, Literal

from voice.errors import DeviceError, GladhandError, SetupError
from voice.sound.devices import Device, choose

HEADER = struct.Struct("<cI")
FLAGS = struct.Struct("<I")
OVERFLOW = 1
LATENCY = 0.1  # seconds; PortAudio's shorter defaults lost samples on a busy two-core machine


def send(out: BinaryIO, kind: bytes, payload: bytes) -> None:
    out.write(HEADER.pack(kind, len(payload)) + payload)
    out.flush()


def tell(out: BinaryIO, event: str, **fields: Any) -> None:
    send(out, b"J", json.dumps({"event": event, **fields}).encode())


def receive(source: BinaryIO) -> tuple[bytes, bytes] | None:
    """The next message, None at the end."""
    head = source.read(HEADER.size)
    if len(head) < HEADER.size:
        return None
    kind, length = HEADER.unpack(head)
    payload = source.read(length)
    return (kind, payload) if len(payload) == length else None


def load_portaudio() -> Any:
    """The sounddevice module. Raises SetupError if PortAudio is not on this machine."""
    try:
        import sounddevice
    except OSError as error:  # what sounddevice raises when it finds no PortAudio library
        raise SetupError(
            f"The audio library PortAudio is missing ({error}).",
            "Install it: sudo apt-get install libportaudio2 (Debian, Ubuntu) or brew install portaudio (macOS).",
        ) from error
    return sounddevice


def devices_of(sounddevice: Any) -> list[tuple[int, Device]]:
    """Every device with PortAudio's number for it."""
    hosts = sounddevice.query_hostapis()
    preferred = sounddevice.default.hostapi if hosts else -1
    found: list[tuple[int, Device]] = []
    for number, entry in enumerate(sounddevice.query_devices()):
        host = hosts[entry["hostapi"]]
        found.append(
            (
                number,
                Device(
                    name=entry["name"],
                    host=host["name"],
                    inputs=entry["max_input_channels"],
                    outputs=entry["max_output_channels"],
                    rate=entry["default_samplerate"],
                    default_in=entry["hostapi"] == preferred and host["default_input_device"] == number,
                    default_out=entry["hostapi"] == preferred and host["default_output_device"] == number,
                    host_default=entry["hostapi"] == preferred,
                ),
            )
        )
    return found


def flags_of(status: Any) -> int:
    """What of PortAudio's callback status is passed on: that samples were lost before these."""
    return OVERFLOW if status.input_overflow else 0


def list_devices(out: BinaryIO) -> None:
    sounddevice = load_portaudio()
    tell(out, "devices", devices=[device.to_json() for _, device in devices_of(sounddevice)])


def capture(out: BinaryIO, name: str | None, rate: float | None) -> None:
    """Sends what the microphone hears until the process is ended. The callback only queues."""
    heard: queue.SimpleQueue[tuple[int, bytes]] = queue.SimpleQueue()

    def callback(data: Any, _frames: int, _time: Any, status: Any) -> None:
        heard.put((flags_of(status), bytes(data)))

    stream, opened = _open("input", name, rate, callback)
    with stream:
        tell(out, "opened", **opened, latency=stream.latency)
        while True:
            flags, data = heard.get()
            send(out, b"A", FLAGS.pack(flags) + data)


class Playing:
    """What is still to be played: sound and marks, in order. Filled by one thread, emptied by the audio callback."""

    def __init__(self, frame_bytes: int, rate: float) -> None:
        self._frame = frame_bytes
        self._rate = rate
        self._items: deque[bytes | int] = deque()
        self._lock = threading.Lock()
        self.marks: queue.SimpleQueue[tuple[int, float]] = queue.SimpleQueue()

    def add(self, item: bytes | int) -> None:
        with self._lock:
            self._items.append(item)

    def stop(self) -> None:
        """Drops the sound not yet played; the marks stay, so that who waits for one is answered."""
        with self._lock:
            self._items = deque(item for item in self._items if isinstance(item, int))

    def fill(self, out: Any, starts: float) -> None:
        """Writes the next sound into out; marks passed go to `marks` with the stream time they are heard at."""
        size, at = len(out), 0
        with self._lock:
            while self._items:
                item = self._items.popleft()
                if isinstance(item, int):
                    self.marks.put((item, starts + at / self._frame / self._rate))
                    continue
                if at == size:
                    self._items.appendleft(item)
                    break
                part = item[: size - at]
                out[at : at + len(part)] = part
                at += len(part)
                if len(part) < len(item):
                    self._items.appendleft(item[len(part) :])
        out[at:] = bytes(size - at)


def play(out: BinaryIO, source: BinaryIO, name: str | None, rate: float | None) -> None:
    """Plays what comes in until the input ends."""
    playing: Playing | None = None

    def callback(data: Any, _frames: int, times: Any, _status: Any) -> None:
        if playing is None:
            data[:] = bytes(len(data))
        else:
            playing.fill(data, times.outputBufferDacTime)

    stream, opened = _open("output", name, rate, callback)
    with stream:
        playing = Playing(4 * opened["channels"], stream.samplerate)
        reader = threading.Thread(target=_feed, args=(source, playing), daemon=True)
        reader.start()
        tell(out, "opened", **opened, latency=stream.latency)
        while True:
            mark, heard_at = playing.marks.get()
            time.sleep(max(0.0, min(heard_at - stream.time, 2.0)))
            tell(out, "ended", mark=mark)


def _feed(source: BinaryIO, playing: Playing) -> None:
    while message := receive(source):
        kind, payload = message
        if kind == b"A":
            playing.add(payload[FLAGS.size :])
            continue
        order = json.loads(payload)
        if order.get("stop"):
            playing.stop()
        if "mark" in order:
            playing.add(int(order["mark"]))
    os._exit(0)


def _open(
    direction: Literal["input", "output"], name: str | None, rate: float | None, callback: Callable[..., None]
) -> tuple[Any, dict[str, Any]]:
    """A stream with one channel, else with two (some devices refuse one); and what is told of it.

    name: of the device, or part of it; None takes the system's choice.
    rate: samples per second, None for the device's own.

    Raises SetupError, DeviceError.
    """
    sounddevice = load_portaudio()
    listed = devices_of(sounddevice)
    device = choose([device for _, device in listed], name, direction)
    number = next(number for number, other in listed if other == device)
    kind = sounddevice.RawInputStream if direction == "input" else sounddevice.RawOutputStream
    most = device.inputs if direction == "input" else device.outputs
    reason: Exception | None = None
    for channels in (1, 2)[: max(1, min(2, most))]:
        try:
            stream = kind(
                samplerate=rate or device.rate, device=number, channels=channels, dtype="float32", latency=LATENCY,
                callback=callback,
            )  # fmt: skip
        except sounddevice.PortAudioError as error:
            reason = error
        else:
            told = {"name": device.name, "label": device.label, "rate": stream.samplerate, "channels": channels}
            return stream, told
    raise DeviceError(
        f'"{device.name}" cannot be opened: {reason}.',
        "Plug it in again, or close the program that uses it.",
        retry=True,
    )


def _die_with_parent(source: BinaryIO) -> None:
    while source.read(4096):
        pass
    os._exit(0)


def main(arguments: list[str]) -> int:
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # nothing a library prints can get between the messages
    task, name, rate = (*arguments, "", "")[:3]
    try:
        if task == "list":
            list_devices(out)
        elif task == "capture":
            threading.Thread(target=_die_with_parent, args=(sys.stdin.buffer,), daemon=True).start()
            capture(out, name or None, float(rate) if rate else None)
        elif task == "play":
            play(out, sys.stdin.buffer, name or None, float(rate) if rate else None)
        else:
            raise SetupError(f"There is no sound card task {task!r}.")
    except GladhandError as error:
        tell(
            out, "error", setup=isinstance(error, SetupError), message=error.message, hint=error.hint,
            retry=getattr(error, "retry", False),
        )  # fmt: skip
        return 2
    except BrokenPipeError:
        return 0
    except Exception as error:  # the parent turns it into one sentence
        tell(out, "error", setup=False, message=f"The sound card failed: {error}.", hint="", retry=True)
        return 2
    return 0


if __name__ == "__main__":
    code = main(sys.argv[1:])
    sys.stderr.flush()
    os._exit(code)  # PortAudio's own clean-up can hang on a dead sound server
