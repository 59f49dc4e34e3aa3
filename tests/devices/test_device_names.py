"""Which device a name means."""

from __future__ import annotations

import pytest

from voice.errors import DeviceError, SetupError
from voice.sound.devices import Device, choose


def device(name: str, host: str = "WASAPI", *, inputs: int = 1, outputs: int = 0, **more: bool) -> Device:
    return Device(name, host, inputs, outputs, 48_000.0, **more)


HEADSET = device("Yard Headset", host_default=False, host="MME")
HEADSET_AGAIN = device("Yard Headset", host_default=True)
BUILT_IN = device("Built-in Microphone", default_in=True)
SPEAKER = device("Cab Speaker", inputs=0, outputs=2, default_out=True)
ALL = [HEADSET, HEADSET_AGAIN, BUILT_IN, SPEAKER]


def test_none_means_the_system_s_default() -> None:
    assert choose(ALL, None, "input") == BUILT_IN
    assert choose(ALL, " ", "input") == BUILT_IN
    assert choose(ALL, None, "output") == SPEAKER


def test_without_a_default_the_first_of_the_preferred_host_is_taken() -> None:
    assert choose([HEADSET, HEADSET_AGAIN], None, "input") == HEADSET_AGAIN


def test_a_part_of_the_name_in_any_case_will_do() -> None:
    assert choose(ALL, "built", "input") == BUILT_IN


def test_one_device_by_two_hosts_is_one() -> None:
    assert choose(ALL, "headset", "input") == HEADSET_AGAIN
    assert choose(ALL, "Yard Headset, MME", "input") == HEADSET


def test_a_whole_name_wins_over_a_part() -> None:
    longer = device("Yard Headset 2")
    assert choose([longer, HEADSET_AGAIN], "yard headset", "input") == HEADSET_AGAIN


def test_an_ambiguous_name_is_refused_with_the_candidates() -> None:
    with pytest.raises(SetupError) as refused:
        choose([*ALL, device("Yard Camera")], "yard", "input")
    assert "Yard Headset" in str(refused.value)
    assert "Yard Camera" in str(refused.value)
    assert "Built-in" not in str(refused.value)


def test_a_loudspeaker_is_no_microphone() -> None:
    with pytest.raises(DeviceError, match='no microphone named "Cab Speaker"') as missing:
        choose(ALL, "Cab Speaker", "input")
    assert missing.value.retry
    assert "Built-in Microphone" in missing.value.hint


def test_nothing_there_at_all() -> None:
    with pytest.raises(DeviceError, match="There is no microphone") as missing:
        choose([SPEAKER], None, "input")
    assert missing.value.retry
