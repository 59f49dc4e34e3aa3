from __future__ import annotations

import pytest

from voice.hear.ear import VoiceEar
from voice.hear.moonshine import Moonshine
from voice.hear.whisper import Whisper
from voice.models.engines import Engines, load_engines, model_folder
from voice.sound.recording import ArrayMicrophone


@pytest.fixture(scope="session")
def moonshine() -> Moonshine:
    return Moonshine(model_folder("moonshine-tiny-en"))


@pytest.fixture(scope="session")
def engines() -> Engines:
    return load_engines()


@pytest.fixture(scope="session")
def whisper(engines: Engines) -> Whisper:
    assert isinstance(engines.judge, Whisper)
    return engines.judge


@pytest.fixture
def ear(engines: Engines) -> VoiceEar:
    """The real engines on an empty recording; give it one with hear()."""
    microphone = ArrayMicrophone()
    return VoiceEar(microphone, engines.judge, engines.writer, clock=microphone)
