"""A virtual sound card: a PulseAudio daemon of our own with two null sinks, and ALSA names for their ends.

Needs pulseaudio and its ALSA plugin (Debian: pulseaudio, libasound2-plugins). Runs as any user, root too, without
D-Bus, beside whatever sound server the machine has. Used by the tests, by the demo and by CI:

    with VirtualCard(folder) as card:
        subprocess.run([...], env=card.env)         # or os.environ.update(card.env)

Devices, as PortAudio and ALSA name them (capture from an "ear", play into a "mouth"):
    cab_microphone   what the program listens to (the system's default input)
    driver_mouth     what is played here is heard by cab_microphone
    cab_loudspeaker  what the program speaks through (the system's default output)
    loudspeaker_ear  hears what cab_loudspeaker plays
A null sink's monitor gives exact zeros while nothing is played, as a muted microphone does; `hum` plays a quiet noise.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType


def missing() -> str:
    """Why a virtual card cannot run here; empty if it can be tried."""
    for program in ("pulseaudio", "pactl", "pacat"):
        if shutil.which(program) is None:
            return f"{program} is not installed"
    if not sys.platform.startswith("linux"):
        return "PulseAudio null sinks are for Linux"
    if not list(Path("/usr/lib").glob("**/alsa-lib/libasound_module_pcm_pulse.so")):
        return "ALSA's plugin for PulseAudio (libasound2-plugins) is not installed"
    return ""


class VirtualCard:
    """folder: an empty folder of its own; its path must be short (a socket lies in it). rate: of both sinks, Hz."""

    def __init__(self, folder: Path, rate: int = 16_000) -> None:
        self._folder = folder
        self._rate = rate
        self._daemon: subprocess.Popen[bytes] | None = None
        self._hum: subprocess.Popen[bytes] | None = None
        self._modules: list[str] = []

    @property
    def env(self) -> dict[str, str]:
        """The environment of a program that is to use the card: add it to its own."""
        return {"ALSA_CONFIG_PATH": str(self._folder / "asound.conf"), "PULSE_SERVER": f"unix:{self._socket}"}

    @property
    def _socket(self) -> Path:
        return self._folder / "run" / "pulse.sock"

    def __enter__(self) -> VirtualCard:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def start(self) -> None:
        """Starts the daemon and plugs both sinks in. Raises RuntimeError with the daemon's last words."""
        (self._folder / "home").mkdir(parents=True, exist_ok=True)
        (self._folder / "run").mkdir(mode=0o700, exist_ok=True)
        (self._folder / "asound.conf").write_text(self._alsa_names())
        log = self._folder / "pulseaudio.log"
        private = {"HOME": str(self._folder / "home"), "XDG_RUNTIME_DIR": str(self._folder / "run")}
        with log.open("wb") as stderr:
            self._daemon = subprocess.Popen(
                [
                    "pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1",
                    "-L", f"module-native-protocol-unix auth-anonymous=1 socket={self._socket}",
                ],
                env={**os.environ, **private}, stdin=subprocess.DEVNULL, stdout=stderr, stderr=stderr,
            )  # fmt: skip
        deadline = time.monotonic() + 15
        while time.monotonic() < deadline and self._daemon.poll() is None:
            if self._socket.exists() and self._pactl("info").returncode == 0:
                break
            time.sleep(0.05)
        else:
            self.stop()
            raise RuntimeError(f"pulseaudio did not start: {log.read_text(errors='replace')[-400:]}")
        self.plug()

    def stop(self) -> None:
        """Ends the daemon at once, as if it had crashed."""
        self.quiet()
        if self._daemon is not None:
            self._daemon.kill()
            self._daemon.wait()
            self._daemon = None
        self._modules.clear()
        with contextlib.suppress(FileNotFoundError):
            self._socket.unlink()

    def plug(self) -> None:
        """Plugs the headset in: its microphone and its loudspeaker."""
        for sink in ("speaker", "mic"):
            # norewinds: else the sink works in blocks of two seconds, and a new listener waits as long for its first
            options = [f"sink_name={sink}", f"rate={self._rate}", "channels=1", "norewinds=1"]
            loaded = self._pactl("load-module", "module-null-sink", *options)
            if loaded.returncode != 0:
                raise RuntimeError(f"no null sink: {loaded.stderr}")
            self._modules.append(loaded.stdout.strip())
        # Debian's ALSA configuration sends the default device to the server's default, whatever ours says
        self._pactl("set-default-sink", "speaker")
        self._pactl("set-default-source", "mic.monitor")

    def unplug(self) -> None:
        """Pulls both out. (Were one left, PulseAudio would move the streams over to it, as a desktop does.)"""
        while self._modules:
            done = self._pactl("unload-module", self._modules.pop())
            if done.returncode != 0:
                raise RuntimeError(f"not unplugged: {done.stderr}")

    def stall(self, stalled: bool = True) -> None:
        """The microphone stays listed but delivers nothing, like a wireless headset out of reach."""
        self._pactl("suspend-sink", "mic", "1" if stalled else "0")

    def mute(self, muted: bool = True) -> None:
        """Mutes the microphone as the desktop's own switch does."""
        self._pactl("set-source-mute", "mic.monitor", "1" if muted else "0")

    def hum(self, level: float = 0.002, seconds: float = 120.0) -> None:
        """Plays a quiet noise into the microphone until `quiet`: a room is never exactly silent."""
        import numpy as np

        noise = self._folder / "hum.raw"
        samples = np.random.default_rng(1).normal(0, level, int(seconds * 16_000))
        noise.write_bytes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
        form = ["--raw", "--rate=16000", "--channels=1", "--format=s16le"]
        self._hum = subprocess.Popen(
            ["pacat", "--playback", *form, "--device=mic", str(noise)],
            env={**os.environ, **self.env},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def quiet(self) -> None:
        if self._hum is not None:
            self._hum.kill()
            self._hum.wait()
            self._hum = None

    def _pactl(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["pactl", *arguments], env={**os.environ, **self.env}, capture_output=True, text=True, timeout=10
        )

    def _alsa_names(self) -> str:
        ends = {"cab_microphone": "mic.monitor", "driver_mouth": "mic", "cab_loudspeaker": "speaker"}
        ends["loudspeaker_ear"] = "speaker.monitor"
        lines = ["</usr/share/alsa/alsa.conf>"]
        lines += [
            f'pcm.{name} {{ type pulse server "unix:{self._socket}" device "{end}" }}' for name, end in ends.items()
        ]
        lines += ['pcm.!default { type asym playback.pcm "cab_loudspeaker" capture.pcm "cab_microphone" }']
        return "\n".join(lines) + "\n"
