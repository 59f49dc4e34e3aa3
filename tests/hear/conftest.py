from __future__ import annotations

import pytest

from voice.hear.ear import VoiceEar
from voice.hear.moonshine import Moonshine
from voice.hear.sphinx import Sphinx
from voice.hear.whisper import Whisper
from voice.sound.recording import ArrayMicrophone


@pytest.fixture(scope="session")
def moonshine() -> Moonshine:
    return Moonshine()


@pytest.fixture(scope="session")
def sphinx() -> Sphinx:
    return Sphinx()


@pytest.fixture(scope="session")
def whisper() -> Whisper:
    return Whisper()


@pytest.fixture(scope="session")
def engines(moonshine: Moonshine, whisper: Whisper, sphinx: Sphinx) -> tuple[Moonshine, Whisper, Sphinx]:
    return moonshine, whisper, sphinx


@pytest.fixture
def ear(engines: tuple[Moonshine, Whisper, Sphinx]) -> VoiceEar:
    """The real engines on an empty recording; give it one with hear()."""
    microphone = ArrayMicrophone()
    return VoiceEar(microphone, *engines, clock=microphone)
