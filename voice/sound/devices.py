"""Sound devices by name: which one the driver meant. Pure; the list itself comes from the sound card process."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from voice.errors import DeviceError, SetupError

Direction = Literal["input", "output"]

NOUN: dict[Direction, str] = {"input": "microphone", "output": "loudspeaker"}


@dataclass(frozen=True, slots=True)
class Device:
    """One device as the audio library lists it.

    host: the audio system it is reached by (ALSA, Core Audio, WASAPI ...).
    inputs, outputs: channels.
    rate: its own sample rate, Hz.
    default_in, default_out: the system's default.
    host_default: its host is the system's preferred one.
    """

    name: str
    host: str
    inputs: int
    outputs: int
    rate: float
    default_in: bool = False
    default_out: bool = False
    host_default: bool = True

    def channels(self, direction: Direction) -> int:
        return self.inputs if direction == "input" else self.outputs

    def is_default(self, direction: Direction) -> bool:
        return self.default_in if direction == "input" else self.default_out

    @property
    def label(self) -> str:
        """What tells it from all others, and is accepted as a name: "name, host"."""
        return f"{self.name}, {self.host}"

    def to_json(self) -> dict[str, Any]:
        return asdict(self)


def usable(devices: Sequence[Device], direction: Direction) -> list[Device]:
    return [device for device in devices if device.channels(direction) > 0]


def choose(devices: Sequence[Device], name: str | None, direction: Direction) -> Device:
    """The device meant by name, or the system's default for None.

    A name is matched whole ("name" or "name, host"), else as a part, upper or lower case. One device reached by
    several hosts counts as one: the system's preferred host is taken. Raises SetupError if several devices fit,
    DeviceError (retry: it may be plugged in) if none does.
    """
    noun = NOUN[direction]
    present = usable(devices, direction)
    if not present:
        raise DeviceError(f"There is no {noun}.", "Plug one in and run gladhand soundcheck.", retry=True)
    if name is None or not name.strip():
        for device in present:
            if device.is_default(direction):
                return device
        return next((device for device in present if device.host_default), present[0])
    wanted = name.strip().casefold()
    whole = [device for device in present if wanted in (device.name.casefold(), device.label.casefold())]
    fitting = whole or [device for device in present if wanted in device.label.casefold()]
    if not fitting:
        raise DeviceError(
            f'There is no {noun} named "{name}".',
            f"Present: {_listing(present)}. Plug it in, or name another.",
            retry=True,
        )
    if len(fitting) > 1 and len({_same_name(device) for device in fitting}) == 1:
        fitting = [next((device for device in fitting if device.host_default), fitting[0])]
    if len(fitting) > 1:
        raise SetupError(f'"{name}" fits several {noun}s: {_listing(fitting)}.', "Give more of the name.")
    return fitting[0]


def _same_name(device: Device) -> str:
    # Windows' oldest host cuts names at 31 characters, so compare no more than that.
    return device.name.casefold()[:31]


def _listing(devices: Sequence[Device]) -> str:
    return "; ".join(f'"{device.label}"' for device in devices)
