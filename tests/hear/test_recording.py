"""Sound files of any content: sound within bounds, or one sentence."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voice.errors import DeviceError
from voice.sound.port import RATE
from voice.sound.recording import load


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_value_that_is_no_number_is_refused_with_a_sentence(tmp_path: Path, bad: float) -> None:
    path = tmp_path / "clip.wav"
    soundfile.write(path, np.array([0.1, bad, 0.2]), RATE, subtype="DOUBLE")
    with pytest.raises(DeviceError, match="no numbers"):
        load(path)


def test_a_recording_that_is_not_there_is_said_to_be_just_that(tmp_path: Path) -> None:
    with pytest.raises(DeviceError, match="cannot be read: No such file"):
        load(tmp_path / "none.wav")
    with pytest.raises(DeviceError, match="cannot be read: Is a directory"):
        load(tmp_path)


def test_a_loud_float_file_is_cut_to_full_scale(tmp_path: Path) -> None:
    path = tmp_path / "clip.wav"
    soundfile.write(path, np.array([0.5, 40.0, -3e38]), 2 * RATE, subtype="FLOAT")
    assert np.abs(load(path)).max() <= 1.0


@pytest.mark.parametrize("rate", [1, 500, 4_000_000_000])
def test_a_rate_no_device_has_is_refused(tmp_path: Path, rate: int) -> None:
    path = tmp_path / "clip.wav"
    soundfile.write(path, np.zeros(100), RATE)
    data = bytearray(path.read_bytes())
    data[24:28] = struct.pack("<I", rate)
    path.write_bytes(data)
    with pytest.raises(DeviceError):
        load(path)


def test_a_header_that_claims_more_than_there_is_costs_no_memory(tmp_path: Path) -> None:
    path = tmp_path / "clip.wav"
    soundfile.write(path, np.full(100, 0.25), RATE)
    data = bytearray(path.read_bytes())
    data[40:44] = struct.pack("<I", 0xFFFFFFF0)
    path.write_bytes(data)
    assert len(load(path)) <= 200
